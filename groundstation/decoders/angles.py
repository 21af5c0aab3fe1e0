"""Latitudes and longitudes as trackers write them: signs, sides, minutes, scaled integers."""

import re
from dataclasses import dataclass
from typing import Final

from groundstation.decoders.text import NumberForm, decimals, number, plain_number

DEGREES: Final = "deg"
DEGREES_MINUTES: Final = "ddmm"
DEGREES_MINUTES_SECONDS: Final = "ddmmss"
TEN_MILLIONTHS: Final = "1e-7 deg"
SCALES: Final = {
    DEGREES: 1.0,
    TEN_MILLIONTHS: 1e-7,
    "1e-6 deg": 1e-6,
    "1e-5 deg": 1e-5,
    "1e-4 deg": 1e-4,
    "1e-3 deg": 1e-3,
    "arcmin": 1.0 / 60.0,
    "arcsec": 1.0 / 3600.0,
    "rad": 57.29577951308232,
}
ANGLE_UNITS: Final = (*SCALES, DEGREES_MINUTES, DEGREES_MINUTES_SECONDS)
SIDES: Final = {"lat": "NS", "lon": "EW"}
LONGEST: Final = 40  # own choice: no way of writing an angle is longer

_WORDS: Final = frozenset(("N", "S", "E", "W", "NORTH", "SOUTH", "EAST", "WEST"))

_SIDE: Final = re.compile(
    r"(?:(N|S|E|W|North|South|East|West)\.?\s*)?([^A-Za-z]+?)"
    r"(?:\s*(N|S|E|W|North|South|East|West)\.?)?",
    re.IGNORECASE,
)
_MARK_D: Final = "[°º˚:d]"
_MARK_M: Final = "['’′´:m]"
_MARK_S: Final = "(?:[\"”″s]|''|’’|′′)"
_VALUE: Final = r"([0-9]{1,3}(?:[.,][0-9]{1,12})?)"
_PARTS: Final = re.compile(
    rf"([+-]?)\s*([0-9]{{1,3}})(?:\s*{_MARK_D}\s*|\s+)(?:{_VALUE}\s*(?:{_MARK_M}\s*|\s+|$)"
    rf"(?:{_VALUE}\s*{_MARK_S}?)?)?"
)
_ONE_MARKED: Final = re.compile(rf"([+-]?[0-9.,]{{1,20}})\s*{_MARK_D}")


@dataclass(frozen=True, slots=True)
class Angle:
    """In degrees; ``step_deg`` is what the notation can tell apart."""

    degrees: float
    step_deg: float


def unit_deg(unit: str) -> float:
    """What one of the unit's last whole digits is in degrees."""
    if unit in SCALES:
        return SCALES[unit]
    return 1.0 / 60.0 if unit == DEGREES_MINUTES else 1.0 / 3600.0


def read_angle(
    text: str, axis: str, unit: str, form: NumberForm = NumberForm.POINT, side: str = ""
) -> Angle | None:
    """Read a latitude or longitude (``axis`` is "lat" or "lon"), or None where it is none.

    ``N``, ``S``, ``E`` or ``W`` may stand before or after it, or come apart as ``side``. Degrees,
    minutes and seconds with marks or spaces between them are read in whatever unit is set. What
    contradicts itself is none: two sides, a side of the other axis, a side beside a minus sign.
    """
    text = text.strip()
    if len(text) > LONGEST:
        return None
    if number(text) is not None:
        # With an exponent it holds an E that is no side.
        before, body, after = "", text, ""
    elif found := _SIDE.fullmatch(text):
        before, body, after = found[1] or "", found[2].strip(), found[3] or ""
    else:
        return None
    sides = {part[:1].upper() for part in (before, after, side.strip()) if part}
    if len(sides) > 1 or (side.strip() and side.strip().upper() not in _WORDS):
        return None
    (letter,) = sides or {""}
    if letter and letter not in SIDES[axis]:
        return None
    angle = _in_parts(body) or _single(body, axis, unit, form)
    if angle is None or (letter and body.startswith(("-", "+"))):
        return None
    return Angle(-angle.degrees, angle.step_deg) if letter in ("S", "W") else angle


def _single(body: str, axis: str, unit: str, form: NumberForm) -> Angle | None:
    marked = _ONE_MARKED.fullmatch(body)
    plain = plain_number(marked[1] if marked else body, form)
    value = number(plain)
    if value is None:
        return None
    step = 10.0 ** -max(min(decimals(plain), 15), -15)
    if marked or unit in SCALES:
        scale = 1.0 if marked else SCALES[unit]
        return Angle(value * scale, step * scale)
    if axis == "lat" and len(plain.lstrip("+-").partition(".")[0]) < len("DMM"):
        # Degrees, for minutes of the equator.
        return None
    sign = -1.0 if plain.startswith("-") else 1.0
    rest, last = divmod(abs(value), 100.0)
    if unit == DEGREES_MINUTES:
        return Angle(sign * (rest + last / 60.0), step / 60.0) if last < 60.0 else None
    whole, minutes = divmod(rest, 100.0)
    if last >= 60.0 or minutes >= 60.0:
        return None
    return Angle(sign * (whole + minutes / 60.0 + last / 3600.0), step / 3600.0)


def _in_parts(body: str) -> Angle | None:
    """Degrees and minutes, or with seconds, told apart by marks or spaces."""
    found = _PARTS.fullmatch(body)
    if found is None or found[3] is None:
        return None
    sign, whole, minutes, seconds = found.groups()
    texts = [part.replace(",", ".") for part in (minutes, seconds) if part is not None]
    if any(float(part) >= 60.0 for part in texts) or (seconds is not None and "." in texts[0]):
        return None
    degrees, step = float(whole), 1.0
    for place, part in enumerate(texts, 1):
        degrees += float(part) / 60.0**place
        step = 10.0 ** -decimals(part) / 60.0**place
    return Angle(-degrees if sign == "-" else degrees, step)
