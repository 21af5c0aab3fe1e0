"""A fixed ladder of layers in height, and the air's share in a fall through each.

Layers sit at fixed heights above sea level, whatever the flight, so that random draws tied to a
layer stay with it from estimate to estimate.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundstation.physics.atmosphere import SEA_LEVEL_DENSITY_KGM3, density

Array = NDArray[np.float64]

STEP_M: Final = 200.0  # own choice: finer than the wind is measured, quick to sum
EDGE_M: Final = np.arange(-600.0, 60_000.0 + STEP_M, STEP_M)
MIDDLE_M: Final = (EDGE_M[1:] + EDGE_M[:-1]) / 2.0
COUNT: Final = len(MIDDLE_M)
ALL: Final = slice(0, COUNT)


def speed_ratio(altitude_m: ArrayLike) -> Array:
    """sqrt(rho0 / rho): how much faster the same thing falls up there than at sea level."""
    return np.sqrt(SEA_LEVEL_DENSITY_KGM3 / density(altitude_m))


def log_density_ratio(altitude_m: ArrayLike) -> Array:
    """ln(rho0 / rho)."""
    return np.asarray(np.log(SEA_LEVEL_DENSITY_KGM3 / density(altitude_m)))


SPEED_RATIO: Final = speed_ratio(MIDDLE_M)

_FINE_M = np.linspace(EDGE_M[0], EDGE_M[-1], 10 * COUNT + 1)
_FINE_RATE = 1.0 / speed_ratio(_FINE_M)
_FINE_FALL_M = np.concatenate(
    [[0.0], np.cumsum((_FINE_RATE[1:] + _FINE_RATE[:-1]) / 2.0 * np.diff(_FINE_M))]
)


def fall_path_m(altitude_m: ArrayLike) -> Array:
    """Integral of sqrt(rho / rho0) dz from the lowest edge up to here, in metres.

    A fall from a to b at the sea-level rate v takes (path(a) - path(b)) / v seconds: quasi-steady
    drag at constant drag coefficient (Knacke, NWC TP 6575, chapter 5).
    """
    return np.asarray(np.interp(np.asarray(altitude_m, dtype=float), _FINE_M, _FINE_FALL_M))


def shares_m(low_m: ArrayLike, high_m: ArrayLike, layers: slice = ALL) -> Array:
    """How many metres of each of ``layers`` lie between ``low_m`` and ``high_m``.

    Shape (..., layers) for inputs of shape (...).
    """
    low = np.asarray(low_m, dtype=float)[..., None]
    high = np.asarray(high_m, dtype=float)[..., None]
    shares = np.minimum(high, EDGE_M[1:][layers])
    shares -= np.maximum(low, EDGE_M[:-1][layers])
    return np.asarray(np.maximum(shares, 0.0, out=shares))


def layer_of(altitude_m: ArrayLike) -> NDArray[np.int64]:
    """Index of the layer that holds each height; the outermost ones hold all beyond them."""
    z = np.asarray(altitude_m, dtype=float)
    return np.asarray(np.clip(((z - EDGE_M[0]) // STEP_M).astype(np.int64), 0, COUNT - 1))
