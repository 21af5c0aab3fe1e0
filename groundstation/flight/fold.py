"""One flight as a fold: ``step(settings, state, event) -> state, outcomes``.

Pure: no clock, no I/O, no random source. Live, replayed and restarted flights take the same way.
"""

from dataclasses import replace

from groundstation.flight import alerts, silence
from groundstation.flight.events import Acknowledged, Estimated, Event, Observed, Tick
from groundstation.flight.gate import Believed, judge
from groundstation.flight.phases import moved
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, Motion, Said
from groundstation.physics.geodesy import distance_m
from groundstation.records import Alert, AlertKind, Fix, Phase, PhaseChange, Verdict

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
        case Tick(now_utc=now):
            return _ticked(settings, state, now)
        case Observed():
            return _observed(settings, state, event)
        case Estimated(landing=landing):
            return alerts.estimate_alerts(settings, replace(state, landing=landing))
        case Acknowledged():
            return state, ()


def _ticked(
    settings: FlightSettings, state: FlightState, now_utc: float
) -> tuple[FlightState, tuple[Outcome, ...]]:
    last = state.motion.last
    if last is None or state.motion.phase not in silence.IN_FLIGHT:
        return state, ()
    flight_now = now_utc - last.received_utc + last.time_utc
    outcomes: tuple[Outcome, ...] = ()
    if silence.fell_silent(state, now_utc):
        means = silence.meaning(settings, state, flight_now)
        state = replace(state, hearing=silence.told(state.hearing, last))
        if means is not None:
            state, outcomes = alerts.raised(
                state,
                AlertKind.SILENT,
                f"{last.time_utc:.0f}",
                figures={
                    "silent_s": now_utc - last.received_utc,
                    "expected": float(means.expected),
                },
                note=means.note,
                urgency=means.urgency,
                at_utc=now_utc,
            )
    state, soon = alerts.touchdown_soon(settings, state, flight_now, now_utc)
    return state, (*outcomes, *soon)


def _observed(
    settings: FlightSettings, state: FlightState, event: Observed
) -> tuple[FlightState, tuple[Outcome, ...]]:
    judgement = judge(settings, state.gate, event)
    state = replace(state, gate=judgement.state, now_utc=event.received_utc)
    outcomes: list[Outcome] = list(judgement.verdicts)
    if not judgement.accepted:
        return state, tuple(outcomes)
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
        state, said = alerts.phase_alerts(state)
        outcomes += said
    state, away = _carried_off(settings, state)
    return state, (*outcomes, *away)


def _believed(settings: FlightSettings, state: FlightState, one: Believed) -> FlightState:
    before = ((*state.before, (one.report_id, one.fix, state.motion)))[-TAKEN_BACK_AT_MOST:]
    motion = moved(state.motion, one.fix)
    first, was = motion.first, state.motion.first
    state = replace(state, motion=motion, before=before)
    if first is not was and was is not None:
        return _new_flight(settings, state)
    return state


def _new_flight(settings: FlightSettings, state: FlightState) -> FlightState:
    """The same payload flies again: only what was heard and believed is carried over."""
    fresh = begin(settings)
    return replace(fresh, motion=state.motion, gate=state.gate, now_utc=state.now_utc, said=Said())


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
