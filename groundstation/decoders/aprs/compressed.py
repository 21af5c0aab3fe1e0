"""Positions in base 91 (APRS 1.0.1 ch. 9)."""

import math
import re
from typing import Final

from groundstation.decoders.aprs.position import Position
from groundstation.decoders.quantities import METRES_PER_DEGREE
from groundstation.decoders.refusals import beyond, unreadable
from groundstation.records import Unreadable
from groundstation.units import FOOT_M, KNOT_MS

_FORM: Final = re.compile(rb"[/\\A-Za-j]([!-{]{4})([!-{]{4})([!-~])([ -{]{2})([ -~])")
_LAT_STEPS: Final = 380_926.0
"""Steps of a degree of latitude; this and the next from ch. 9."""
_LON_STEPS: Final = 190_463.0  # APRS101 chapter 9
_ZERO: Final = 33  # APRS101 chapter 9: base 91 counts from "!"
_SOURCE_BITS: Final = 0x18  # APRS101 chapter 9, compression type byte
_FROM_GGA: Final = 0x10  # as above: from GGA, so cs is an altitude
_RANGE: Final = 90  # APRS101 chapter 9: "{", cs is a radio range


def base91(digits: bytes) -> int:
    """The number in base 91, digits from ``!`` (0) to ``{`` (90)."""
    value = 0
    for digit in digits:
        value = value * 91 + digit - _ZERO
    return value


def read_compressed(data: bytes) -> Position | Unreadable:
    """Read the 13 bytes of a compressed position.

    The two bytes after the symbol are an altitude where the type byte says that the position is
    from GGA; else a range, which is passed over, or course and speed; or nothing, if the first is
    a space.
    """
    found = _FORM.match(data)
    if found is None:
        return unreadable("The compressed position is cut short or has bytes outside base 91.")
    lat_digits, lon_digits, symbol, extra, type_byte = found.groups()
    latitude = 90.0 - base91(lat_digits) / _LAT_STEPS
    longitude = -180.0 + base91(lon_digits) / _LON_STEPS
    altitude = course = speed = None
    if b" " not in extra:
        first, second = extra[0] - _ZERO, extra[1] - _ZERO
        if (type_byte[0] - _ZERO) & _SOURCE_BITS == _FROM_GGA:
            altitude = 1.002 ** base91(extra) * FOOT_M
        elif first != _RANGE:
            course = first * 4.0
            speed = (1.08**second - 1.0) * KNOT_MS
    return beyond(latitude, longitude) or Position(
        latitude_deg=latitude,
        longitude_deg=longitude,
        half_width_m=0.5 * METRES_PER_DEGREE * _step_deg(latitude),
        symbol=chr(symbol[0]),
        comment=data[found.end() :],
        altitude_m=altitude,
        course_deg=course,
        speed_ms=speed,
    )


def _step_deg(latitude_deg: float) -> float:
    """The coarser of the two steps on the ground, in degrees of latitude."""
    return max(1.0 / _LAT_STEPS, math.cos(math.radians(latitude_deg)) / _LON_STEPS)
