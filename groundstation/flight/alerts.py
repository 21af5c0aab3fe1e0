"""What is worth telling, raised once an occasion. The words are made elsewhere."""

from dataclasses import replace
from math import inf

import numpy as np

from groundstation.alert_records import (
    Alert,
    AlertKey,
    Burst,
    ClimbingFast,
    ClimbingSlowly,
    Facts,
    FallingFast,
    FallingSlowly,
    Floating,
    Landed,
    LandingMoved,
    Launched,
    MayLandInside,
    OffPlan,
    ShouldBeDown,
    SignalLoss,
    StillClimbing,
    TouchdownSoon,
)
from groundstation.flight.horizon import signal_loss
from groundstation.flight.phases import looks_falling
from groundstation.flight.progress import TOLD_FROM
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.geodesy import Plane, distance_bearing, distance_m
from groundstation.physics.region import away_m
from groundstation.records import AlertKind, Landing, Phase, Urgency

# Where no plan says what to expect: two standard deviations around the median of real flights, a
# lognormal of 7.8 m/s with sd 0.34 at sea level (the project's study of real flights).
USUAL_SLOWEST_MS, USUAL_FASTEST_MS = 3.95, 15.4
PLAN_SHARE = 0.4
JUDGED_AFTER_S = 120.0
JUDGED_AFTER_M = 3_000.0
STILL_SDS = 2.0
DOWN_AFTER_S = 300.0
CLIMB_JUDGED_M = 3_000.0
CLIMB_SHARE = 0.25
OFF_PLAN_FROM = 2.0 / 3.0
ASCENT_FACTOR = 3.0
ASCENT_EVERY_S = 1_800.0

URGENCY = {
    AlertKind.BURST: Urgency.HIGH,
    AlertKind.FALLING_FAST: Urgency.HIGH,
    AlertKind.TOUCHDOWN_SOON: Urgency.HIGH,
    AlertKind.KEEP_OUT: Urgency.HIGH,
    AlertKind.MOVED_AFTER_LANDING: Urgency.HIGH,
}
USEFUL_S = {
    AlertKind.LANDING_MOVED: 1_800.0,
    AlertKind.TOUCHDOWN_SOON: 900.0,
    AlertKind.SILENT: 3_600.0,
}


def raised(
    state: FlightState,
    facts: Facts,
    occasion: str = "1",
    *,
    urgency: Urgency | None = None,
    at_utc: float | None = None,
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Raise an alert, unless this occasion was told already."""
    first = state.motion.first
    key = AlertKey(
        payload=state.payload,
        begun_utc=round(first.time_utc if first else 0.0),
        kind=facts.kind,
        occasion=occasion,
    )
    if key in state.said.keys:
        return state, ()
    alert = Alert(
        key=key,
        time_utc=state.now_utc if at_utc is None else at_utc,
        phase=state.motion.phase,
        facts=facts,
        urgency=urgency or URGENCY.get(facts.kind, Urgency.NORMAL),
        fix=state.motion.last,
        thread="landing" if facts.kind is AlertKind.LANDING_MOVED else "",
        useful_for_s=USEFUL_S.get(facts.kind, 6 * 3600.0),
    )
    said = replace(state.said, keys=state.said.keys | {key})
    return replace(state, said=said), (alert,)


def phase_alerts(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """The alert that goes with the phase just entered."""
    motion = state.motion
    match motion.phase:
        case Phase.ASCENT if motion.window:
            return raised(state, Launched())
        case Phase.FLOAT:
            height = motion.last.altitude_m if motion.last else None
            return raised(state, Floating(altitude_m=height, landing=state.landing))
        case Phase.DESCENT:
            facts = Burst(
                altitude_m=None if motion.burst is None else motion.burst.altitude_m,
                planned_m=settings.plan.burst_altitude_m if settings.plan.made else None,
                landing=state.landing,
            )
            return raised(state, facts)
        case Phase.LANDED:
            return raised(state, Landed(landing=state.landing))
        case _:
            return state, ()


def launched_unseen(state: FlightState) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told with the likely time, which takes an estimate, where no height shows the launch."""
    landing = state.landing
    launch = None if landing is None or landing.progress is None else landing.progress.launch_utc
    if launch is None or state.motion.phase is not Phase.ASCENT:
        return state, ()
    facts = Launched(ago_s=max(state.now_utc - launch, 0.0))
    return raised(state, facts, f"{state.motion.since_utc:.0f}")


def burst_unseen(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """A burst that the chances tell, with the span of when."""
    landing = state.landing
    if landing is None or landing.progress is None or landing.progress.burst_90_utc is None:
        return state, ()
    early, late = landing.progress.burst_90_utc
    facts = Burst(
        altitude_m=None,
        planned_m=settings.plan.burst_altitude_m if settings.plan.made else None,
        chance=landing.progress.chance.burst,
        ago_90_s=(max(state.now_utc - early, 0.0), max(state.now_utc - late, 0.0)),
        landing=landing,
    )
    return raised(state, facts)


def in_flight(state: FlightState) -> Landing | None:
    """The landing estimate, while it flies."""
    flies = state.motion.phase in (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)
    return state.landing if flies else None


def may_land_inside(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Areas in which it may well come down, each once."""
    landing = in_flight(state)
    told: tuple[Alert, ...] = ()
    for name, share in () if landing is None else landing.inside:
        if share < settings.alerts.keep_out:
            continue
        state, alert = raised(state, MayLandInside(area=name, share=share, landing=landing), name)
        told += alert
    return state, told


def off_plan(settings: FlightSettings, state: FlightState) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the region of the forecast and that of the estimate no longer touch. Not low
    in the climb, when the forecast knows more of the winds above than the flight does."""
    planned, last, landing = settings.plan.landing, state.motion.last, in_flight(state)
    if landing is None or planned is None or last is None or last.altitude_m is None:
        return state, ()
    climbing = state.motion.phase is Phase.ASCENT
    if climbing and last.altitude_m < OFF_PLAN_FROM * settings.plan.burst_altitude_m:
        return state, ()
    away, bearing = distance_bearing(
        planned.latitude_deg, planned.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    plane = Plane(planned.latitude_deg, planned.longitude_deg)
    rings = [plane.to_xy(*np.array(ring).T) for ring in landing.region_90]
    if away < settings.alerts.moved_m or away_m(0.0, 0.0, rings) < planned.radius_90_m:
        return state, ()
    return raised(state, OffPlan(off_m=away, bearing_deg=bearing, landing=landing))


def landing_moved(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """What a new landing estimate says: a point that moved."""
    landing, point = in_flight(state), state.said.point
    if landing is None:
        return state, ()
    falling = state.motion.phase is Phase.DESCENT
    if looks_falling(state.motion) and not falling:
        return state, ()  # if it is one, the next fix tells of the burst
    if point is None or (falling and point.phase is not Phase.DESCENT):
        said = replace(state.said, point=landing, point_utc=landing.time_utc)
        return replace(state, said=said), ()
    alerts = settings.alerts
    factor = 1.0 if falling else ASCENT_FACTOR
    every = alerts.moved_every_s if falling else max(alerts.moved_every_s, ASCENT_EVERY_S)
    if landing.time_utc - state.said.point_utc < every:
        return state, ()
    moved = distance_m(
        point.latitude_deg, point.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    if moved < factor * alerts.moved_m or moved < factor * alerts.moved_share * landing.radius_50_m:
        return state, ()
    away, bearing = distance_bearing(
        point.latitude_deg, point.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    state = replace(state, said=replace(state.said, point=landing, point_utc=landing.time_utc))
    facts = LandingMoved(moved_m=away, bearing_deg=bearing, landing=landing)
    return raised(state, facts, f"{landing.evidence_utc:.0f}")


def fall_unlike_plan(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the fall is much faster or slower than planned, or than is usual."""
    landing, burst, last = in_flight(state), state.motion.burst, state.motion.last
    if landing is None or burst is None or last is None or last.altitude_m is None:
        return state, ()
    if (
        last.time_utc - burst.time_utc < JUDGED_AFTER_S
        or burst.altitude_m - last.altitude_m < JUDGED_AFTER_M
    ):
        return state, ()
    rate, planned = landing.descent_rate_ms, settings.plan.descent_rate_ms
    fast, slow = USUAL_FASTEST_MS, USUAL_SLOWEST_MS
    if planned is not None:
        margin = max(PLAN_SHARE * planned, 2.0 * settings.plan.descent_rate_sd_ms)
        fast, slow = planned + margin, planned - margin
    if slow <= rate <= fast:
        return state, ()
    kind = FallingFast if rate > fast else FallingSlowly
    return raised(state, kind(descent_rate_ms=rate, planned_ms=planned, landing=landing))


def climb_unlike_plan(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when it has climbed for a while, much faster or slower than planned."""
    plan, launch, last = settings.plan, state.motion.launch, state.motion.last
    if state.motion.phase is not Phase.ASCENT or not plan.made or launch is None or last is None:
        return state, ()
    if launch.altitude_m is None or last.altitude_m is None:
        return state, ()
    climbed, took = last.altitude_m - launch.altitude_m, last.time_utc - launch.time_utc
    margin = max(2.0 * plan.ascent_rate_sd_ms, CLIMB_SHARE * plan.ascent_rate_ms)
    fast, slow = plan.ascent_rate_ms + margin, plan.ascent_rate_ms - margin
    due = CLIMB_JUDGED_M / slow if slow > 0.0 else inf
    if climbed < CLIMB_JUDGED_M and took < due:
        return state, ()
    rate = climbed / took
    if slow <= rate <= fast:
        return state, ()
    kind = ClimbingFast if rate > fast else ClimbingSlowly
    planned = plan.ascent_rate_ms
    return raised(state, kind(ascent_rate_ms=rate, planned_ms=planned, landing=state.landing))


def still_climbing(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when it is far above where it should have burst."""
    plan, last = settings.plan, state.motion.last
    if state.motion.phase is not Phase.ASCENT or last is None or last.altitude_m is None:
        return state, ()
    if last.altitude_m <= plan.burst_altitude_m + STILL_SDS * plan.burst_altitude_sd_m:
        return state, ()
    return raised(state, StillClimbing(altitude_m=last.altitude_m, landing=state.landing))


def should_be_down(
    state: FlightState, flight_now_utc: float, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the touchdown is surely over and nothing came from the ground."""
    landing = state.landing
    if landing is None or state.motion.phase not in (Phase.ASCENT, Phase.DESCENT):
        return state, ()
    progress = landing.progress
    if progress is not None and progress.burst_90_utc is not None:
        if progress.chance.landed < TOLD_FROM:
            return state, ()
        facts = ShouldBeDown(ago_s=max(flight_now_utc - landing.eta_utc, 0.0), landing=landing)
        return raised(state, facts, at_utc=at_utc)
    if flight_now_utc <= landing.eta_90_utc[1] + DOWN_AFTER_S:
        return state, ()
    return raised(state, ShouldBeDown(landing=landing), at_utc=at_utc)


def touchdown_soon(
    settings: FlightSettings, state: FlightState, flight_now_utc: float, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the expected touchdown is near. Quick: asked at every tick."""
    landing = state.landing
    if landing is None or landing.phase is not Phase.DESCENT:
        return state, ()
    left = landing.eta_utc - flight_now_utc
    if state.motion.phase is not Phase.DESCENT or not 0.0 < left < settings.alerts.touchdown_soon_s:
        return state, ()
    loss = signal_loss(settings, landing)
    lost = None
    if loss is not None and loss.time_utc > flight_now_utc:
        lost = SignalLoss(agl_m=loss.agl_m, in_s=loss.time_utc - flight_now_utc)
    facts = TouchdownSoon(remaining_s=left, loss=lost, landing=landing)
    return raised(state, facts, at_utc=at_utc)
