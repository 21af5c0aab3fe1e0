"""Texts of named values, such as ``Lat: 47.1`` a line, ``lat=47.1,lon=20.3``, or a form."""

import re
import urllib.parse
from dataclasses import dataclass, field
from typing import Final, Literal

from groundstation.decoders.named_values import named_values
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm, clean
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Unreadable

MOST_BYTES: Final = 65_536  # own choice: a mail's text, at most
MOST_PAIRS: Final = 500  # own choice: ten times what devices send
_LINES: Final = re.compile(r"\r\n|\r|\n")
_SPACES: Final = re.compile(r"\s+")
_BETWEEN: Final = re.compile(r"\s*[,;/]\s*|\s+")


@dataclass(frozen=True, slots=True, kw_only=True)
class PairsSettings:
    """``fields`` maps a name of ``named_values`` to what the sender calls it; large and small
    letters are the same. ``name.0`` takes the first of several values in one, as in
    ``Position: 47.1, 20.3``.

    ``between`` stands between name and value, ``separator`` between pairs: "\\n" for a pair a line,
    " " for any space, "&" for a form, whose escapes are undone. What holds no ``between`` is passed
    over. The other settings are those of ``ValueSettings``.
    """

    kind: Literal["pairs"] = "pairs"
    fields: dict[str, str]
    separator: str = "\n"
    between: str = ":"
    time_format: str = TimeFormat.ISO
    utc_offset_s: float = 0.0
    units: dict[str, str] = field(default_factory=dict)
    numbers: NumberForm = NumberForm.POINT
    tracker: str = ""


class PairsDecoder:
    """Reads one text. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: PairsSettings) -> None:
        empty = sorted(name for name, theirs in settings.fields.items() if not theirs.strip())
        if empty:
            raise ConfigurationError(f"fields: {', '.join(empty)} has no name in the text")
        if not settings.separator or not settings.between:
            raise ConfigurationError("separator and between may not be empty")
        self._settings = settings
        self._values = named_values(settings.fields, settings, "fields")
        self._wanted = {ours: _plain(theirs) for ours, theirs in settings.fields.items()}

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return (refused,)
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return (unreadable("The text is not UTF-8."),)
        return (self._read(text, received_utc),)

    def _read(self, text: str, received_utc: float) -> Read:
        pairs = read_pairs(text, self._settings.separator, self._settings.between)
        if not pairs:
            detail = f"The text has no pair with {self._settings.between!r} in it."
            return Unreadable(reason=Reason.NO_POSITION, detail=detail)
        found: dict[str, list[str]] = {}
        for name, value in pairs:
            found.setdefault(_plain(name), []).append(value)
        values = {}
        for ours, theirs in self._wanted.items():
            every = set(found.get(theirs, ()))
            if not every:
                stem, _, place = theirs.rpartition(".")
                every = {_pick(whole, place) for whole in found.get(stem, ())}
            if len(every) > 1:
                shown = clean(theirs[:40])
                return unreadable(f"The text gives {shown!r} more than once, and not the same.")
            values[ours] = next(iter(every), "")
        return self._values.report(values, received_utc)


def read_pairs(text: str, separator: str, between: str) -> list[tuple[str, str]]:
    """Names and values in the order of the text, without quotes around them."""
    if separator == "\n":
        parts = _LINES.split(text)
    elif separator.isspace():
        parts = text.split()
    else:
        parts = text.strip().split(separator)
    pairs = []
    for part in parts[:MOST_PAIRS]:
        name, mark, value = part.partition(between)
        if not mark:
            continue
        if separator == "&":
            name, value = urllib.parse.unquote_plus(name), urllib.parse.unquote_plus(value)
        pairs.append((name.strip().strip("\"'"), value.strip().strip('"').strip()))
    return pairs


def _plain(name: str) -> str:
    return _SPACES.sub(" ", name.strip().lower())


def _pick(whole: str, place: str) -> str:
    """One of several values in a text, by its place from 0."""
    parts = [part for part in _BETWEEN.split(whole.strip()) if part]
    at = int(place) if place.isascii() and place.isdigit() and len(place) < 4 else len(parts)
    return parts[at] if at < len(parts) else ""
