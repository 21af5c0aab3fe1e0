"""What is worth telling, raised once an occasion. The words are made elsewhere."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from math import inf

import numpy as np

from groundstation.flight.horizon import signal_loss
from groundstation.flight.phases import looks_falling
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.geodesy import Plane, distance_bearing, distance_m
from groundstation.physics.region import away_m
from groundstation.records import Alert, AlertKind, Landing, Phase, Urgency

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
    kind: AlertKind,
    occasion: str,
    *,
    figures: Mapping[str, float] | None = None,
    note: str = "",
    urgency: Urgency | None = None,
    at_utc: float | None = None,
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Raise an alert, unless this occasion was told already."""
    first = state.motion.first
    begun = datetime.fromtimestamp(round(first.time_utc if first else 0.0), UTC)
    key = f"{state.payload}/{begun:%Y%m%dT%H%M%SZ}/{kind}/{occasion}"
    if key in state.said.keys:
        return state, ()
    alert = Alert(
        payload=state.payload,
        kind=kind,
        key=key,
        time_utc=state.now_utc if at_utc is None else at_utc,
        phase=state.motion.phase,
        urgency=urgency or URGENCY.get(kind, Urgency.NORMAL),
        fix=state.motion.last,
        landing=state.landing,
        figures=dict(figures or {}),
        note=note,
        thread="landing" if kind is AlertKind.LANDING_MOVED else "",
        useful_for_s=USEFUL_S.get(kind, 6 * 3600.0),
    )
    said = replace(state.said, keys=state.said.keys | {key})
    return replace(state, said=said), (alert,)


def phase_alerts(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """The alert that goes with the phase just entered."""
    motion = state.motion
    match motion.phase:
        case Phase.ASCENT:
            return raised(state, AlertKind.LAUNCHED, "1")
        case Phase.FLOAT:
            height = motion.last.altitude_m if motion.last else None
            figures = {} if height is None else {"float_altitude_m": height}
            return raised(state, AlertKind.FLOATING, "1", figures=figures)
        case Phase.DESCENT:
            burst = motion.burst
            figures = {} if burst is None else {"burst_altitude_m": burst.altitude_m}
            if settings.plan.made:
                figures["planned_burst_m"] = settings.plan.burst_altitude_m
            return raised(state, AlertKind.BURST, "1", figures=figures)
        case Phase.LANDED:
            return raised(state, AlertKind.LANDED, "1")
        case _:
            return state, ()


def estimate_alerts(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """What a new landing estimate says: a point that moved, a fall that is not as planned."""
    landing = state.landing
    if landing is None or state.motion.phase not in (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT):
        return state, ()
    state, moved = _moved(settings, state, landing)
    state, rate = _rate(settings, state, landing)
    state, kept_out = _kept_out(settings, state, landing)
    state, off = _off_plan(settings, state, landing)
    return state, (*moved, *rate, *kept_out, *off)


def _kept_out(
    settings: FlightSettings, state: FlightState, landing: Landing
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Areas in which it may well come down, each once."""
    told: tuple[Alert, ...] = ()
    for name, share in landing.inside:
        if share < settings.alerts.keep_out:
            continue
        state, one = raised(state, AlertKind.KEEP_OUT, name, figures={"share": share}, note=name)
        told += one
    return state, told


def _off_plan(
    settings: FlightSettings, state: FlightState, landing: Landing
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the region of the forecast and that of the estimate no longer touch. Not low
    in the climb, when the forecast knows more of the winds above than the flight does."""
    planned, last = settings.plan.landing, state.motion.last
    if planned is None or last is None or last.altitude_m is None:
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
    figures = {"off_m": away, "bearing_deg": bearing}
    return raised(state, AlertKind.OFF_PLAN, "1", figures=figures)


def _moved(
    settings: FlightSettings, state: FlightState, landing: Landing
) -> tuple[FlightState, tuple[Alert, ...]]:
    point = state.said.point
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
    return raised(
        state,
        AlertKind.LANDING_MOVED,
        f"{landing.evidence_utc:.0f}",
        figures={"moved_m": away, "bearing_deg": bearing},
    )


def _rate(
    settings: FlightSettings, state: FlightState, landing: Landing
) -> tuple[FlightState, tuple[Alert, ...]]:
    burst, last = state.motion.burst, state.motion.last
    if burst is None or last is None or last.altitude_m is None:
        return state, ()
    if (
        last.time_utc - burst.time_utc < JUDGED_AFTER_S
        or burst.altitude_m - last.altitude_m < JUDGED_AFTER_M
    ):
        return state, ()
    rate, planned = landing.descent_rate_ms, settings.plan.descent_rate_ms
    fast, slow = USUAL_FASTEST_MS, USUAL_SLOWEST_MS
    figures = {"descent_rate_ms": rate}
    if planned is not None:
        margin = max(PLAN_SHARE * planned, 2.0 * settings.plan.descent_rate_sd_ms)
        fast, slow = planned + margin, planned - margin
        figures["planned_descent_rate_ms"] = planned
    if rate > fast:
        return raised(state, AlertKind.FALLING_FAST, "1", figures=figures)
    if rate < slow:
        return raised(state, AlertKind.FALLING_SLOWLY, "1", figures=figures)
    return state, ()


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
    figures = {"ascent_rate_ms": rate, "planned_ascent_rate_ms": plan.ascent_rate_ms}
    if rate > fast:
        return raised(state, AlertKind.CLIMBING_FAST, "1", figures=figures)
    if rate < slow:
        return raised(state, AlertKind.CLIMBING_SLOWLY, "1", figures=figures)
    return state, ()


def still_climbing(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when it is far above where it should have burst."""
    plan, last = settings.plan, state.motion.last
    if state.motion.phase is not Phase.ASCENT or last is None or last.altitude_m is None:
        return state, ()
    if last.altitude_m <= plan.burst_altitude_m + STILL_SDS * plan.burst_altitude_sd_m:
        return state, ()
    return raised(state, AlertKind.STILL_CLIMBING, "1", figures={"altitude_m": last.altitude_m})


def should_be_down(
    state: FlightState, flight_now_utc: float, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the touchdown is surely over and nothing came from the ground."""
    landing = state.landing
    if landing is None or state.motion.phase not in (Phase.ASCENT, Phase.DESCENT):
        return state, ()
    if flight_now_utc <= landing.eta_90_utc[1] + DOWN_AFTER_S:
        return state, ()
    return raised(state, AlertKind.SHOULD_BE_DOWN, "1", at_utc=at_utc)


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
    figures = {"remaining_s": left}
    loss = signal_loss(settings, landing)
    if loss is not None and loss.time_utc > flight_now_utc:
        figures |= {"lost_agl_m": loss.agl_m, "lost_in_s": loss.time_utc - flight_now_utc}
    return raised(state, AlertKind.TOUCHDOWN_SOON, "1", figures=figures, at_utc=at_utc)
