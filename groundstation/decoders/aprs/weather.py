"""Weather beside a position, or without one (APRS 1.0.1 ch. 12; widths and units from memory, held
against a second decoder by the tests)."""

import re
from dataclasses import replace
from typing import Final

from groundstation.decoders.aprs.position import Position
from groundstation.units import UNITS

SYMBOL: Final = "_"
_WIND: Final = re.compile(rb"([0-9]{3}|[. ]{3})/([0-9]{3}|[. ]{3})")
_WITHOUT_POSITION: Final = re.compile(rb"_[0-9]{8}c([0-9. ]{3})s([0-9. ]{3})")
_DIGITS: Final = re.compile(rb"-?[0-9]+|[. ]+")
_INCH_100_MM: Final = 0.254  # exact: a hundredth of an inch
_MPH: Final = UNITS["mph"][1]
_FIELDS: Final = {
    # letter: (digits, name, factor, offset)
    "g": (3, "wind_gust_ms", _MPH, 0.0),
    "t": (3, "temperature_c", 5.0 / 9.0, -160.0 / 9.0),
    "r": (3, "rain_hour_mm", _INCH_100_MM, 0.0),
    "p": (3, "rain_day_mm", _INCH_100_MM, 0.0),
    "P": (3, "rain_midnight_mm", _INCH_100_MM, 0.0),
    "h": (2, "humidity_percent", 1.0, 0.0),
    "b": (5, "pressure_hpa", 0.1, 0.0),
    "L": (3, "light_wm2", 1.0, 0.0),
    "l": (3, "light_wm2", 1.0, 1000.0),
    "s": (3, "snow_day_mm", 25.4, 0.0),
}

Pairs = tuple[tuple[str, float], ...]


def with_weather(position: Position) -> Position:
    """Take the weather out of the text after a position with the symbol of a weather station.

    Course and speed of a compressed position are its wind.
    """
    comment = position.comment
    found: dict[str, float] = {}
    if wind := _WIND.match(comment):
        found |= _wind(wind[1], wind[2])
        comment = comment[wind.end() :]
    elif position.course_deg is not None and position.speed_ms is not None:
        found |= {"wind_from_deg": position.course_deg, "wind_speed_ms": position.speed_ms}
    more, rest = _fields(comment)
    return replace(
        position,
        comment=rest,
        measured=tuple((found | more).items()),
        course_deg=None,
        speed_ms=None,
    )


def read_weather(info: bytes) -> Pairs | None:
    """The weather of a report without position, or None where it is none."""
    found = _WITHOUT_POSITION.match(info)
    if found is None:
        return None
    return tuple((_wind(found[1], found[2]) | _fields(info[found.end() :])[0]).items())


def _wind(direction: bytes, speed: bytes) -> dict[str, float]:
    found = {}
    if direction.isdigit():
        found["wind_from_deg"] = int(direction) % 360.0
    if speed.isdigit():
        found["wind_speed_ms"] = int(speed) * _MPH
    return found


def _fields(text: bytes) -> tuple[dict[str, float], bytes]:
    """Values by letter as far as they follow one another, and the rest of the text."""
    found: dict[str, float] = {}
    at = 0
    while (known := _FIELDS.get(chr(text[at]) if at < len(text) else "")) is not None:
        digits, name, factor, offset = known
        figure = text[at + 1 : at + 1 + digits]
        if len(figure) < digits or not _DIGITS.fullmatch(figure):
            break
        if figure.strip(b". "):
            value = int(figure)
            # 00 stands for 100 %, which has no room.
            value = 100 if name == "humidity_percent" and value == 0 else value
            found[name] = factor * value + offset
        at += 1 + digits
    return found, text[at:]
