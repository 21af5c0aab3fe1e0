"""Units: SI inside, anything customary at the edges.

Factors are exact by definition: international foot and statute mile (1959 agreement), nautical
mile (1929 Monaco conference), knot, inch of mercury and pound-force per the SI Brochure and
NIST SP 811 Appendix B.
"""

import math
import re
from enum import StrEnum
from typing import Final

from groundstation.errors import ConfigurationError


class Units(StrEnum):
    """What the person wants to read."""

    METRIC = "metric"
    IMPERIAL = "imperial"


FOOT_M: Final = 0.3048  # exact, international yard and pound agreement of 1959
MILE_M: Final = 1609.344  # as above
NAUTICAL_MILE_M: Final = 1852.0  # exact, International Hydrographic Conference 1929
INCH_M: Final = 0.0254  # as above
POUND_KG: Final = 0.45359237  # as above
POUND_FORCE_N: Final = POUND_KG * 9.80665
KNOT_MS: Final = 1852.0 / 3600.0  # a nautical mile an hour
CELSIUS_ZERO_K: Final = 273.15  # exact, SI brochure 2.3.1

# unit: (dimension, factor, offset), SI = factor * value + offset
UNITS: Final[dict[str, tuple[str, float, float]]] = {
    "m": ("length", 1.0, 0.0),
    "km": ("length", 1000.0, 0.0),
    "cm": ("length", 0.01, 0.0),
    "mm": ("length", 0.001, 0.0),
    "ft": ("length", FOOT_M, 0.0),
    "mi": ("length", MILE_M, 0.0),
    "nmi": ("length", NAUTICAL_MILE_M, 0.0),
    "in": ("length", INCH_M, 0.0),
    "yd": ("length", 3.0 * FOOT_M, 0.0),
    "m/s": ("speed", 1.0, 0.0),
    "km/h": ("speed", 1.0 / 3.6, 0.0),
    "kt": ("speed", KNOT_MS, 0.0),
    "mph": ("speed", MILE_M / 3600.0, 0.0),
    "ft/min": ("speed", FOOT_M / 60.0, 0.0),
    "ft/s": ("speed", FOOT_M, 0.0),
    "s": ("time", 1.0, 0.0),
    "ms": ("time", 0.001, 0.0),
    "min": ("time", 60.0, 0.0),
    "h": ("time", 3600.0, 0.0),
    "d": ("time", 86400.0, 0.0),
    "Pa": ("pressure", 1.0, 0.0),
    "hPa": ("pressure", 100.0, 0.0),
    "mbar": ("pressure", 100.0, 0.0),
    "kPa": ("pressure", 1000.0, 0.0),
    "bar": ("pressure", 1e5, 0.0),
    "inHg": ("pressure", 3386.389, 0.0),
    "MPa": ("pressure", 1e6, 0.0),
    "atm": ("pressure", 101_325.0, 0.0),
    "mmHg": ("pressure", 133.3224, 0.0),
    "psi": ("pressure", POUND_FORCE_N / INCH_M**2, 0.0),
    "K": ("temperature", 1.0, 0.0),
    "degC": ("temperature", 1.0, CELSIUS_ZERO_K),
    "degF": ("temperature", 5.0 / 9.0, CELSIUS_ZERO_K - 160.0 / 9.0),
    "deg": ("angle", 1.0, 0.0),
    "V": ("voltage", 1.0, 0.0),
    "mV": ("voltage", 0.001, 0.0),
    "A": ("current", 1.0, 0.0),
    "mA": ("current", 0.001, 0.0),
    "dBm": ("level", 1.0, 0.0),
    "dB": ("gain", 1.0, 0.0),
    "Hz": ("frequency", 1.0, 0.0),
    "kHz": ("frequency", 1000.0, 0.0),
    "MHz": ("frequency", 1e6, 0.0),
    "W/m2": ("irradiance", 1.0, 0.0),
    "kg": ("mass", 1.0, 0.0),
    "g": ("mass", 0.001, 0.0),
    "lb": ("mass", POUND_KG, 0.0),
    "oz": ("mass", POUND_KG / 16.0, 0.0),
    "N": ("force", 1.0, 0.0),
    "kN": ("force", 1000.0, 0.0),
    "kgf": ("force", 9.80665, 0.0),
    "lbf": ("force", POUND_FORCE_N, 0.0),
    "m3": ("volume", 1.0, 0.0),
    "l": ("volume", 0.001, 0.0),
    "ft3": ("volume", FOOT_M**3, 0.0),
    "%": ("ratio", 0.01, 0.0),
    "": ("ratio", 1.0, 0.0),
}

_WORDS: Final = {
    "degC": "C °C ℃ celsius", "degF": "F °F ℉ fahrenheit",
    "m3": "m³ m^3", "ft3": "ft³ ft^3 cuft cf scf", "l": "L litre litres liter liters",
    "g": "gram grams", "kg": "kgs kilogram kilograms", "lb": "lbs pound pounds",
    "oz": "ounce ounces",
    "m": "metre metres meter meters", "in": "inch inches \" ″", "ft": "foot feet ' ′",
    "mi": "mile miles", "nmi": "NM", "kt": "kts knot knots", "ft/min": "fpm", "ft/s": "fps",
    "km/h": "kph kmh", "m/s": "mps", "mbar": "mb mbars", "bar": "bars", "mmHg": "torr",
    "psi": "psig",
    "N": "newton newtons", "s": "sec second seconds", "min": "mins minute minutes",
    "h": "hr hrs hour hours", "d": "day days",
}  # fmt: skip
ALIASES: Final = {word: unit for unit, words in _WORDS.items() for word in words.split()}
"""What people write, and the unit that it is."""

_FORCES: Final[dict[str, str]] = {"lb": "lbf", "kg": "kgf"}
"""What a string breaks at is sold by the pound or the kilogram (common practice)."""

_TWO_WORDS: Final = (
    (re.compile(r"\b(in|mm)\s+hg\b", re.IGNORECASE), r"\1Hg"),
    (re.compile(r"\bdeg(?:rees?)?\s+(?=[cf]\b)", re.IGNORECASE), "deg"),
    (re.compile(r"\bcu(?:bic|\.)?\s*(?:ft\b\.?|feet|foot)", re.IGNORECASE), "ft3"),
    (re.compile(r"\bcu(?:bic|\.)?\s*met(?:re|er)s?", re.IGNORECASE), "m3"),
)
_QUANTITY = re.compile(
    r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\s\d]+(?:[23](?=\s|$))?)?\s*"
)
_COMMA = re.compile(r"\d,\d")
_SEVERAL: Final = ("length", "mass", "time")
"""Of these, people write one quantity in several units: 2 lb 3 oz, 5 ft 6 in, 1 h 30 min."""


def to_si(value: float, unit: str) -> float:
    """Return ``value``, given in ``unit``, in SI (temperatures in kelvin, angles in degrees).

    Raises ``ConfigurationError`` for a unit that is not in ``UNITS``.
    """
    if unit not in UNITS:
        raise ConfigurationError(
            f"unknown unit {unit!r}; known are {', '.join(filter(None, UNITS))}"
        )
    _, factor, offset = UNITS[unit]
    return factor * value + offset


def parse_quantity(text: str, dimension: str) -> float:
    """Read a number with its unit, such as ``"120 m"``, and return it in SI.

    Raises ``ConfigurationError`` where the number or the unit is missing, or the unit measures
    something else than ``dimension``.
    """
    fitting = [unit for unit, row in UNITS.items() if row[0] == dimension and unit]
    if _COMMA.search(text):
        raise ConfigurationError(
            f"{text!r} has a comma, which is a decimal sign to some and a group of thousands to"
            " others; write 1200 or 1.2"
        )
    parts = _parts(text)
    if not parts or (len(parts) > 1 and dimension not in _SEVERAL):
        raise ConfigurationError(f"{text!r} is not a number with a unit such as {fitting[0]!r}")
    total, size = 0.0, math.inf
    for n, (number, written) in enumerate(parts):
        unit = _unit(written, dimension, fitting)
        if unit not in UNITS or UNITS[unit][0] != dimension:
            raise ConfigurationError(
                f"{text!r} has not a unit of {dimension}; use {', '.join(fitting)}"
            )
        if n and (float(number) < 0.0 or UNITS[unit][1] >= size):
            raise ConfigurationError(
                f"{text!r} is not one quantity: the larger unit comes first, as in 2 lb 3 oz"
            )
        size = UNITS[unit][1]
        value = to_si(float(number), unit)
        total += -value if total < 0.0 else value
    return total


def _unit(written: str, dimension: str, fitting: list[str]) -> str:
    """The unit that is meant; as it is written where it is none."""
    unit = ALIASES.get(written, ALIASES.get(written.lower(), written))
    if dimension == "force":
        unit = _FORCES.get(unit, unit)
    # "PSI", "Bar", "hpa": of one dimension no two units differ by capitals alone.
    return next((known for known in fitting if known.lower() == unit.lower()), unit)


def _parts(text: str) -> list[tuple[str, str]]:
    """Numbers with their units; none where something else stands between."""
    for words, short in _TWO_WORDS:
        text = words.sub(short, text)
    found, at = [], 0
    while at < len(text):
        match = _QUANTITY.match(text, at)
        if match is None:
            return []
        found.append((match[1], match[2] or ""))
        at = match.end()
    return found
