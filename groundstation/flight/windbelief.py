"""What is believed of the winds before the places of a flight speak: the forecast, else what is
usual, with how far either may be off."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.courses import MIDDLE_M
from groundstation.physics.drifts import WindBelief
from groundstation.physics.layers import MIDDLE_M as FINE_M
from groundstation.physics.wind import WindsAloft

Array = NDArray[np.float64]

FORECAST_LENGTH_M: Final = 3_000.0
"""Height in which errors of a forecast are alike (own choice, of the order of published ones)."""

# Winds of which nothing is known, a component: as strong as they usually are by height in middle
# latitudes. Up to 16 km the root of the mean square of 16 recorded flights and three radiosondes
# (4 m/s near the ground, 8 at 3 km, 14 at 6, 27 at 10.5, 13 at 16), but for the jet, which was
# stronger than it is in a year. Above, summer is what those of April to August had (4 m/s at 21 km,
# 6 at 29); winter, with its westerlies, is from memory of climatologies (Fleming et al. 1990, Adv.
# Space Res. 10), as no such flight is among them.
_USUAL_M: Final = (0.0, 3_000.0, 6_000.0, 10_500.0, 16_000.0, 21_000.0, 32_000.0, 45_000.0)
_SUMMER_MS: Final = (4.5, 8.0, 13.0, 22.0, 12.0, 4.0, 7.0, 15.0)  # see above
_WINTER_MS: Final = (4.5, 8.0, 13.0, 22.0, 13.0, 11.0, 17.0, 25.0)  # see above
# By day of the year in the north, how much of winter's mean square it is: the westerlies break down
# in March and come back in November (from memory of monthly means at 45 degrees and 10 hPa, in the
# same climatology: 22 m/s in January, 11 in March, 5 in April, -11 in July, 6 in October).
_DAY: Final = (0.0, 15.0, 45.0, 75.0, 105.0, 288.0, 319.0, 350.0, 366.0)
_WINTER: Final = (1.0, 1.0, 0.6, 0.25, 0.0, 0.0, 0.4, 0.9, 1.0)  # see _DAY
DAY_S, YEAR_DAYS = 86_400.0, 365.2425  # the Gregorian calendar's mean
TROPICS_DEG: Final = 25.0  # own choice: nearer to the equator neither season is
# How alike they are over height, by the differences in the same profiles: 1.3 to 3 m/s over 500 m,
# 2 to 6 over 1 km, 4 to 13 over 4 km, most of it in layers as deep as the jet stream, which turn
# smoothly (so a Matern kernel of 3/2 and no exponential one, which would have 5 to 6 m/s over
# 500 m), and a little in thin ones, alike strong at any height.
USUAL_LENGTH_M: Final = 7_000.0
THIN_MS: Final = 1.8  # see USUAL_LENGTH_M
THIN_LENGTH_M: Final = 1_000.0  # see USUAL_LENGTH_M


def belief(aloft: WindsAloft | None, utc: float, latitude_deg: float) -> WindBelief:
    """From a forecast or a sounding; without one, winds as they usually are then and there."""
    apart = np.abs(MIDDLE_M[:, None] - MIDDLE_M[None, :])
    if aloft is not None:
        mean = np.stack([np.interp(MIDDLE_M, FINE_M, w) for w in (aloft.u_ms, aloft.v_ms)])
        return WindBelief(mean, aloft.sd_ms**2 * np.exp(-apart / FORECAST_LENGTH_M))
    usual = _usual_ms(utc, latitude_deg)
    way = math.sqrt(3.0) * apart / USUAL_LENGTH_M
    deep = np.outer(usual, usual) * (1.0 + way) * np.exp(-way)
    thin = THIN_MS**2 * np.exp(-apart / THIN_LENGTH_M)
    return WindBelief(np.zeros((2, len(MIDDLE_M))), deep + thin)


def _usual_ms(utc: float, latitude_deg: float) -> Array:
    day = utc / DAY_S % YEAR_DAYS
    winter = float(
        np.interp((day + (latitude_deg < 0.0) * YEAR_DAYS / 2.0) % YEAR_DAYS, _DAY, _WINTER)
    )
    if abs(latitude_deg) < TROPICS_DEG:
        winter = 0.5
    strong, weak = (np.interp(MIDDLE_M, _USUAL_M, ms) for ms in (_WINTER_MS, _SUMMER_MS))
    return np.sqrt(winter * strong**2 + (1.0 - winter) * weak**2)
