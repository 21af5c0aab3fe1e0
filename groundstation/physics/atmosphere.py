"""The US Standard Atmosphere 1976, up to 84.8 km.

Source: U.S. Standard Atmosphere 1976 (NOAA-S/T 76-1562), section 1.2 and tables 2 and 4; the layers
to 32 km are those of ICAO Doc 7488. Altitudes are geometric, as GNSS gives them.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundstation.errors import OutOfModelRangeError

Array = NDArray[np.float64]

SEA_LEVEL_PRESSURE_PA: Final = 101_325.0  # US Standard Atmosphere 1976
SEA_LEVEL_DENSITY_KGM3: Final = 1.2250  # US Standard Atmosphere 1976
STANDARD_GRAVITY_MS2: Final = 9.80665  # exact, as defined in 1901
EARTH_RADIUS_M: Final = 6_356_766.0  # US Standard Atmosphere 1976: effective radius
GAS_CONSTANT_AIR_JKGK: Final = 8.31432e3 / 28.9644  # US Standard Atmosphere 1976: R* / M0

LOWEST_M: Final = -5_000.0  # as far down as its tables go
HIGHEST_M: Final = 84_800.0  # below 86 km, where its lower part ends

_BASE_M: Final = np.array([0.0, 11e3, 20e3, 32e3, 47e3, 51e3, 71e3])
_LAPSE_KM: Final = np.array([-6.5, 0.0, 1.0, 2.8, 0.0, -2.8, -2.0]) / 1000.0
_HYDROSTATIC_KM: Final = STANDARD_GRAVITY_MS2 / GAS_CONSTANT_AIR_JKGK


def _layer_pressure(base_pa: Array, base_k: Array, lapse_km: Array, rise_m: Array) -> Array:
    warmed = 1.0 + lapse_km * rise_m / base_k
    with np.errstate(divide="ignore", invalid="ignore"):
        sloped = warmed ** (-_HYDROSTATIC_KM / np.where(lapse_km == 0.0, np.nan, lapse_km))
    level = np.exp(-_HYDROSTATIC_KM * rise_m / base_k)
    return np.asarray(base_pa * np.where(lapse_km == 0.0, level, sloped))


def _bases() -> tuple[Array, Array]:
    kelvin, pascal = [288.15], [SEA_LEVEL_PRESSURE_PA]
    for i, rise in enumerate(np.diff(_BASE_M)):
        row = (np.array(v) for v in (pascal[-1], kelvin[-1], _LAPSE_KM[i], rise))
        pascal.append(float(_layer_pressure(*row)))
        kelvin.append(kelvin[-1] + float(_LAPSE_KM[i] * rise))
    return np.array(kelvin), np.array(pascal)


_BASE_K, _BASE_PA = _bases()


def geopotential_m(altitude_m: ArrayLike) -> Array:
    """Geometric to geopotential altitude (USSA 1976 eq. 18)."""
    z = np.asarray(altitude_m, dtype=float)
    return EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z)


def geometric_m(geopotential: ArrayLike) -> Array:
    """Geopotential metres, as in weather files, to geometric altitude (USSA 1976 eq. 19)."""
    h = np.asarray(geopotential, dtype=float)
    return EARTH_RADIUS_M * h / (EARTH_RADIUS_M - h)


def gravity_ms2(altitude_m: ArrayLike) -> Array:
    """Gravity at geometric altitude (USSA 1976 eq. 17)."""
    z = np.asarray(altitude_m, dtype=float)
    return STANDARD_GRAVITY_MS2 * (EARTH_RADIUS_M / (EARTH_RADIUS_M + z)) ** 2


def _layers(altitude_m: ArrayLike) -> tuple[Array, NDArray[np.intp], Array]:
    z = np.asarray(altitude_m, dtype=float)
    if not np.all((z >= LOWEST_M) & (z <= HIGHEST_M)):
        raise OutOfModelRangeError(
            f"the standard atmosphere holds from {LOWEST_M:.0f} to {HIGHEST_M:.0f} m"
        )
    h = geopotential_m(z)
    layer = np.maximum(np.searchsorted(_BASE_M, h, side="right") - 1, 0)
    return h, layer, h - _BASE_M[layer]


def temperature(altitude_m: ArrayLike) -> Array:
    """Temperature in kelvin at geometric altitude, -5 to 84.8 km; shape of the input.

    Raises ``OutOfModelRangeError`` outside.
    """
    _, layer, rise = _layers(altitude_m)
    return np.asarray(_BASE_K[layer] + _LAPSE_KM[layer] * rise)


def pressure(altitude_m: ArrayLike) -> Array:
    """Pressure in pascal at geometric altitude; range and errors as ``temperature``."""
    _, layer, rise = _layers(altitude_m)
    return _layer_pressure(_BASE_PA[layer], _BASE_K[layer], _LAPSE_KM[layer], rise)


def density(altitude_m: ArrayLike) -> Array:
    """Density in kg/m3 at geometric altitude; range and errors as ``temperature``."""
    return pressure(altitude_m) / (GAS_CONSTANT_AIR_JKGK * temperature(altitude_m))


_LOWEST_PA: Final = float(pressure(HIGHEST_M))
_HIGHEST_PA: Final = float(pressure(LOWEST_M))


def pressure_altitude_m(pressure_pa: ArrayLike) -> Array:
    """The geometric altitude at which the standard atmosphere has this pressure; NaN outside of it.

    The inverse of ``pressure`` (USSA 1976 eq. 33a and 33b solved for the height).
    """
    p = np.asarray(pressure_pa, dtype=float)
    inside = (p > _LOWEST_PA) & (p < _HIGHEST_PA)
    held = np.where(inside, p, SEA_LEVEL_PRESSURE_PA)
    layer = np.maximum(np.searchsorted(-_BASE_PA, -held, side="right") - 1, 0)
    base, kelvin, lapse = _BASE_PA[layer], _BASE_K[layer], _LAPSE_KM[layer]
    with np.errstate(divide="ignore", invalid="ignore"):
        sloped = ((held / base) ** (-lapse / _HYDROSTATIC_KM) - 1.0) * kelvin / lapse
    level = -np.log(held / base) * kelvin / _HYDROSTATIC_KM
    rise = np.where(lapse == 0.0, level, sloped)
    return np.where(inside, geometric_m(_BASE_M[layer] + rise), np.nan)
