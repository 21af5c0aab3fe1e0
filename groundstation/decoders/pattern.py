"""Text in which a regular expression finds the values: mails, messages, sentences for people."""

from dataclasses import dataclass, field
from typing import Final, Literal

from groundstation.decoders.linear import compiled
from groundstation.decoders.named_values import named_values
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm
from groundstation.decoders.time_formats import TimeFormat
from groundstation.records import Read, Reason, Unreadable

MOST_BYTES: Final = 65_536  # own choice: a mail's text, at most


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternSettings:
    """``pattern`` is a regular expression (of RE2, see ``linear``) whose named groups are those of
    ``named_values``, such as ``(?P<lat>[-0-9.]+)``. It is looked for anywhere in the text.

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
        self._pattern = compiled(settings.pattern, "pattern")
        self._values = named_values(tuple(self._pattern.groupindex), settings, "pattern")

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return (refused,)
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return (unreadable("The text is not UTF-8."),)
        found = self._pattern.search(text)
        if found is None:
            detail = "The pattern is not found in the text."
            return (Unreadable(reason=Reason.NO_POSITION, detail=detail),)
        values = {name: text for name, text in found.groupdict().items() if text is not None}
        return (self._values.report(values, received_utc),)
