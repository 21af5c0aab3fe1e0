"""Delimited text with named columns, as many trackers and loggers write it."""

from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import Literal

from groundstation.decoders.checksums import crc16_ccitt_false, nmea_xor
from groundstation.decoders.named_values import named_values
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Unreadable


class Checksum(StrEnum):
    """What follows ``*`` at the end of the line, in hexadecimal digits.

    It is over what stands between the start marker and the ``*``: CRC-16/CCITT-FALSE in four
    digits, or the exclusive or of NMEA 0183 in two.
    """

    NONE = "none"
    CRC16 = "crc-16"
    XOR = "xor"


@dataclass(frozen=True, slots=True, kw_only=True)
class DelimitedSettings:
    """Which column holds what.

    ``columns`` names them from the left; an empty name skips one, and columns to the right of
    the last name are ignored. The names are those of ``named_values``, the other settings those
    of ``ValueSettings``. What stands before ``start``, and ``start`` itself, is passed over. A line
    without checksum is refused only if one is required.
    """

    kind: Literal["delimited"] = "delimited"
    columns: tuple[str, ...] = ("time", "lat", "lon", "alt_m")
    separator: str = ","
    start: str = ""
    checksum: Checksum = Checksum.NONE
    checksum_required: bool = True
    time_format: str = TimeFormat.ISO
    utc_offset_s: float = 0.0
    units: dict[str, str] = field(default_factory=dict)
    numbers: NumberForm = NumberForm.POINT
    tracker: str = ""


class DelimitedDecoder:
    """Reads one line. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: DelimitedSettings) -> None:
        names = [name for name in settings.columns if name]
        if not settings.separator:
            raise ConfigurationError("separator is empty; use one such as ','")
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ConfigurationError(f"columns has {', '.join(twice)} more than once")
        self._settings = settings
        self._values = named_values(names, settings, "columns")
        self._side_after = _side_columns(settings.columns)
        self._start = settings.start.encode()

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        return (too_long(data) or self._decode(data, received_utc),)

    def _decode(self, data: bytes, received_utc: float) -> Read:
        # After the last marker: it is often sent more than once, and a line end may be lost.
        _, marker, body = data.rpartition(self._start) if self._start else (b"", b"", data)
        if self._start and not marker:
            return unreadable(f"The line does not have the start marker {self._settings.start!r}.")
        checked = self._checked(body.strip())
        if isinstance(checked, Unreadable):
            return checked
        cells = checked.decode("utf-8", "replace").split(self._settings.separator)
        if len(cells) < len(self._settings.columns):
            return unreadable(
                f"The line has {len(cells)} of {len(self._settings.columns)} columns."
            )
        for at, name in self._side_after:
            if at < len(cells) and cells[at].strip().upper() in ("S", "W"):
                # Passed over, the position would be on the other side of the Earth.
                return unreadable(
                    f"The column after {name} is skipped and says {cells[at].strip()!r};"
                    f" name it {name}_side."
                )
        named = zip(self._settings.columns, cells, strict=False)
        return self._values.report({name: cell for name, cell in named if name}, received_utc)

    def _checked(self, body: bytes) -> bytes | Unreadable:
        """The body without its checksum, which was right if there was one."""
        if self._settings.checksum is Checksum.NONE:
            return body
        content, star, sent = body.rpartition(b"*")
        if not star:
            if self._settings.checksum_required:
                return Unreadable(reason=Reason.CHECKSUM, detail="The line has no checksum.")
            return body
        if self._settings.checksum is Checksum.CRC16:
            expected = f"{crc16_ccitt_false(content):04X}"
        else:
            expected = f"{nmea_xor(content):02X}"
        if sent.upper() != expected.encode():
            return Unreadable(
                reason=Reason.CHECKSUM,
                detail=f"The checksum is wrong: {expected} was expected.",
            )
        return content


def _side_columns(columns: tuple[str, ...]) -> tuple[tuple[int, str], ...]:
    """Skipped columns that follow a latitude or longitude, each with that name."""
    return tuple(
        (at, before)
        for at, (before, name) in enumerate(pairwise((*columns, "")), 1)
        if before in ("lat", "lon") and not name
    )
