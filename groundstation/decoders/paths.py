"""Paths into nested messages: keys joined by dots."""

import re
from collections.abc import Sequence
from typing import Final

from groundstation.errors import ConfigurationError

_KEY: Final = re.compile(r'"([^"]+)"|([^".]+)')
_PATH: Final = re.compile(r'(?:"[^"]+"|[^".]+)(?:\.(?:"[^"]+"|[^".]+))*')


def json_path(text: str) -> tuple[str, ...]:
    """The keys of a path; those in double quotes may hold dots. Raises ``ConfigurationError``."""
    if not _PATH.fullmatch(text):
        raise ConfigurationError(
            f"{text!r} is no path; join keys by dots, and put one that holds a dot into double"
            " quotes"
        )
    return tuple(quoted or plain for quoted, plain in _KEY.findall(text))


def written_path(keys: Sequence[str]) -> str:
    """The path of these keys, as ``json_path`` reads it."""
    return ".".join(f'"{key}"' if "." in key else key for key in keys)
