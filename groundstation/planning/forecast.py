"""Where it will land, before it is let go: the ensemble of the flight, begun at the site.

The forecast is what the station would estimate a moment after the launch, with the plan's burst,
ascent and descent, and with winds aloft from a forecast or a sounding. Those get wider with the
time between them and the launch.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import OutOfModelRangeError
from groundstation.flight.estimate import Scatter, estimate_and_points
from groundstation.flight.settings import FlightSettings, PlannedLanding, PlanSettings, Terrain
from groundstation.flight.state import FlightState, Motion
from groundstation.flight.track import Point, Track
from groundstation.language.catalogue import _
from groundstation.language.forecast_runs import with_runs
from groundstation.physics.atmosphere import SEA_LEVEL_DENSITY_KGM3
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import shares_m
from groundstation.physics.wind import WindsAloft
from groundstation.planning.lessons_file import past_of
from groundstation.planning.past_flights import narrowed
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan, planned
from groundstation.records import Fix, Landing, Phase

Array = NDArray[np.float64]

MEMBERS: Final = 1_000  # own choice: a share of 10 % is then known to 1 %
FIRST_S: Final = 60.0  # own choice: a minute after the launch it is under way


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What comes of a launch at ``launch_utc``; ``scatter`` are the members, ``basis`` says what it
    rests on, in the language that is spoken."""

    launch_utc: float
    landing: Landing
    scatter: Scatter
    basis: str


def at_sea_level(plan: Plan, rate_ms: float) -> float:
    """A rate of fall at the site, reduced to sea level."""
    return rate_ms * math.sqrt(plan.balloon.air.density_kgm3 / SEA_LEVEL_DENSITY_KGM3)


def plan_settings(plan: Plan, landing: PlannedLanding | None = None) -> PlanSettings:
    """What the running station expects of such a flight; its descent rate is that at sea level."""
    return PlanSettings(
        burst_altitude_m=plan.burst_altitude_m.value,
        burst_altitude_sd_m=max(plan.burst_altitude_m.sd, 300.0),
        ascent_rate_ms=plan.ascent_rate_ms.value,
        ascent_rate_sd_ms=max(plan.ascent_rate_ms.sd, 0.2),
        descent_rate_ms=at_sea_level(plan, plan.descent_rate_ms.value),
        descent_rate_sd_ms=max(at_sea_level(plan, plan.descent_rate_ms.sd), 0.3),
        landing=landing,
    )


def expected(
    flight: FlightFile, aloft: WindsAloft | None = None, launch_utc: float = 0.0
) -> PlanSettings:
    """What the running station expects of a flight file and its lessons: with the landing that it
    names, else one forecast with the winds ``aloft``, else with none. Raises
    ``GroundstationError``."""
    settings = narrowed(plan_settings(planned(flight), flight.landing), past_of(flight))
    if flight.landing is not None or aloft is None:
        return settings
    landing = forecast(flight.name, flight.site, settings, aloft, launch_utc).landing
    return replace(
        settings,
        landing=PlannedLanding(
            latitude_deg=landing.latitude_deg,
            longitude_deg=landing.longitude_deg,
            radius_90_m=landing.radius_90_m,
        ),
    )


def forecast(
    name: str,
    site: SiteSettings,
    plan: PlanSettings,
    aloft: WindsAloft,
    launch_utc: float,
    terrain: Terrain | None = None,
    members: int = MEMBERS,
    shown: Shown = METRIC,
) -> Forecast:
    """Fly it from the site. Raises ``OutOfModelRangeError`` for winds that end far too low."""
    if aloft.highest_m < 0.6 * plan.burst_altitude_m:
        raise OutOfModelRangeError(
            f"the winds end at {aloft.highest_m / 1000.0:.1f} km and the flight goes to"
            f" {plan.burst_altitude_m / 1000.0:.1f} km; get some that reach higher"
        )
    settings = FlightSettings(
        payload=name,
        trackers=(),
        plan=plan,
        ground_m=site.altitude_m,
        terrain=terrain,
        aloft=aloft,
        members=members,
    )
    state = _just_launched(name, site, plan, aloft, launch_utc)
    both = estimate_and_points(settings, state)
    # A launch and a fix after it are enough.
    assert both is not None
    landing, scatter = both
    basis = _(
        "winds of {name}, off by {wind} in each component; burst, ascent and descent as planned",
        name=with_runs(aloft.name),
        wind=shown.text("wind", aloft.sd_ms),
    )
    if terrain is not None:
        basis += "; " + _("terrain")
    return Forecast(launch_utc=launch_utc, landing=landing, scatter=scatter, basis=basis)


def _just_launched(
    name: str, site: SiteSettings, plan: PlanSettings, aloft: WindsAloft, launch_utc: float
) -> FlightState:
    plane = Plane(site.latitude_deg, site.longitude_deg)
    climbed = plan.ascent_rate_ms * FIRST_S
    low = np.array([site.altitude_m])
    u, v = _mean_wind(aloft, low, low + climbed)
    lat, lon = plane.to_latlon(u * FIRST_S, v * FIRST_S)
    points = (
        Point(launch_utc, site.latitude_deg, site.longitude_deg, site.altitude_m),
        Point(launch_utc + FIRST_S, float(lat), float(lon), site.altitude_m + climbed),
    )
    first, last = (
        Fix(
            payload=name,
            tracker="",
            source="",
            time_utc=point.time_utc,
            received_utc=point.time_utc,
            latitude_deg=point.latitude_deg,
            longitude_deg=point.longitude_deg,
            altitude_m=point.altitude_m,
        )
        for point in points
    )
    motion = Motion(
        phase=Phase.ASCENT,
        since_utc=launch_utc,
        first=first,
        last=last,
        highest=last,
        launch=first,
        window=(first, last),
        track=Track(settled=points[:1], newest=points[1]),
    )
    return FlightState(payload=name, now_utc=launch_utc + FIRST_S, motion=motion)


def _mean_wind(aloft: WindsAloft, low_m: Array, high_m: Array) -> tuple[float, float]:
    shares = shares_m(low_m, high_m)
    shares = shares / shares.sum(axis=-1, keepdims=True)
    return float((shares @ aloft.u_ms)[0]), float((shares @ aloft.v_ms)[0])
