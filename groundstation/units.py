"""Units: SI inside, anything customary at the edges.

Factors are exact by definition: international foot and statute mile (1959 agreement), nautical
mile (1929 Monaco conference), knot, inch of mercury and pound-force per the SI Brochure and
NIST SP 811 Appendix B.
"""

import re
from typing import Final

from groundstation.errors import ConfigurationError

FOOT_M: Final = 0.3048
MILE_M: Final = 1609.344
NAUTICAL_MILE_M: Final = 1852.0
KNOT_MS: Final = 1852.0 / 3600.0
CELSIUS_ZERO_K: Final = 273.15

# unit: (dimension, factor, offset), SI = factor * value + offset
UNITS: Final[dict[str, tuple[str, float, float]]] = {
    "m": ("length", 1.0, 0.0),
    "km": ("length", 1000.0, 0.0),
    "cm": ("length", 0.01, 0.0),
    "mm": ("length", 0.001, 0.0),
    "ft": ("length", FOOT_M, 0.0),
    "mi": ("length", MILE_M, 0.0),
    "nmi": ("length", NAUTICAL_MILE_M, 0.0),
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
    "K": ("temperature", 1.0, 0.0),
    "degC": ("temperature", 1.0, CELSIUS_ZERO_K),
    "degF": ("temperature", 5.0 / 9.0, CELSIUS_ZERO_K - 160.0 / 9.0),
    "deg": ("angle", 1.0, 0.0),
    "V": ("voltage", 1.0, 0.0),
    "mV": ("voltage", 0.001, 0.0),
    "kg": ("mass", 1.0, 0.0),
    "g": ("mass", 0.001, 0.0),
    "lb": ("mass", 0.45359237, 0.0),
    "oz": ("mass", 0.028349523125, 0.0),
    "m3": ("volume", 1.0, 0.0),
    "l": ("volume", 0.001, 0.0),
    "ft3": ("volume", FOOT_M**3, 0.0),
    "%": ("ratio", 0.01, 0.0),
    "": ("ratio", 1.0, 0.0),
}

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S*)\s*")


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
    match = _QUANTITY.fullmatch(text)
    fitting = [unit for unit, row in UNITS.items() if row[0] == dimension and unit]
    if match is None:
        raise ConfigurationError(f"{text!r} is not a number with a unit such as {fitting[0]!r}")
    number, unit = match.groups()
    if unit not in UNITS or UNITS[unit][0] != dimension:
        raise ConfigurationError(
            f"{text!r} has not a unit of {dimension}; use {', '.join(fitting)}"
        )
    return to_si(float(number), unit)
