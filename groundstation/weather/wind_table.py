"""Winds aloft as every format gives them."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FASTEST_MS: Final = 150.0
"""No wind is faster: jet streams stay below 120 m/s (common practice, no source)."""

EARTH_M: Final = 6_356_766.0
"""Effective radius of the Earth for geopotential height (US Standard Atmosphere 1976)."""

Place = tuple[float, float]
"""Latitude and longitude in degrees."""


@dataclass(frozen=True, slots=True)
class WindTable:
    """Wind towards east and north in m/s at rising heights in metres; shapes (levels,).

    ``time_utc`` is when it was measured or is valid, ``place`` where (latitude and longitude in
    degrees), ``issued_utc`` when a forecast was made; None where the file does not say.
    ``spread_ms`` is how far the members of an ensemble lie apart there, per component.
    """

    height_m: Array
    east_ms: Array
    north_ms: Array
    time_utc: float | None
    place: tuple[float, float] | None = None
    issued_utc: float | None = None
    spread_ms: float | None = None
