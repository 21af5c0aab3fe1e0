"""What is worth telling, raised once an occasion. The words are made elsewhere."""

from dataclasses import replace
from math import inf

import numpy as np

from groundstation.flight import silence
from groundstation.flight.alert_records import (
    Alert,
    AlertKey,
    AltitudeFrozen,
    Burst,
    ClimbingFast,
    ClimbingSlowly,
    Facts,
    FallingFast,
    FallingSlowly,
    Floating,
    HeardAgain,
    Landed,
    LandingMoved,
    Launched,
    MayLandInside,
    OffPlan,
    ShouldBeDown,
    SignalLoss,
    Silent,
    StillClimbing,
    TellsLanding,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.flight.horizon import signal_loss
from groundstation.flight.instruct import by_chance, is_known, is_overdue, place_of
from groundstation.flight.moves import moved_between
from groundstation.flight.phases import at_rest, looks_falling
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, Said, Waiting, newest_height_m
from groundstation.physics.geodesy import Plane, distance_bearing
from groundstation.physics.region import away_m
from groundstation.records import AlertKind, Fix, Landing, Phase, Urgency

# Where no plan says what to expect: two standard deviations around the median of real flights, a
# lognormal of 7.8 m/s with sd 0.34 at sea level (the project's study of real flights).
USUAL_SLOWEST_MS, USUAL_FASTEST_MS = 3.95, 15.4
PLAN_SHARE = 0.4  # own choice: a fall that is off by less is what a plan must expect
JUDGED_AFTER_S = 120.0  # own choice: by then it has stopped tumbling
JUDGED_AFTER_M = 3_000.0  # own choice: a rate over less is mostly wander
STILL_SDS = 2.0  # own choice: one good plan in forty goes higher
CLIMB_JUDGED_M = 3_000.0  # own choice: a rate over less is mostly wander
CLIMB_SHARE = 0.25  # own choice: a fill that was weighed is hardly so far off
OFF_PLAN_FROM = 2.0 / 3.0  # own choice: below, the forecast knows more of the winds above
# Own choices: before the burst the person plans by the region, and nobody turns round for less.
ASCENT_FACTOR = 3.0
ASCENT_EVERY_S = 1_800.0  # own choice: see ASCENT_FACTOR
# Own choice: an estimate takes a tenth of that on a desk and half of it on a small computer.
ESTIMATE_WAIT_S = 1.0
ONE_NEWS_S = 60.0  # own choice: two messages within it are one piece of news

URGENCY = {
    AlertKind.BURST: Urgency.HIGH,
    AlertKind.FALLING_FAST: Urgency.HIGH,
    AlertKind.TOUCHDOWN_SOON: Urgency.HIGH,
    AlertKind.KEEP_OUT: Urgency.HIGH,
    AlertKind.LANDED: Urgency.HIGH,
    AlertKind.MOVED_AFTER_LANDING: Urgency.HIGH,
    AlertKind.CALLED_OFF: Urgency.HIGH,
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
    facts = _without_guess(facts)
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
    alert = replace(alert, moved=moved_between(state.said.point, alert.point))
    return replace(state, said=_with(state.said, alert)), (alert,)


def _without_guess(facts: Facts) -> Facts:
    """Without a landing point that nobody would go by, where the point is not the news itself."""
    match facts:
        case (
            Launched()
            | ClimbingFast()
            | ClimbingSlowly()
            | StillClimbing()
            | AltitudeFrozen()
            | TrackersDisagree()
            | Silent()
            | HeardAgain()
        ) if facts.landing is not None and not is_known(facts.landing):
            return replace(facts, landing=None)
        case _:
            return facts


def _with(said: Said, alert: Alert) -> Said:
    """What was told, once ``alert`` is."""
    said = replace(said, keys=said.keys | {alert.key})
    if alert.point is None:
        return said
    return replace(said, point=alert.point, point_utc=alert.time_utc, point_in=alert.phase)


def with_estimate(state: FlightState, facts: Facts, occasion: str = "1") -> FlightState:
    """Have it told as soon as there is a landing estimate made of the newest fix."""
    last = state.motion.last
    assert last is not None
    waiting = Waiting(
        facts=facts, occasion=occasion, since_utc=state.now_utc, evidence_utc=last.time_utc
    )
    return replace(state, waiting=(*state.waiting, waiting))


def _told_since(state: FlightState, at_utc: float) -> bool:
    """Whether the person was told a landing point since: that it is heard again goes with it."""
    said = state.said
    return said.point is not None and said.point_utc is not None and said.point_utc >= at_utc


def waited_for(
    state: FlightState, landing: Landing | None, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Tell what waits for ``landing``; with None, what has waited long enough, without one."""
    if not state.waiting:  # as at nearly every tick
        return state, ()
    alerts: tuple[Alert, ...] = ()
    left: tuple[Waiting, ...] = ()
    for held in state.waiting:
        late = at_utc - held.since_utc >= ESTIMATE_WAIT_S
        made = landing is not None and landing.evidence_utc >= held.evidence_utc
        if not (made or (late and landing is None)):
            left += (held,)
            continue
        facts = held.facts
        if isinstance(facts, HeardAgain) and _told_since(state, held.since_utc):
            continue
        if made and landing is not None and isinstance(facts, TellsLanding):
            facts = replace(facts, landing=landing)
        state, alert = raised(state, facts, held.occasion, at_utc=at_utc)
        alerts += alert
    return replace(state, waiting=left), alerts


def phase_entered(settings: FlightSettings, state: FlightState) -> FlightState:
    """The alert that goes with the phase just entered, which waits for its estimate."""
    motion = state.motion
    match motion.phase:
        case Phase.ASCENT if motion.tells_height:
            return with_estimate(state, Launched())
        case Phase.FLOAT:
            height = newest_height_m(state)
            return with_estimate(state, Floating(altitude_m=height))
        case Phase.DESCENT:
            burst = motion.burst
            facts = Burst(
                altitude_m=None if burst is None else burst.altitude_m,
                planned_m=settings.plan.burst_altitude_m if settings.plan.made else None,
            )
            return with_estimate(state, facts)
        case Phase.LANDED:
            count, within_m = at_rest(motion)
            return with_estimate(state, Landed(fixes=count, within_m=within_m))
        case _:
            return state


def _highly(state: FlightState) -> Fix | None:
    """The newest fix if it tells a height, or a newer height without a place."""
    motion = state.motion
    if motion.window and not motion.window[-1].placed:
        return motion.window[-1]
    return motion.last


def in_flight(state: FlightState) -> Landing | None:
    """The landing estimate, while it flies."""
    flies = state.motion.phase in (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)
    return state.landing if flies else None


def may_land_inside(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Areas in which it may well come down, each once."""
    landing = in_flight(state)
    alerts: tuple[Alert, ...] = ()
    for name, share in () if landing is None else landing.inside:
        if share < settings.alerts.keep_out:
            continue
        state, alert = raised(state, MayLandInside(area=name, share=share, landing=landing), name)
        alerts += alert
    return state, alerts


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
    """Told when the point that was told last is further from the estimate than both of them are
    sure to: than the radius of the 50 % region, and than a person minds."""
    landing = in_flight(state)
    if landing is None or state.waiting or state.said.on_ground:
        return state, ()
    falling = state.motion.phase is Phase.DESCENT
    if looks_falling(state.motion) and not falling:
        return state, ()  # if it is one, the next fix tells of the burst
    if falling and _soon_told(settings, state, landing):
        return state, ()
    moved = moved_between(state.said.point, place_of(landing))
    alerts = settings.alerts
    if moved is None:
        worth_telling = falling or is_known(landing)
        return raised(state, LandingMoved(landing=landing)) if worth_telling else (state, ())
    factor = 1.0 if falling else ASCENT_FACTOR
    every = alerts.moved_every_s if falling else max(alerts.moved_every_s, ASCENT_EVERY_S)
    if state.now_utc - state.said.point_utc < every and state.said.point_in is landing.phase:
        return state, ()
    if moved.distance_m <= factor * max(alerts.moved_m, alerts.moved_share * landing.radius_50_m):
        return state, ()
    return raised(state, LandingMoved(landing=landing), f"{landing.evidence_utc:.0f}")


def _soon_told(settings: FlightSettings, state: FlightState, landing: Landing) -> bool:
    """Whether the coming touchdown will be told, with its point, within ``ONE_NEWS_S``."""
    last = state.motion.last
    assert last is not None
    flight_now = state.now_utc - last.received_utc + last.time_utc
    early = landing.eta_utc - flight_now - settings.alerts.touchdown_soon_s
    return 0.0 <= early < ONE_NEWS_S


def fall_unlike_plan(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the fall is surely faster or slower than planned, or than is usual: with all
    of the rates that hold 90 % of the chance."""
    landing, burst, last = in_flight(state), state.motion.burst, _highly(state)
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
    least, most = landing.descent_rate_90_ms or (rate, rate)
    if most >= slow and least <= fast:
        return state, ()
    kind = FallingFast if least > fast else FallingSlowly
    return raised(state, kind(descent_rate_ms=rate, planned_ms=planned, landing=landing))


def climb_unlike_plan(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when it has climbed for a while, much faster or slower than planned."""
    plan, launch, last = settings.plan, state.motion.launch, _highly(state)
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
    plan, last = settings.plan, _highly(state)
    if state.motion.phase is not Phase.ASCENT or last is None or last.altitude_m is None:
        return state, ()
    if last.altitude_m <= plan.burst_altitude_m + STILL_SDS * plan.burst_altitude_sd_m:
        return state, ()
    return raised(state, StillClimbing(altitude_m=last.altitude_m, landing=state.landing))


def should_be_down(
    settings: FlightSettings, state: FlightState, flight_now_utc: float, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the touchdown is surely over and nothing came from the ground."""
    if not is_overdue(state, flight_now_utc) or state.said.on_ground:
        return state, ()
    landing = state.landing
    since: float | None = None
    if landing is not None and by_chance(landing):
        since = max(flight_now_utc - landing.eta_utc, 0.0)
    hints = silence.on_ground(settings, state)
    return raised(state, ShouldBeDown(hints=hints, ago_s=since, landing=landing), at_utc=at_utc)


def touchdown_soon(
    settings: FlightSettings, state: FlightState, flight_now_utc: float, at_utc: float
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told once when the expected touchdown is near. Quick: asked at every tick."""
    landing = state.landing
    if landing is None or landing.phase is not Phase.DESCENT or state.waiting:
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
