"""Values that a tracker sends in one unit, into the unit that their name carries."""

import re
from collections.abc import Callable
from typing import Final

from groundstation.errors import ConfigurationError
from groundstation.units import NAUTICAL_MILE_M, UNITS

METRES_PER_DEGREE: Final = 60.0 * NAUTICAL_MILE_M
"""One degree of latitude: the nautical mile is a mean minute of it by definition, to 0.5 %."""

NAME_UNITS: Final = {
    "m": "m",
    "ms": "m/s",
    "s": "s",
    "v": "V",
    "c": "degC",
    "k": "K",
    "pa": "Pa",
    "hpa": "hPa",
    "deg": "deg",
    "kg": "kg",
    "g": "g",
}
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")

Conversion = Callable[[float], float]


def conversion(name: str, unit: str) -> Conversion:
    """How a value in ``unit`` becomes one in the unit that ends ``name``, as V in ``battery_v``.

    An empty unit means that it is sent in the name's own. Raises ``ConfigurationError`` for a
    name that is not of small letters, digits and underscores, for an unknown unit, and where
    name and unit measure different things.
    """
    if _NAME.fullmatch(name) is None:
        raise ConfigurationError(f"{name!r} is no name for a value; use one such as 'battery_v'")
    stem, _, ending = name.rpartition("_")
    own = NAME_UNITS.get(ending, "") if stem else ""
    if unit in ("", own):
        return _as_sent
    if unit not in UNITS:
        known = ", ".join(filter(None, UNITS))
        raise ConfigurationError(f"{name}: unknown unit {unit!r}; known are {known}")
    if not own or UNITS[unit][0] != UNITS[own][0]:
        endings = ", ".join(
            f"_{key}" for key, value in NAME_UNITS.items() if UNITS[value][0] == UNITS[unit][0]
        )
        advice = f"let the name end in one of {endings}" if endings else "leave the unit out"
        raise ConfigurationError(f"{name} does not measure in {unit!r}; {advice}")
    _, factor, offset = UNITS[unit]
    _, own_factor, own_offset = UNITS[own]
    return lambda value: (factor * value + offset - own_offset) / own_factor


def _as_sent(value: float) -> float:
    return value
