"""Where the members of an ensemble of falls burst, before it was seen."""

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import FlightSettings
from groundstation.physics.draws import Draws, normal_cdf, normal_quantile
from groundstation.physics.layers import EDGE_M

Array = NDArray[np.float64]


def burst_heights(settings: FlightSettings, now_m: float, d: Draws) -> Array:
    """Burst heights from the plan, cut off below the height already reached."""
    plan = settings.plan
    beyond = (now_m - plan.burst_altitude_m) / plan.burst_altitude_sd_m
    reached = float(normal_cdf(np.array(beyond)))
    left = max(1.0 - reached, 1e-6)
    normal = normal_quantile(np.clip(reached + left * d.burst, 1e-9, 1.0 - 1e-7))
    height = plan.burst_altitude_m + plan.burst_altitude_sd_m * normal
    return np.clip(height, now_m + 50.0, float(EDGE_M[-1]) - 1_000.0)


def mirrored(top_m: Array) -> Array:
    """The mirrored members burst at the mirrored rank, so that pairs balance."""
    order = np.argsort(top_m)
    mirrored = np.empty_like(top_m)
    mirrored[order] = top_m[order[::-1]]
    return mirrored
