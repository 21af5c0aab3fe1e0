"""One flight as a fold: ``step(settings, state, event) -> state, outcomes``.

Pure: no clock, no I/O, no random source. Live, replayed and restarted flights take the same way.
"""

from dataclasses import replace

from groundstation.flight import alerts, silence
from groundstation.flight.apart import compared
from groundstation.flight.events import Acknowledged, Estimated, Event, Observed, Tick
from groundstation.flight.frozen import frozen, without_frozen
from groundstation.flight.gate import Believed, fix_of, judge, without_height
from groundstation.flight.lead import (
    fills_gap,
    followed,
    follows,
    learned,
    passed_over,
    stuck_at,
    without_stuck,
)
from groundstation.flight.moves import with_landing
from groundstation.flight.phases import moved
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, Motion, Said
from groundstation.physics.geodesy import distance_m
from groundstation.records import Alert, AlertKind, Fix, Phase, PhaseChange, Reason, Verdict

Outcome = Verdict | PhaseChange | Alert
TAKEN_BACK_AT_MOST = 4


def begin(settings: FlightSettings) -> FlightState:
    """The state of a payload of which nothing was heard yet."""
    return FlightState(payload=settings.payload)


def step(
    settings: FlightSettings, state: FlightState, event: Event
) -> tuple[FlightState, tuple[Outcome, ...]]:
    """Take one event; return the next state and what follows from it."""
    match event:
        case Tick():
            return _ticked(settings, state, event)
        case Observed():
            return _observed(settings, state, event)
        case Estimated(landing=landing):
            moves = with_landing(state.moves, landing)
            state = replace(state, landing=landing, moves=moves)
            return alerts.estimate_alerts(settings, state)
        case Acknowledged():
            return state, ()


def _ticked(
    settings: FlightSettings, state: FlightState, tick: Tick
) -> tuple[FlightState, tuple[Outcome, ...]]:
    now_utc = tick.now_utc
    last = state.motion.last
    if last is None or state.motion.phase not in silence.IN_FLIGHT:
        return state, ()
    flight_now = now_utc - last.received_utc + last.time_utc
    outcomes: tuple[Outcome, ...] = ()
    if silence.fell_silent(state, now_utc):
        state, outcomes = _silent(settings, state, flight_now, tick)
    state, soon = alerts.touchdown_soon(settings, state, flight_now, now_utc)
    state, down = alerts.should_be_down(state, flight_now, now_utc)
    return state, (*outcomes, *soon, *down)


def _silent(
    settings: FlightSettings, state: FlightState, flight_now_utc: float, tick: Tick
) -> tuple[FlightState, tuple[Outcome, ...]]:
    last = state.motion.last
    assert last is not None
    means = silence.meaning(settings, state, flight_now_utc, tick.deaf)
    if means is None:
        hearing = silence.put_off(state.hearing, tick.now_utc)
        return replace(state, hearing=hearing), ()
    state = replace(state, hearing=silence.told(state.hearing, last))
    newest = max(at for _, at, _ in state.hearing.trackers)
    figures = {"silent_s": tick.now_utc - newest, "expected": float(means.expected)}
    if means.where is not None:
        figures["now_latitude_deg"] = means.where.latitude_deg
        figures["now_longitude_deg"] = means.where.longitude_deg
        if means.where.altitude_m is not None:
            figures["now_altitude_m"] = means.where.altitude_m
    return alerts.raised(
        state,
        AlertKind.SILENT,
        f"{last.time_utc:.0f}",
        figures=figures,
        note=means.note,
        urgency=means.urgency,
        at_utc=tick.now_utc,
    )


def _observed(
    settings: FlightSettings, state: FlightState, event: Observed
) -> tuple[FlightState, tuple[Outcome, ...]]:
    lead, report = without_stuck(state.lead, event.report)
    event = replace(event, report=report)
    judgement = judge(settings, state.gate, event)
    state = replace(state, gate=judgement.state, lead=lead, now_utc=event.received_utc)
    outcomes: list[Outcome] = list(judgement.verdicts)
    state, disagreement = _compared(settings, state, event, judgement.verdicts)
    if not judgement.accepted:
        return state, (*outcomes, *disagreement)
    outcomes += disagreement
    phase = state.motion.phase
    believed = judgement.accepted
    if judgement.revoked:
        state, kept = _taken_back(state, judgement.revoked)
        believed = (*kept, *believed)
    for one in believed:
        state = _believed(settings, state, one)
    if not believed[-1].fix.late:
        state, again = _heard_again(state, event.received_utc)
        outcomes += again
        state = replace(state, hearing=silence.heard(settings, state.hearing, believed[-1].fix))
    if state.motion.phase is not phase:
        outcomes.append(
            PhaseChange(
                payload=state.payload,
                time_utc=event.received_utc,
                phase=state.motion.phase,
                since_utc=state.motion.since_utc,
            )
        )
        state, said = alerts.phase_alerts(settings, state)
        outcomes += said
    state, away = _carried_off(settings, state)
    state, climb = alerts.climb_unlike_plan(settings, state)
    state, climbing = alerts.still_climbing(settings, state)
    state, standing = _standing(state)
    return state, (*outcomes, *away, *climb, *climbing, *standing)


def _compared(
    settings: FlightSettings,
    state: FlightState,
    event: Observed,
    verdicts: tuple[Verdict, ...],
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Hold the report against what the payload's other trackers say."""
    mine = [verdict for verdict in verdicts if verdict.report_id == event.report_id]
    if not mine or mine[-1].reason not in (None, Reason.JUMP) or state.motion.launch is None:
        return state, ()
    apart = compared(state.apart, fix_of(settings, event))
    told = apart.disagree and not state.apart.disagree
    state = replace(state, apart=apart)
    if not told or state.motion.phase not in silence.IN_FLIGHT:
        return state, ()
    return alerts.raised(state, AlertKind.TRACKERS_DISAGREE, "1", figures={"apart_m": apart.by_m})


def _standing(state: FlightState) -> tuple[FlightState, tuple[Alert, ...]]:
    height = state.motion.frozen_m
    if height is None:
        return state, ()
    return alerts.raised(state, AlertKind.ALTITUDE_FROZEN, "1", figures={"altitude_m": height})


def _believed(settings: FlightSettings, state: FlightState, one: Believed) -> FlightState:
    if not _follows(settings, state, one.fix):
        lead = passed_over(state.lead, one.fix)
        return replace(state, lead=learned(lead, state.motion.track))
    before = ((*state.before, (one.report_id, one.fix, state.motion)))[-TAKEN_BACK_AT_MOST:]
    motion = state.motion
    lead, fix = followed(state.lead, one.fix, blind=motion.frozen_m is not None)
    if not fix.late and fix.altitude_m is not None and frozen(motion, fix):
        lead = stuck_at(lead, fix.tracker, fix.altitude_m)
        state = replace(state, gate=without_height(state.gate, fix.tracker, fix.altitude_m))
        motion, fix = without_frozen(motion, fix)
    elif motion.frozen_m is not None and not fix.late and fix.altitude_m is not None:
        motion = replace(motion, frozen_m=None)
    motion = moved(motion, fix)
    first, was = motion.first, state.motion.first
    lead = learned(lead, motion.track)
    state = replace(state, motion=motion, before=before, lead=lead)
    if first is not was and was is not None:
        return _new_flight(settings, state)
    return state


def _follows(settings: FlightSettings, state: FlightState, fix: Fix) -> bool:
    leader = state.lead.newest
    if leader is None or leader.tracker == fix.tracker:
        return True
    if fix.late:
        return fills_gap(state.motion.track, fix)
    return follows(
        state.lead,
        fix,
        its_s=silence.interval_s(settings, state.hearing, fix.tracker),
        leaders_s=silence.interval_s(settings, state.hearing, leader.tracker),
        blind=state.motion.frozen_m is not None,
    )


def _new_flight(settings: FlightSettings, state: FlightState) -> FlightState:
    """The same payload flies again: only what was heard and believed is carried over."""
    fresh = begin(settings)
    return replace(
        fresh,
        motion=state.motion,
        gate=state.gate,
        lead=state.lead,
        now_utc=state.now_utc,
        said=Said(),
    )


def _taken_back(
    state: FlightState, revoked: frozenset[int]
) -> tuple[FlightState, tuple[Believed, ...]]:
    """Go back to before the first of the ``revoked`` fixes; return those after it that stand."""
    for n, (report_id, _, motion) in enumerate(state.before):
        if report_id in revoked:
            kept = tuple(
                Believed(other, fix) for other, fix, _ in state.before[n:] if other not in revoked
            )
            return replace(state, motion=motion, before=state.before[:n]), kept
    return state, ()


def _heard_again(state: FlightState, now_utc: float) -> tuple[FlightState, tuple[Alert, ...]]:
    since = state.hearing.silent_since
    if since is None:
        return state, ()
    state = replace(state, hearing=replace(state.hearing, silent_since=None))
    told = any(f"/{AlertKind.SILENT}/" in key for key in state.said.keys)
    if not told:
        return state, ()
    return alerts.raised(
        state, AlertKind.HEARD_AGAIN, f"{since:.0f}", figures={"silent_s": now_utc - since}
    )


def _carried_off(
    settings: FlightSettings, state: FlightState
) -> tuple[FlightState, tuple[Alert, ...]]:
    """Whether it moved after it had come to rest, by two fixes in a row."""
    motion = state.motion
    if motion.phase is not Phase.LANDED or motion.rest is None or motion.last is None:
        return state, ()
    away_m = _apart(motion.rest, motion.last)
    if away_m <= settings.alerts.moved_after_landing_m:
        return (state if motion.away == 0 else _counted(state, 0)), ()
    state = _counted(state, motion.away + 1)
    if state.motion.away < 2:
        return state, ()
    return alerts.raised(state, AlertKind.MOVED_AFTER_LANDING, "1", figures={"moved_m": away_m})


def _counted(state: FlightState, away: int) -> FlightState:
    motion: Motion = replace(state.motion, away=away)
    return replace(state, motion=motion)


def _apart(a: Fix, b: Fix) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
