"""Text in which a regular expression finds the values: mails, messages, sentences for people."""

import re
from dataclasses import dataclass, field
from typing import Final, Literal

from groundstation.decoders.named_values import named_values
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

MOST_BYTES: Final = 65_536  # own choice: a mail's text, at most
MOST_SEARCHED: Final = 8_192
"""Characters. A pattern with a repeat in it takes time with the square of what is searched: a
quarter of a second for so many digits on a desk, and sixteen for all of the text, in which nothing
else of the station would go on. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternSettings:
    """``pattern`` is a regular expression of Python's ``re`` whose named groups are those of
    ``named_values``, such as ``(?P<lat>[-0-9.]+)``. It is looked for anywhere in
    the first ``MOST_SEARCHED`` characters.

    The other settings are those of ``ValueSettings``.
    """

    kind: Literal["pattern"] = "pattern"
    pattern: str
    time_format: str = TimeFormat.ISO
    utc_offset_s: float = 0.0
    units: dict[str, str] = field(default_factory=dict)
    numbers: NumberForm = NumberForm.POINT
    tracker: str = ""


class PatternDecoder:
    """Reads one text. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: PatternSettings) -> None:
        try:
            self._pattern = re.compile(settings.pattern)
        except re.error as error:
            raise ConfigurationError(f"pattern is no regular expression: {error}") from error
        self._values = named_values(tuple(self._pattern.groupindex), settings, "pattern")

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return (refused,)
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return (unreadable("The text is not UTF-8."),)
        begin = text[:MOST_SEARCHED]
        found = self._pattern.search(begin)
        # What ends where the text was cut may be half a number.
        cut = len(begin) < len(text)
        if found is None or (cut and found.end() == len(begin)):
            where = f"the first {MOST_SEARCHED:,} characters of the text" if cut else "the text"
            detail = f"The pattern is not found in {where}."
            return (Unreadable(reason=Reason.NO_POSITION, detail=detail),)
        values = {name: text for name, text in found.groupdict().items() if text is not None}
        return (self._values.report(values, received_utc),)
