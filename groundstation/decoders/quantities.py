"""Values that a tracker sends in one unit, into the unit that their name carries."""

import re
from collections.abc import Callable
from typing import Final

from groundstation.decoders.text import number
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
    "mm": "mm",
    "percent": "%",
    "dbm": "dBm",
    "db": "dB",
    "a": "A",
    "hz": "Hz",
    "wm2": "W/m2",
}
WRITTEN: Final = {
    "feet": "ft", "foot": "ft", "'": "ft", "metres": "m", "meters": "m", "metre": "m",
    "meter": "m", "mtr": "m", "msl": "m", "m msl": "m", "m amsl": "m", "masl": "m",
    "ft msl": "ft", "ft amsl": "ft", "knots": "kt", "knot": "kt", "kn": "kt", "kts": "kt",
    "kmh": "km/h", "kph": "km/h", "km/hr": "km/h", "mps": "m/s", "fpm": "ft/min",
    "volt": "V", "volts": "V", "millivolt": "mV", "millivolts": "mV", "c": "degC", "°c": "degC",
    "deg c": "degC", "deg.c": "degC", "celsius": "degC", "f": "degF", "°f": "degF",
    "deg f": "degF", "deg.f": "degF", "fahrenheit": "degF", "kelvin": "K", "°": "deg",
    "degrees": "deg", "deg true": "deg", "°t": "deg", "millibar": "mbar", "mb": "mbar",
    "percent": "%", "sec": "s", "secs": "s", "seconds": "s", "minutes": "min", "mins": "min",
    "dbm": "dBm", "db": "dB",
}  # fmt: skip
"""How people and devices write units, in small letters. Common practice, no source."""

_BY_SMALL: Final = {name.lower(): name for name in UNITS if name}
_NUMBER_UNIT: Final = re.compile(
    r"([+-]?[0-9.,' \u00a0\u202f]*[0-9])\s*([^\W\d_].{0,11}|[°%'].{0,11})", re.DOTALL
)
_UNFIT: Final = re.compile(r"[^a-z0-9]+")
_LONGEST_NAME: Final = 24  # own choice: fits a column of the page
_ENDINGS: Final = {
    "length": "m", "speed": "ms", "time": "s", "voltage": "v", "temperature": "c",
    "pressure": "hpa", "mass": "g", "angle": "deg", "ratio": "percent", "level": "dbm",
    "gain": "db", "current": "a", "frequency": "hz", "irradiance": "wm2",
}  # fmt: skip
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
    own = own_unit(name)
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


def own_unit(name: str) -> str:
    """The unit that ends a name, or ""."""
    stem, _, ending = name.rpartition("_")
    return NAME_UNITS.get(ending, "") if stem else ""


def _as_sent(value: float) -> float:
    return value


def name_with_unit(label: str, unit: str, otherwise: str) -> tuple[str, Conversion]:
    """A name for a value that its sender calls ``label`` and gives in ``unit``, and the way there.

    The name ends in the unit in which it is kept: "Batt", "mV" gives ``batt_v``. Of a unit that is
    not known only the letters are kept. ``otherwise`` is taken where no label is left.
    """
    name = _UNFIT.sub("_", label.lower()).strip("_")[:_LONGEST_NAME] or otherwise
    name = name if name[0].isalpha() else f"{otherwise}_{name}"
    written = known_unit(unit.strip())
    dimension = UNITS[written][0] if written and written in UNITS else ""
    ending = _ENDINGS.get(dimension, "")
    if ending:
        name = name if own_unit(name) and _measures(name, written) else f"{name}_{ending}"
        return name, conversion(name, written)
    more = _UNFIT.sub("_", unit.lower()).strip("_")[:12]
    name = f"{name}_{more}".rstrip("_")
    # A label such as "Pwr_V" without a unit that is known would carry one that nobody sent.
    return (f"{name}_value" if own_unit(name) else name), _as_sent


def _measures(name: str, unit: str) -> bool:
    return UNITS[own_unit(name)][0] == UNITS[unit][0]


def split_unit(text: str) -> tuple[str, str]:
    """A number as text, and the unit that is written after it, or "" where there is none.

    A unit that is not known comes back as it is written. ``1e5`` is a number without one.
    """
    found = None if number(text) is not None else _NUMBER_UNIT.fullmatch(text.strip())
    if found is None:
        return text, ""
    written = found[2].strip()
    return found[1], known_unit(written)


def known_unit(written: str) -> str:
    """Our name of a unit that may be written otherwise; what is not known stays as it is."""
    if written in UNITS:
        return written
    small = written.lower().strip(" .()[]")
    return WRITTEN.get(small) or _BY_SMALL.get(small) or written


def from_written(name: str, unit: str) -> Conversion | None:
    """How a value with this unit written beside it becomes one of ``name``; None where it can't.

    A name that carries no unit takes the number as it is written.
    """
    if not own_unit(name):
        return _as_sent
    try:
        return conversion(name, unit)
    except ConfigurationError:
        return None
