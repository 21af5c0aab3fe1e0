"""One flight as a fold: ``step(settings, state, event) -> state, outcomes``.

Pure: no clock, no I/O, no random source. Live, replayed and restarted flights take the same way.
Each event runs through a list of stages, which stand at the end of this file in their order.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from groundstation.flight import alerts, silence, unseen
from groundstation.flight.alert_records import (
    Alert,
    AltitudeFrozen,
    HeardAgain,
    MovedAfterLanding,
    SilenceCause,
    Silent,
    TrackersDisagree,
)
from groundstation.flight.apart import compared
from groundstation.flight.believing import believed, taken_back
from groundstation.flight.events import (
    Estimated,
    Event,
    HeightHeard,
    Observed,
    Sighted,
    Tick,
    Withdrawn,
)
from groundstation.flight.gate import Judgement, fix_of, judge
from groundstation.flight.height_heard import AGAIN_AFTER_S, heard
from groundstation.flight.instruct import instruction, is_low, speaks_from_ground, was_due
from groundstation.flight.lead import without_stuck
from groundstation.flight.moves import with_landing
from groundstation.flight.phases import at_rest
from groundstation.flight.progress import as_chances_say
from groundstation.flight.settings import FlightSettings
from groundstation.flight.sightings_taken import begun, sighted, withdrawn
from groundstation.flight.state import FlightState, last_heard, phase_change, unplaced
from groundstation.flight.whereabouts import Whereabouts
from groundstation.flight.whole import only_places
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase, PhaseChange, Place, Reason, Urgency, Verdict

SILENT_AGAIN_S: Final = 1_200.0
"""A tracker that comes and goes is told of once in so long and in each phase. Own choice."""

LIES_FROM: Final = 2  # own choice: copies of one message are told apart before

CLEARLY_LONGER: Final = 1.5  # own choice: half as long again

Outcome = Verdict | PhaseChange | Alert
Step = tuple[FlightState, tuple[Outcome, ...]]
E = TypeVar("E")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A report with what the gate said of it, and the phase of the flight before it."""

    event: Observed
    judgement: Judgement
    phase_before: Phase


Stages = tuple[Callable[[FlightSettings, FlightState, E], Step], ...]


def begin(settings: FlightSettings) -> FlightState:
    """The state of a payload of which nothing was heard yet."""
    return FlightState(payload=settings.payload)


def step(settings: FlightSettings, state: FlightState, event: Event) -> Step:
    """Take one event; return the next state and what follows from it."""
    match event:
        case Tick():
            if not state.waiting and state.motion.phase not in silence.IN_FLIGHT:
                return state, ()
            return _through(TICKED, settings, state, event)
        case Estimated() if state.motion.no_flight_m is not None:
            return state, ()  # of what was called off meanwhile
        case Estimated():
            return _through(ESTIMATED, settings, state, event)
        case Sighted():
            return _with_instruction(settings, *sighted(state, event))
        case Withdrawn():
            return _with_instruction(settings, *withdrawn(state, event))
        case Observed():
            state, judged = _judged(settings, state, event)
            stages = ACCEPTED if judged.judgement.accepted else REFUSED
            return _through(stages, settings, state, judged)
        case HeightHeard():
            return _with_instruction(settings, *heard(settings, state, event))


def _through(stages: Stages[E], settings: FlightSettings, state: FlightState, event: E) -> Step:
    outcomes: tuple[Outcome, ...] = ()
    for stage in stages:
        state, more = stage(settings, state, event)
        outcomes += more
    return _with_instruction(settings, state, outcomes)


def _with_instruction(
    settings: FlightSettings, state: FlightState, outcomes: tuple[Outcome, ...]
) -> Step:
    if not outcomes:
        return state, ()
    return state, tuple(
        replace(outcome, instruction=instruction(settings, state, outcome.time_utc))
        if isinstance(outcome, Alert)
        else outcome
        for outcome in outcomes
    )


def _judged(
    settings: FlightSettings, state: FlightState, event: Observed
) -> tuple[FlightState, Judged]:
    lead, report = without_stuck(state.lead, event.report)
    if report is not event.report:
        event = replace(event, report=report)
    judgement = judge(settings, state.gate, event)
    state = replace(state, gate=judgement.state, lead=lead, now_utc=event.received_utc)
    return state, Judged(event=event, judgement=judgement, phase_before=state.motion.phase)


def _verdicts(_: FlightSettings, state: FlightState, judged: Judged) -> Step:
    return state, judged.judgement.verdicts


def _disagreeing(settings: FlightSettings, state: FlightState, judged: Judged) -> Step:
    """Hold the report against what the payload's other trackers say."""
    number = judged.event.report_id
    mine = [verdict for verdict in judged.judgement.verdicts if verdict.report_id == number]
    if not mine or mine[-1].reason not in (None, Reason.JUMP) or state.motion.launch is None:
        return state, ()
    apart = compared(state.apart, fix_of(settings, judged.event))
    newly_apart = apart.disagree and not state.apart.disagree
    state = replace(state, apart=apart)
    if not newly_apart or state.motion.phase not in silence.IN_FLIGHT:
        return state, ()
    return alerts.raised(state, TrackersDisagree(apart_m=apart.by_m, landing=state.landing))


def _fixes(settings: FlightSettings, state: FlightState, judged: Judged) -> Step:
    """Take what is believed into the flight, without what turned out wrong."""
    fixes = judged.judgement.accepted
    if judged.judgement.revoked:
        state, kept = taken_back(state, judged.judgement.revoked)
        fixes = (*kept, *fixes)
    for accepted in fixes:
        state = believed(settings, state, accepted)
    return state, ()


def _lies(_: FlightSettings, state: FlightState, judged: Judged) -> Step:
    """Heard from the ground, where no height tells it: twice from one place after it was down,
    probably. What falls is elsewhere a minute later."""
    newest, landing = judged.judgement.accepted[-1].fix, state.landing
    if newest.late or newest.altitude_m is not None or landing is None or state.said.on_ground:
        return state, ()
    if state.motion.phase not in silence.IN_FLIGHT or not was_due(landing, newest.time_utc):
        return state, ()
    count, within_m = at_rest(state.motion)
    if count < LIES_FROM:
        return state, ()
    since = state.hearing.silent_since
    silent_s = 0.0 if since is None else judged.event.received_utc - since
    facts = HeardAgain(silent_s=silent_s, on_ground=True, fixes=count, within_m=within_m)
    state = replace(state, said=replace(state.said, on_ground=True))
    return alerts.raised(state, facts, f"{newest.time_utc:.0f}", urgency=Urgency.HIGH)


def _heard_again(settings: FlightSettings, state: FlightState, judged: Judged) -> Step:
    newest = judged.judgement.accepted[-1].fix
    if newest.late:
        return state, ()
    since, now_utc = state.hearing.silent_since, judged.event.received_utc
    if state.said.on_ground and not is_low(state.said.point, newest):
        state = replace(state, said=replace(state.said, on_ground=False))
    state = replace(state, hearing=silence.heard(settings, state.hearing, newest))
    if since is None or state.motion.phase not in silence.IN_FLIGHT or state.said.on_ground:
        return state, ()
    silent_s, occasion = now_utc - since, f"{since:.0f}"
    before_s = state.said.gap_s if state.said.gap_in is state.motion.phase else 0.0
    gap_s = max(silent_s, before_s)
    state = replace(state, said=replace(state.said, gap_s=gap_s, gap_in=state.motion.phase))
    if speaks_from_ground(state.landing, newest):
        state = replace(state, said=replace(state.said, on_ground=True))
        return alerts.raised(
            state, HeardAgain(silent_s=silent_s, on_ground=True), occasion, urgency=Urgency.HIGH
        )
    last_told_utc = state.said.silent_utc
    if last_told_utc < since or now_utc - last_told_utc < AGAIN_AFTER_S:
        return state, ()
    return alerts.with_estimate(state, HeardAgain(silent_s=silent_s), occasion), ()


def _let_go(_: FlightSettings, state: FlightState, __: Judged) -> Step:
    """A launch that a person told of before the tracker was heard."""
    return (begun(state)[0] if state.sightings else state), ()


def _entered(settings: FlightSettings, state: FlightState, judged: Judged) -> Step:
    """A phase that has just begun, and what is told of it."""
    if state.motion.phase is judged.phase_before:
        return state, ()
    return alerts.phase_entered(settings, state), (phase_change(state),)


def _carried_off(settings: FlightSettings, state: FlightState, _: Judged) -> Step:
    """Whether it moved after it had come to rest, by two fixes in a row."""
    motion = state.motion
    if motion.phase is not Phase.LANDED or motion.rest is None or motion.last is None:
        return state, ()
    away_m = _apart(motion.rest, motion.last)
    near = away_m <= settings.alerts.moved_after_landing_m
    state = replace(state, motion=replace(motion, away=0 if near else motion.away + 1))
    if state.motion.away < 2:
        return state, ()
    return alerts.raised(state, MovedAfterLanding(moved_m=away_m))


def _climb(settings: FlightSettings, state: FlightState, _: Judged) -> Step:
    return alerts.climb_unlike_plan(settings, state)


def _still_climbing(settings: FlightSettings, state: FlightState, _: Judged) -> Step:
    return alerts.still_climbing(settings, state)


def _standing(_: FlightSettings, state: FlightState, __: Judged) -> Step:
    height = state.motion.frozen_m
    if height is None:
        return state, ()
    return alerts.raised(state, AltitudeFrozen(altitude_m=height, landing=state.landing))


def _silent(settings: FlightSettings, state: FlightState, tick: Tick) -> Step:
    last, newest = state.motion.last, last_heard(state)
    if last is None or newest is None or not silence.fell_silent(state, tick.now_utc):
        return state, ()
    heard_utc = newest.received_utc
    means = silence.meaning(settings, state, _flight_now(last, tick), tick.deaf)
    if means is None:
        hearing = silence.put_off(state.hearing, tick.now_utc)
        return replace(state, hearing=hearing), ()
    if means.cause in (SilenceCause.BELOW_HORIZON, SilenceCause.DOWN):
        # Asks for nothing; that it should be down is told at its time.
        return replace(state, hearing=silence.silence_told(state.hearing, heard_utc)), ()
    if not _is_news(state, heard_utc, tick.now_utc):
        return replace(state, hearing=silence.noticed(state.hearing, heard_utc, tick.now_utc)), ()
    state = replace(state, hearing=silence.silence_told(state.hearing, heard_utc))
    said = replace(state.said, silent_utc=tick.now_utc, silent_in=state.motion.phase)
    state = replace(state, said=said)
    where = means.where
    facts = Silent(
        silent_s=tick.now_utc - max(at for _, at, _ in state.hearing.trackers),
        cause=means.cause,
        source=last.source,
        by_now=None if where is None else _by_now(where),
        by_now_90_m=None if where is None else where.altitude_90_m,
        landing=state.landing,
    )
    return alerts.raised(
        state, facts, f"{newest.time_utc:.0f}", urgency=means.urgency, at_utc=tick.now_utc
    )


def _is_news(state: FlightState, heard_utc: float, now_utc: float) -> bool:
    """Whether a silence is worth a message: not soon after another, and not before it has lasted
    clearly longer than one that ended by itself."""
    said = state.said
    if said.silent_in is state.motion.phase and now_utc - said.silent_utc < SILENT_AGAIN_S:
        return False
    ended_s = said.gap_s if said.gap_in is state.motion.phase else 0.0
    return now_utc - heard_utc > CLEARLY_LONGER * ended_s


def _by_now(where: Whereabouts) -> Place:
    return Place(
        latitude_deg=where.latitude_deg,
        longitude_deg=where.longitude_deg,
        altitude_m=where.altitude_m,
    )


def _soon(settings: FlightSettings, state: FlightState, tick: Tick) -> Step:
    last = state.motion.last
    if last is None:
        return state, ()
    return alerts.touchdown_soon(settings, state, _flight_now(last, tick), tick.now_utc)


def _overdue(settings: FlightSettings, state: FlightState, tick: Tick) -> Step:
    last = state.motion.last
    if last is None:
        return state, ()
    return alerts.should_be_down(settings, state, _flight_now(last, tick), tick.now_utc)


def _landing(_: FlightSettings, state: FlightState, event: Estimated) -> Step:
    moves = with_landing(state.moves, event.landing)
    return replace(state, landing=event.landing, moves=moves), ()


def _phase(settings: FlightSettings, state: FlightState, event: Estimated) -> Step:
    """What the chances say of the phase, where fixes have no heights."""
    if not only_places(state):
        return state, ()
    state, outcomes = unseen.launched(settings, state)
    motion = as_chances_say(state.motion, event.landing)
    if motion is state.motion:
        return state, outcomes
    state = replace(state, motion=motion)
    change = phase_change(state)
    if motion.phase is not Phase.DESCENT:
        return state, (*outcomes, change)
    state, burst = unseen.burst(settings, state)
    return state, (*outcomes, change, *burst)


def _clock(_: FlightSettings, state: FlightState, tick: Tick) -> Step:
    """Without heights, or without places, the time that goes by is evidence."""
    if not (only_places(state) or unplaced(state)):
        return state, ()
    return replace(state, now_utc=tick.now_utc), ()


def _waited(_: FlightSettings, state: FlightState, event: Estimated) -> Step:
    return alerts.waited_for(state, event.landing, state.now_utc)


def _waited_enough(_: FlightSettings, state: FlightState, tick: Tick) -> Step:
    return alerts.waited_for(state, None, tick.now_utc)


def _moved(settings: FlightSettings, state: FlightState, _: Estimated) -> Step:
    return alerts.landing_moved(settings, state)


def _fall(settings: FlightSettings, state: FlightState, _: Estimated) -> Step:
    return alerts.fall_unlike_plan(settings, state)


def _keep_out(settings: FlightSettings, state: FlightState, _: Estimated) -> Step:
    return alerts.may_land_inside(settings, state)


def _off_plan(settings: FlightSettings, state: FlightState, _: Estimated) -> Step:
    return alerts.off_plan(settings, state)


def _flight_now(last: Fix, tick: Tick) -> float:
    """Now by the tracker's own clock, in which the flight is told."""
    return tick.now_utc - last.received_utc + last.time_utc


def _apart(a: Fix, b: Fix) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)


REFUSED: Final[Stages[Judged]] = (_verdicts, _disagreeing)
ACCEPTED: Final[Stages[Judged]] = (
    _verdicts,
    _disagreeing,
    _fixes,
    _let_go,
    _lies,
    _heard_again,
    _entered,
    _carried_off,
    _climb,
    _still_climbing,
    _standing,
)
TICKED: Final[Stages[Tick]] = (_clock, _waited_enough, _silent, _soon, _overdue)
ESTIMATED: Final[Stages[Estimated]] = (
    _landing,
    _phase,
    _waited,
    _moved,
    _fall,
    _keep_out,
    _off_plan,
)
