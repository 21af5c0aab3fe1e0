"""The tropopause in a profile of temperature.

By the definition of WMO (1957; International Meteorological Vocabulary, WMO-No. 182): the lowest
level at which the lapse rate falls to 2 K/km or less, provided that the average lapse rate between
this level and all higher levels within 2 km does not exceed 2 K/km.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LAPSE_KM: Final = 2.0  # WMO definition, see above
WITHIN_M: Final = 2_000.0  # WMO definition, see above
SLOPE_M: Final = 100.0
"""Heights nearer than this make no lapse rate of their own."""


def tropopause_m(height_m: Array, temperature_k: Array, lowest_m: float = 5_500.0) -> float | None:
    """The height of the first tropopause, or None where the profile shows none.

    ``height_m`` (n,) rises; ``lowest_m`` is where to begin, the standard height of 500 hPa unless
    given: below it an inversion is none, as services that report tropopauses have it (common
    practice).
    """
    heights, kelvins = _thinned(height_m, temperature_k)
    for n in range(len(heights) - 1):
        if heights[n] < lowest_m:
            continue
        if heights[-1] < heights[n] + WITHIN_M:
            return None
        if _lapse(heights, kelvins, n, np.array([n + 1]))[0] > LAPSE_KM:
            continue
        above = np.nonzero((heights > heights[n]) & (heights <= heights[n] + WITHIN_M))[0]
        end = heights[n] + WITHIN_M
        at_end = (kelvins[n] - np.interp(end, heights, kelvins)) * 1_000.0 / WITHIN_M
        if at_end <= LAPSE_KM and np.all(_lapse(heights, kelvins, n, above) <= LAPSE_KM):
            return float(heights[n])
    return None


def _lapse(heights: Array, kelvins: Array, n: int, above: NDArray[np.intp]) -> Array:
    """Kelvin a kilometre from level ``n`` to those ``above``."""
    return np.asarray(1_000.0 * (kelvins[n] - kelvins[above]) / (heights[above] - heights[n]))


def _thinned(height_m: Array, temperature_k: Array) -> tuple[Array, Array]:
    """Means over ``SLOPE_M`` where levels lie closer: a fast sensor's noise has no lapse rate."""
    step = np.floor(height_m / SLOPE_M).astype(int)
    _, of = np.unique(step, return_inverse=True)
    count = np.bincount(of)
    return np.bincount(of, height_m) / count, np.bincount(of, temperature_k) / count
