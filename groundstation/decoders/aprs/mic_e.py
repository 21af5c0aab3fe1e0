"""Mic-E: the latitude in the destination address, the rest in binary (APRS 1.0.1 ch. 10)."""

import re
from typing import Final

from groundstation.decoders.aprs.compressed import base91
from groundstation.decoders.aprs.position import Position
from groundstation.decoders.aprs.uncompressed import STEPS, half_width_m, middle
from groundstation.decoders.refusals import beyond, unreadable
from groundstation.records import Reason, Unreadable
from groundstation.units import KNOT_MS

_DESTINATION: Final = re.compile(r"([0-9A-LP-Z]{3}[0-9LP-Z]{3})(?:-[0-9]{1,2})?")
_FORM: Final = re.compile(rb"([\x1c-\x7f]{6})([!-~])[/\\0-9A-Z]")
_ALTITUDE: Final = re.compile(rb".?([!-{]{3})\}", re.DOTALL)
_LATITUDE_DIGITS: Final = {
    **{digit: digit for digit in "0123456789"},
    **{chr(ord("A") + value): str(value) for value in range(10)},
    **{chr(ord("P") + value): str(value) for value in range(10)},
    **dict.fromkeys("KLZ", " "),
}
_ALTITUDE_ZERO_M: Final = 10_000  # APRS101 chapter 10: metres above 10 km below sea level
_BYTE_ZERO: Final = 28  # APRS101 chapter 10: every value has 28 added


def read_mic_e(destination: str, data: bytes) -> Position | Unreadable:
    """Read the information field after its first byte, with the address it was sent to.

    The altitude is read at the beginning of the text, or after the one byte there that names the
    kind of radio.
    """
    address = _DESTINATION.fullmatch(destination)
    if address is None:
        return unreadable("The destination address does not hold a Mic-E latitude.")
    found = _FORM.match(data)
    if found is None:
        return unreadable("The Mic-E position is cut short or has bytes outside its range.")
    letters = address[1]
    digits = "".join(_LATITUDE_DIGITS[letter] for letter in letters)
    left_out = len(digits) - len(digits.rstrip(" "))
    if " " in digits.rstrip(" ") or left_out >= len(STEPS):
        return unreadable("The Mic-E latitude has a gap between its digits.")
    digits = digits.replace(" ", "0")
    values = [byte - _BYTE_ZERO for byte in found[1]]
    lat_minutes = middle(int(digits[2:]), left_out)
    degrees = _longitude_degrees(values[0], offset=letters[4] >= "P")
    lon_whole = values[1] - 60 if values[1] >= 60 else values[1]
    if lat_minutes >= 60.0 or values[2] >= 100 or not 0 <= degrees < 180 or lon_whole >= 60:
        return Unreadable(
            reason=Reason.IMPOSSIBLE, detail="The Mic-E position is not on the earth."
        )
    lon_minutes = middle(lon_whole * 100 + values[2], left_out)
    latitude = (1.0 if letters[3] >= "P" else -1.0) * (int(digits[:2]) + lat_minutes / 60.0)
    longitude = (-1.0 if letters[5] >= "P" else 1.0) * (degrees + lon_minutes / 60.0)
    speed, course = _speed_course(*values[3:])
    text = data[found.end() :]
    height = _ALTITUDE.match(text)
    return beyond(latitude, longitude) or Position(
        latitude_deg=latitude,
        longitude_deg=longitude,
        half_width_m=half_width_m(left_out),
        symbol=chr(found[2][0]),
        comment=text,
        refinable=left_out == 0,
        altitude_m=float(base91(height[1]) - _ALTITUDE_ZERO_M) if height else None,
        course_deg=course,
        speed_ms=speed,
    )


def _longitude_degrees(value: int, offset: bool) -> int:
    degrees = value + 100 if offset else value
    if 180 <= degrees <= 189:
        return degrees - 80
    if 190 <= degrees <= 199:
        return degrees - 190
    return degrees


def _speed_course(tens: int, units_hundreds: int, rest: int) -> tuple[float, float | None]:
    """Speed in m/s, and course in degrees, or None where it is not known (sent as 0)."""
    knots = tens * 10 + units_hundreds // 10
    course = units_hundreds % 10 * 100 + rest
    knots -= 800 if knots >= 800 else 0
    course -= 400 if course >= 400 else 0
    return knots * KNOT_MS, course % 360.0 if 1 <= course <= 360 else None
