"""What every position format of APRS gives, and the scale of its degrees."""

from dataclasses import dataclass
from typing import Final

from groundstation.units import NAUTICAL_MILE_M

MINUTE_M: Final = NAUTICAL_MILE_M
"""One minute of latitude; of longitude it is at most this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A position and what its format says beside it.

    ``half_width_m`` is half of what the format can tell apart. ``refinable`` positions are to
    the hundredth of a minute and may have more digits in the comment. ``comment`` is what
    follows the position, as sent, without the telemetry in base 91 that stood in it:
    ``base91_telemetry``, its number first. ``symbol`` is the code alone, without its table.
    """

    latitude_deg: float
    longitude_deg: float
    half_width_m: float
    symbol: str
    comment: bytes
    refinable: bool = False
    base91_telemetry: tuple[int, ...] = ()
    measured: tuple[tuple[str, float], ...] = ()
    altitude_m: float | None = None
    course_deg: float | None = None
    speed_ms: float | None = None
