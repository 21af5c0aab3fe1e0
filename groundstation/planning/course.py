"""The middle course of a flight, without a spread: where it is expected when, and the winds that it
meets on the way."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import PlanSettings
from groundstation.physics.fall import STEADY
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import MIDDLE_M, layer_of, speed_ratio
from groundstation.physics.wind import WindsAloft
from groundstation.planning.settings import SiteSettings
from groundstation.planning.windfield import WindField

Array = NDArray[np.float64]

STEP_M: Final = 100.0  # own choice: half a layer
FL600_M: Final = 18_288.0
"""60,000 ft; Annex 2 speaks of 18,000 m. Taken as geometric, which is within 200 m of the pressure
altitude of a usual day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Seconds after the launch, degrees, metres above the sea; shapes (n,). ``top`` is the index of
    the burst. ``met`` are the winds along the way, those of the fall in its ``fall``."""

    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    altitude_m: Array
    top: int
    met: WindsAloft

    def reaches(self, altitude_m: float) -> tuple[float, float, float] | None:
        """(seconds, latitude, longitude) when it first is so high; None where it never is."""
        above = np.nonzero(self.altitude_m >= altitude_m)[0]
        return self._at(int(above[0])) if len(above) else None

    @property
    def end(self) -> tuple[float, float, float]:
        """(seconds, latitude, longitude) of the landing."""
        return self._at(-1)

    def _at(self, n: int) -> tuple[float, float, float]:
        return float(self.time_s[n]), float(self.latitude_deg[n]), float(self.longitude_deg[n])


def course(
    site: SiteSettings,
    plan: PlanSettings,
    winds: WindsAloft | WindField,
    launch_utc: float = 0.0,
) -> Course:
    """With the plan's rates, and at each height the wind of that time and place. It falls to the
    height of the site. Raises ``OutOfModelRangeError`` for winds of another day."""
    field = winds if isinstance(winds, WindField) else WindField.steady(winds)
    count = max(round((plan.burst_altitude_m - site.altitude_m) / STEP_M), 1)
    up = np.linspace(site.altitude_m, plan.burst_altitude_m, count + 1)
    heights = np.concatenate([up, up[-2::-1]])
    middle = (heights[1:] + heights[:-1]) / 2.0
    down = middle[count:]
    model = STEADY
    if plan.descent_rate_ms is not None:
        model = STEADY.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)
    descent_rate_ms = np.exp(model.mean(down)) * speed_ratio(down)
    step_m = np.abs(np.diff(heights))
    spent = step_m / np.concatenate([np.full(count, plan.ascent_rate_ms), descent_rate_ms])
    time = np.concatenate([[0.0], np.cumsum(spent)])
    plane = Plane(site.latitude_deg, site.longitude_deg)
    x, y = np.zeros(len(heights)), np.zeros(len(heights))
    wind = np.zeros((2, len(middle)))
    aloft = field.at(launch_utc, (site.latitude_deg, site.longitude_deg))
    first, burst = aloft, aloft
    for n, height in enumerate(middle):
        if field.changes:
            lat, lon = plane.to_latlon(x[n], y[n])
            # The middle of the step, by the wind of the one before.
            at = launch_utc + (time[n] + time[n + 1]) / 2.0
            aloft = field.at(at, (float(lat), float(lon)))
            burst = aloft if n < count else burst
        for k, of in enumerate((aloft.u_ms, aloft.v_ms)):
            wind[k, n] = np.interp(height, MIDDLE_M, of)
        x[n + 1] = x[n] + wind[0, n] * spent[n]
        y[n + 1] = y[n] + wind[1, n] * spent[n]
    lats, lons = plane.to_latlon(x, y)
    return Course(
        time_s=time,
        latitude_deg=np.asarray(lats),
        longitude_deg=np.asarray(lons),
        altitude_m=heights,
        top=count,
        met=_met(first, burst, middle, wind, count) if field.changes else first,
    )


def _met(
    first: WindsAloft, burst: WindsAloft, middle_m: Array, wind: Array, count: int
) -> WindsAloft:
    """What was met, layer by layer: above the burst as it was there then, below the site as at
    first."""
    top = int(layer_of(middle_m[count - 1]))
    above = np.arange(len(MIDDLE_M)) > top
    ways = []
    for heights, of in (
        (middle_m[:count], wind[:, :count]),
        (middle_m[count:][::-1], wind[:, count:][:, ::-1]),
    ):
        u, v = (np.interp(MIDDLE_M, heights, component) for component in of)
        ways.append((np.where(above, burst.u_ms, u), np.where(above, burst.v_ms, v)))
    (u, v), fall = ways
    return replace(
        first, u_ms=u, v_ms=v, fall=fall, lowest_m=max(first.lowest_m, burst.lowest_m),
        highest_m=min(first.highest_m, burst.highest_m), sd_ms=max(first.sd_ms, burst.sd_ms),
    )  # fmt: skip
