"""The middle course of a flight, without a spread: where it is expected when."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import PlanSettings
from groundstation.physics.fall import FallModel
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import THINNESS, layer_of
from groundstation.physics.wind import WindsAloft
from groundstation.planning.settings import SiteSettings

Array = NDArray[np.float64]

STEP_M: Final = 100.0
FL600_M: Final = 18_288.0
"""60,000 ft; Annex 2 speaks of 18,000 m. Taken as geometric, which is within 200 m of the pressure
altitude of a usual day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Seconds after the launch, degrees, metres above the sea; shapes (n,)."""

    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    altitude_m: Array

    def reaches(self, altitude_m: float) -> tuple[float, float, float] | None:
        """(seconds, latitude, longitude) when it first is so high; None where it never is."""
        above = np.nonzero(self.altitude_m >= altitude_m)[0]
        if not len(above):
            return None
        n = int(above[0])
        return float(self.time_s[n]), float(self.latitude_deg[n]), float(self.longitude_deg[n])


def course(site: SiteSettings, plan: PlanSettings, aloft: WindsAloft) -> Course:
    """With the winds of ``aloft`` up and down, and the plan's rates."""
    up = np.arange(site.altitude_m, plan.burst_altitude_m, STEP_M)
    down = up[::-1]
    model = FallModel()
    if plan.descent_rate_ms is not None:
        model = FallModel.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)
    fall_ms = np.exp(model.mean(down)) * THINNESS[layer_of(down)]
    spent = np.concatenate([np.full(len(up), STEP_M / plan.ascent_rate_ms), STEP_M / fall_ms])
    heights = np.concatenate([up, down])
    at = layer_of(heights)
    plane = Plane(site.latitude_deg, site.longitude_deg)
    spent[0] = 0.0
    lat, lon = plane.to_latlon(np.cumsum(aloft.u_ms[at] * spent), np.cumsum(aloft.v_ms[at] * spent))
    return Course(time_s=np.cumsum(spent), latitude_deg=lat, longitude_deg=lon, altitude_m=heights)
