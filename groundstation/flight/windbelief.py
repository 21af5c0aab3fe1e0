"""What is believed of the winds before the places of a flight speak: the forecast, else what is
usual, with how far either may be off."""

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
# latitudes (own reading of the soundings among the open data and of the recorded flights).
_USUAL_M: Final = (0.0, 3_000.0, 10_500.0, 16_000.0, 21_000.0, 32_000.0, 45_000.0)
_USUAL_MS: Final = (4.5, 8.0, 17.0, 11.0, 8.0, 12.0, 20.0)  # see above
USUAL_LENGTH_M: Final = 8_000.0  # own choice, as in those soundings: the jet stream is as deep
SHORT_SHARE: Final = 0.15  # own choice: layers that are thin beside the jet stream
SHORT_LENGTH_M: Final = 2_000.0  # own choice, see SHORT_SHARE


def belief(aloft: WindsAloft | None) -> WindBelief:
    """From a forecast or a sounding; without one, winds as they usually are."""
    apart = np.abs(MIDDLE_M[:, None] - MIDDLE_M[None, :])
    if aloft is not None:
        mean = np.stack([np.interp(MIDDLE_M, FINE_M, w) for w in (aloft.u_ms, aloft.v_ms)])
        return WindBelief(mean, aloft.sd_ms**2 * np.exp(-apart / FORECAST_LENGTH_M))
    usual = np.interp(MIDDLE_M, _USUAL_M, _USUAL_MS)
    alike = (1.0 - SHORT_SHARE) * np.exp(-apart / USUAL_LENGTH_M)
    alike = alike + SHORT_SHARE * np.exp(-apart / SHORT_LENGTH_M)
    return WindBelief(np.zeros((2, len(MIDDLE_M))), np.outer(usual, usual) * alike)
