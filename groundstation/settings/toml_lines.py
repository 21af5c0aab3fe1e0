"""Where in a TOML file each key stands, for errors that name the line.

``tomllib`` keeps no positions. This reads table headers and the begin of key lines only, which is
enough for files that people write; a key it does not see has the line of its table.
"""

import re
from typing import Final

KeyPath = tuple[str | int, ...]
"""Keys from the outermost; a number counts the entries of an array from 1."""

_PART: Final = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED: Final = rf"{_PART}(?:\s*\.\s*{_PART})*"
_TABLE: Final = re.compile(rf"\s*\[\s*({_DOTTED})\s*\]\s*(?:#.*)?$")
_ENTRY: Final = re.compile(rf"\s*\[\[\s*({_DOTTED})\s*\]\]\s*(?:#.*)?$")
_KEY: Final = re.compile(rf"\s*({_DOTTED})\s*=")


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line numbers, from 1, of the keys and tables in ``text``."""
    found: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for number, line in enumerate(text.splitlines(), 1):
        if match := _ENTRY.match(line):
            array = _within(_parts(match[1]), counts)
            counts[array] = counts.get(array, 0) + 1
            table = (*array, counts[array])
        elif match := _TABLE.match(line):
            table = _within(_parts(match[1]), counts)
        elif match := _KEY.match(line):
            found.setdefault((*table, *_parts(match[1])), number)
            continue
        else:
            continue
        found.setdefault(table, number)
    return found


def line_of(path: KeyPath, lines: dict[KeyPath, int]) -> int | None:
    """The line of ``path``, or of the nearest table around it that has one."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def dotted(path: KeyPath) -> str:
    """A path as people write it: ``source[1].baud``, where 1 is the first."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}"
    return text.removeprefix(".")


def _parts(text: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in re.findall(_PART, text))


def _within(parts: tuple[str, ...], counts: dict[KeyPath, int]) -> KeyPath:
    """A header's path, in the newest entry of each array on its way."""
    path: KeyPath = ()
    for depth, part in enumerate(parts):
        path = (*path, part)
        if depth < len(parts) - 1 and path in counts:
            path = (*path, counts[path])
    return path
