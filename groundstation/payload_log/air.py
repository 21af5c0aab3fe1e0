"""The air that a payload's log met: beside the standard atmosphere, and what follows from it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.payload_log.reading import SensorLog
from groundstation.payload_log.sanity import POSSIBLE
from groundstation.physics.atmosphere import (
    GAS_CONSTANT_AIR_JKGK,
    STANDARD_GRAVITY_MS2,
    density,
    pressure_altitude_m,
)
from groundstation.physics.tropopause import tropopause_m

Array = NDArray[np.float64]

STEP_M: Final = 250.0  # own choice: finer than layers that matter for the density
CELSIUS_ZERO_K: Final = 273.15  # exact, SI brochure 2.3.1
CLOUD_PCT: Final = 90.0  # own choice: sensors seldom reach 100 % in cloud
CLOUD_LEAST_M: Final = 100.0
"""Relative humidity above which there is taken to be cloud, and how thick it must be at least:
common practice, no source. Below freezing a cloud of ice can show less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """A profile of the ascent at rising heights above mean sea level, shapes (levels,).

    ``temperature_k`` and ``density_kgm3`` are None where the log has no temperature,
    ``pressure_pa`` and
    ``by_pressure_m``, the pressure altitude, where it has no pressure. ``tropopause_m`` and
    ``clouds`` (bottom, top) are None and empty where there is nothing to tell them from.
    """

    height_m: Array
    pressure_pa: Array | None
    by_pressure_m: Array | None
    temperature_k: Array | None
    density_kgm3: Array | None
    tropopause_m: float | None
    clouds: tuple[tuple[float, float], ...]


def air_of(log: SensorLog, altitude_m: Array) -> Air | None:
    """The air as met on the way up; None where the log goes up less than a kilometre."""
    known = np.isfinite(altitude_m)
    if not known.any():
        return None
    top = int(np.nanargmax(np.where(known, altitude_m, -np.inf)))
    first = int(np.nonzero(altitude_m[: top + 1] <= np.nanmin(altitude_m[: top + 1]) + 30.0)[0][-1])
    up = slice(first, top + 1)
    height = altitude_m[up]
    if not np.isfinite(height).any() or np.nanmax(height) - np.nanmin(height) < 1_000.0:
        return None
    levels = np.arange(np.nanmin(height) + STEP_M / 2.0, np.nanmax(height), STEP_M)
    pascals = _means(levels, height, log, "pressure_hpa", up)
    kelvins = _means(levels, height, log, "temperature_c", up)
    pressure = None if pascals is None else 100.0 * pascals
    temperature = None if kelvins is None else kelvins + CELSIUS_ZERO_K
    thick = None
    if pressure is not None and temperature is not None:
        thick = np.asarray(pressure / (GAS_CONSTANT_AIR_JKGK * temperature))
    return Air(
        height_m=levels,
        pressure_pa=pressure,
        by_pressure_m=None if pressure is None else pressure_altitude_m(pressure),
        temperature_k=temperature,
        density_kgm3=thick,
        tropopause_m=None if temperature is None else _tropopause(levels, temperature),
        clouds=tuple(_clouds(log, altitude_m, up)),
    )


def speed_ratio_beside_standard(air: Air) -> Array | None:
    """sqrt(density met / standard) at the levels: by so much a descent rate that was reduced with
    the standard atmosphere is too low."""
    if air.density_kgm3 is None:
        return None
    return np.sqrt(air.density_kgm3 / density(air.height_m))


def hydrostatic_off_m(air: Air) -> float | None:
    """By how much the heights that pressure and temperature make by the hypsometric equation
    differ at the top from those of the GPS: a check of both sensors."""
    if air.pressure_pa is None or air.temperature_k is None:
        return None
    known = np.isfinite(air.pressure_pa) & np.isfinite(air.temperature_k)
    if known.sum() < 10:
        return None
    p, t, z = air.pressure_pa[known], air.temperature_k[known], air.height_m[known]
    mean = (t[1:] + t[:-1]) / 2.0
    thick = GAS_CONSTANT_AIR_JKGK * mean / STANDARD_GRAVITY_MS2 * np.log(p[:-1] / p[1:])
    earth = 6_356_766.0
    made = earth * z[0] / (earth + z[0]) + float(thick.sum())
    return float(earth * made / (earth - made) - z[-1])


def _means(levels: Array, height: Array, log: SensorLog, name: str, up: slice) -> Array | None:
    """Means about the levels; NaN where there is nothing, None where the log has no such value."""
    if name not in log.values:
        return None
    values = log.values[name][up]
    low, high = POSSIBLE[name]
    good = np.isfinite(values) & np.isfinite(height) & (values >= low) & (values <= high)
    if good.sum() < 10:
        return None
    at = np.floor((height[good] - levels[0] + STEP_M / 2.0) / STEP_M).astype(int)
    inside = (at >= 0) & (at < len(levels))
    # Pressure is straight in its logarithm.
    taken = np.log(values[good][inside]) if name == "pressure_hpa" else values[good][inside]
    count = np.bincount(at[inside], minlength=len(levels))
    total = np.bincount(at[inside], taken, minlength=len(levels))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / count
    return np.exp(mean) if name == "pressure_hpa" else mean


def _tropopause(levels: Array, kelvins: Array) -> float | None:
    known = np.isfinite(kelvins)
    return tropopause_m(levels[known], kelvins[known]) if known.sum() > 10 else None


def _clouds(log: SensorLog, altitude_m: Array, up: slice) -> list[tuple[float, float]]:
    if "humidity" not in log.values:
        return []
    wet = log.values["humidity"][up] >= CLOUD_PCT
    height = altitude_m[up]
    found: list[tuple[float, float]] = []
    begins = np.nonzero(np.diff(np.concatenate([[False], wet, [False]]).astype(int)))[0]
    for begin, end in zip(begins[::2], begins[1::2], strict=True):
        bottom, top = float(height[begin]), float(height[end - 1])
        if found and bottom - found[-1][1] < CLOUD_LEAST_M:
            found[-1] = (found[-1][0], top)
        else:
            found.append((bottom, top))
    return [(low, high) for low, high in found if high - low >= CLOUD_LEAST_M]
