"""What a height without a place does to the flight."""

from dataclasses import replace
from typing import Final

from groundstation.flight import alerts, phases, silence
from groundstation.flight import heights as of_heights
from groundstation.flight.alert_records import Alert, HeardAgain
from groundstation.flight.believing import new_flight
from groundstation.flight.events import HeightHeard
from groundstation.flight.gate import mended
from groundstation.flight.heights import ALONE_INTERVALS, ALONE_S, Level
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, newest_height_m, newest_placed, phase_change
from groundstation.flight.track_arrays import ground_given_m
from groundstation.records import Height, PhaseChange, Reason, Verdict

AGAIN_AFTER_S: Final = 180.0
"""A silence that ends sooner after it was told is not followed by a second message. Own choice."""


def heard(
    settings: FlightSettings, state: FlightState, event: HeightHeard
) -> tuple[FlightState, tuple[Verdict | PhaseChange | Alert, ...]]:
    """What it changes of the phase, that it was heard, and what is told of that."""
    before = state
    state, verdict = _taken(settings, state, event)
    if verdict.height is None:
        return state, (verdict,)
    outcomes: tuple[Verdict | PhaseChange | Alert, ...] = (verdict,)
    state = _heard_again(before, state, event.received_utc)
    if state.motion.phase is not before.motion.phase:
        state = alerts.phase_entered(settings, state)
        outcomes = (*outcomes, phase_change(state))
    for unlike in (alerts.climb_unlike_plan, alerts.still_climbing):
        state, more = unlike(settings, state)
        outcomes = (*outcomes, *more)
    return state, outcomes


def _heard_again(before: FlightState, state: FlightState, now_utc: float) -> FlightState:
    since, phase = before.hearing.silent_since, before.motion.phase
    if since is None or phase not in silence.IN_FLIGHT or state.said.on_ground:
        return state
    ended_s = before.said.gap_s if before.said.gap_in is phase else 0.0
    gap_s = max(now_utc - since, ended_s)
    state = replace(state, said=replace(state.said, gap_s=gap_s, gap_in=phase))
    last_told_utc = before.said.silent_utc
    if last_told_utc < since or now_utc - last_told_utc < AGAIN_AFTER_S:
        return state
    again = HeardAgain(silent_s=now_utc - since, height_m=newest_height_m(state))
    return alerts.with_estimate(state, again, f"{since:.0f}")


def _taken(
    settings: FlightSettings, state: FlightState, event: HeightHeard
) -> tuple[FlightState, Verdict]:
    """Judge it, and where it is believed and no fix tells a height just then, take it in."""
    state = replace(state, now_utc=event.received_utc)
    if of_heights.altitude_of(event.report) is None:
        return state, _no(event, Reason.IMPOSSIBLE, "no balloon is at that height")
    if event.report.time_unread:
        late = "when it was there can't be read"
        return state, _no(event, Reason.BAD_TIME, late)
    tracker, own = event.report.tracker, event.report.time_utc
    gate, own, ahead = mended(state.gate, tracker, own, event.received_utc)
    state = replace(state, gate=gate)
    if ahead is not None:
        return state, _no(event, Reason.BAD_TIME, ahead)
    height = of_heights.height_told(settings.payload, event, own)
    assert height is not None, "it was looked at above"
    level = of_heights.level_of(state.heights, height, _ground_m(settings, state))
    known = _known(state)
    trouble = of_heights.refused(
        state.heights,
        replace(height, altitude_m=level.altitude_m),
        known,
        own_time=own is not None,
    )
    if trouble is not None:
        if trouble[0] is Reason.JUMP:
            doubted = replace(height, altitude_m=level.altitude_m)
            state = replace(state, heights=replace(state.heights, doubted=doubted))
        return state, _no(event, *trouble)
    heights = replace(state.heights, newest=height, doubted=None)
    hearing = silence.heard(settings, state.hearing, height)
    state = replace(state, heights=heights, hearing=hearing)
    if _alone(settings, state, height):
        state = _counted(settings, state, level)
    return state, Verdict(report_id=event.report_id, height=height)


def _counted(settings: FlightSettings, state: FlightState, level: Level) -> FlightState:
    if of_heights.stands_still(state.heights, level, _ground_m(settings, state)):
        heights = of_heights.without_stuck(state.heights, level)
        since = heights.levels[-1].time_utc
        window = state.motion.window
        moved = tuple(fix for fix in window if fix.placed or fix.time_utc <= since)
        return replace(state, heights=heights, motion=replace(state.motion, window=moved))
    newest = state.heights.levels[-1].time_utc if state.heights.levels else 0.0
    state = replace(state, heights=of_heights.counted(state.heights, level))
    last = state.motion.last
    if last is None or level.time_utc <= max(newest, last.time_utc):
        return state
    fix = replace(
        last,
        tracker=level.tracker,
        time_utc=level.time_utc,
        received_utc=state.now_utc,
        altitude_m=level.altitude_m,
        telemetry=(),
        placed=False,
    )
    before = state.motion.first
    state = replace(state, motion=phases.moved_in_height(settings, state.motion, fix))
    return new_flight(state) if state.motion.first is not before else state


def _alone(settings: FlightSettings, state: FlightState, height: Height) -> bool:
    """Whether no fix tells a height just then."""
    placed = newest_placed(state)
    if placed is None:
        return True
    every = silence.interval_s(settings, state.hearing, placed.tracker)
    return height.time_utc - placed.time_utc > max(ALONE_S, ALONE_INTERVALS * every)


def _known(state: FlightState) -> tuple[float, float] | None:
    """Time and altitude of the newest height, with a place or without."""
    fix, levels = newest_placed(state), state.heights.levels
    rows = [] if fix is None or fix.altitude_m is None else [(fix.time_utc, fix.altitude_m)]
    rows += [(levels[-1].time_utc, levels[-1].altitude_m)] if levels else []
    return max(rows, default=None)


def _ground_m(settings: FlightSettings, state: FlightState) -> float:
    launch = state.motion.launch
    if launch is not None and launch.altitude_m is not None:
        return launch.altitude_m
    return ground_given_m(settings)


def _no(event: HeightHeard, reason: Reason, detail: str) -> Verdict:
    return Verdict(report_id=event.report_id, reason=reason, detail=detail)
