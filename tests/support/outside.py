"""Texts for a person that no catalogue holds, in templates and in scripts."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import NamedTuple

SAID_ATTRIBUTES = {"alt", "aria-label", "content", "label", "placeholder", "title"}
NOT_READ = {"script", "style"}
LETTERS = re.compile(r"[^\W\d_]{2,}")
UNITS = {"km", "min", "ft", "mi", "mph", "hPa", "mV", "mA", "Pa", "kHz", "dB", "dBm", "Hz", "mm"}
NAMES = {"UTM", "WGS", "MGRS", "UTC", "Google Maps", "Apple Maps"}
"""What is written alike in every language."""


def is_said(text: str) -> bool:
    """Whether letters are left without what is alike in every language."""
    if text.strip().startswith("/"):
        return False  # an address
    for name in NAMES:
        text = text.replace(name, "")
    return any(word not in UNITS for word in LETTERS.findall(text))


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[int, str]] = []
        self._inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        for name, value in attrs:
            meta = tag == "meta" and (named.get("name") or "http-equiv") != "description"
            if name in SAID_ATTRIBUTES and value and is_said(value) and not meta:
                self.found.append((self.getpos()[0], value))
        if tag in NOT_READ:
            self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in NOT_READ and self._inside:
            self._inside.pop()

    def handle_data(self, data: str) -> None:
        if not self._inside and is_said(data):
            self.found.append((self.getpos()[0], data.strip()))


def template_texts(source: str) -> list[tuple[int, str]]:
    """What stands in a template of Jinja2 itself, and not in an expression, with its lines."""
    reader = _Reader()
    blank = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
    reader.feed(blank.sub(lambda found: "\n" * found[0].count("\n"), source))
    reader.close()
    return reader.found


TEXT = r""""(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'"""
MARKS = {"_", "ngettext"}
SAYS = {"say", "sayOrHide", "set", "alert", "confirm"}
"""Whatever is put on the page by these is read."""
PROGRAM = {
    "addEventListener", "removeEventListener", "on", "querySelector", "querySelectorAll", "closest",
    "byId", "part", "getElementById", "createElement", "createElementNS", "getPane",
    "removeAttribute", "getAttribute", "createPane", "css", "get", "append", "Date", "fetch",
    "post", "register", "includes", "startsWith", "replaceAll", "split",
    "join", "padStart",
}  # fmt: skip
"""What is given to these is for the program."""
KEYS = {"className", "class", "d", "type", "pane", "dashArray", "method", "headers", "viewBox"}
WORDS = re.compile(r"[^\W\d_]{2,},? [^\W\d_]{2,}|^[A-Z][a-z]+[a-z .!?…:]|^[A-Z][a-z]+$")
PIECE = re.compile(r"[^\W\d_]{4,}|[^\W\d_]{2,},? [^\W\d_]{2,}")
TECHNICAL = re.compile(r"[=/<{}#]|^[A-Z][a-z]+-[A-Z]|^\[|^M-?\d|^(GET|POST|Content-Type)$")


def script_texts(source: str) -> list[tuple[int, str]]:
    """What a script says without ``_`` or ``ngettext``, with its lines. The rule: it is put on the
    page, or has two words, or begins with a capital letter; between what is filled in, a word of
    four letters is enough."""
    return list(_said(source, 1))


def _said(source: str, line: int) -> Iterator[tuple[int, str]]:
    plain, templates = _without_templates(source)
    tokens = list(_tokens(plain))
    calls: list[tuple[str, int]] = []
    for n, token in enumerate(tokens):
        before = tokens[:n]
        if token.value in ("(", "[", "{"):
            named = token.value == "(" and before and before[-1].is_name
            calls.append((before[-1].value if named else token.value, 0))
        elif token.value in (")", "]", "}") and calls:
            calls.pop()
        elif token.value == "," and calls:
            calls[-1] = calls[-1][0], calls[-1][1] + 1
        if not token.is_text:
            continue
        at = line + token.line - 1
        call, argument = calls[-1] if calls else ("", 0)
        key = _key(before)
        text = ast.literal_eval(token.value)
        filled = templates.get(text)
        if filled is not None:
            for code in filled.codes:
                yield from _said(code, at)
        compared = _is_compared(before) or any(one.value == "in" for one in tokens[n + 1 : n + 2])
        program = _last(call) in PROGRAM or call == "kept.set"
        if call in MARKS or (program and not key) or key in KEYS or compared:
            continue
        if filled is not None:
            if not TECHNICAL.search("".join(filled.pieces)):
                yield from (
                    (at, one) for one in filled.pieces if PIECE.search(one) and is_said(one)
                )
            continue
        put = key == "textContent" or (call in SAYS and argument > 0)
        reads = WORDS.search(text) and not TECHNICAL.search(text)
        if (put or reads) and is_said(text):
            yield at, text


class Token(NamedTuple):
    """A text in its quotes, a name with its dots, or a sign of the language."""

    value: str
    line: int

    @property
    def is_text(self) -> bool:
        return self.value[0] in "\"'"

    @property
    def is_name(self) -> bool:
        return self.value[0].isalpha() or self.value[0] in "_$"


def _tokens(plain: str) -> Iterator[Token]:
    for found in re.finditer(rf"{TEXT}|[\w$]+(?:\.[\w$]+)*|[=!]==|\S", plain):
        yield Token(found[0], plain.count("\n", 0, found.start()) + 1)


def _last(name: str) -> str:
    return name.rpartition(".")[2]


def _key(before: list[Token]) -> str:
    """To which name a value is given: ``key: ...`` and ``key = ...``."""
    given = len(before) > 1 and before[-1].value in (":", "=")
    return _last(before[-2].value) if given else ""


def _is_compared(before: list[Token]) -> bool:
    return before[-1:] != [] and before[-1].value in ("===", "!==")


@dataclass
class _Template:
    """A template string: its own text, and the code between it."""

    pieces: list[str] = field(default_factory=lambda: [""])
    codes: list[str] = field(default_factory=list)


def _without_templates(source: str) -> tuple[str, dict[str, _Template]]:
    """The source without comments, with a plain string in place of each template string, and
    these by that string."""
    comment, text = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL), re.compile(TEXT)

    found: dict[str, _Template] = {}
    plain, at = "", 0
    while at < len(source):
        if skip := comment.match(source, at):
            plain, at = plain + "\n" * skip[0].count("\n"), skip.end()
        elif skip := text.match(source, at):
            plain, at = plain + skip[0], skip.end()
        elif source[at] == "`":
            template, end = _template(source, at + 1)
            name = f"template-{len(found)}"
            found[name] = template
            plain, at = plain + f'"{name}"' + "\n" * source.count("\n", at, end), end
        else:
            plain, at = plain + source[at], at + 1
    return plain, found


def _template(source: str, at: int) -> tuple[_Template, int]:
    """The template string that begins before ``at``, and where it ends."""
    made = _Template()
    while source[at] != "`":
        if source.startswith("${", at):
            end = _end_of_code(source, at + 2)
            made.codes.append(source[at + 2 : end])
            made.pieces.append("")
            at = end + 1
        else:
            made.pieces[-1] += source[at]
            at += 1
    return made, at + 1


def _end_of_code(source: str, at: int) -> int:
    depth = 1
    while True:
        if source[at] == "`":
            at = _template(source, at + 1)[1]
            continue
        depth += {"{": 1, "}": -1}.get(source[at], 0)
        if depth == 0:
            return at
        at += 1
