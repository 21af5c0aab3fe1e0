"""What a believed fix does to the flight: which tracker leads, and what is taken back."""

import math
from dataclasses import replace

from groundstation.flight import silence
from groundstation.flight.frozen import frozen, without_frozen
from groundstation.flight.gate import Believed, without_height
from groundstation.flight.heights import learned as learned_heights
from groundstation.flight.lead import (
    fills_gap,
    followed,
    follows,
    learned,
    passed_over,
    stuck_at,
)
from groundstation.flight.phases import moved
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, Motion
from groundstation.records import Fix, Phase

BEFORE_S = 1_800.0  # own choice: a word of a launch may be early by that
TAKEN_BACK_AT_MOST = 4  # own choice: a lie that is not caught by then is the track


def believed(settings: FlightSettings, state: FlightState, accepted: Believed) -> FlightState:
    """Take one fix into the flight, which follows one tracker at a time."""
    if not _follows(settings, state, accepted.fix):
        lead = passed_over(state.lead, accepted.fix)
        return replace(state, lead=learned(lead, state.motion.track))
    before = ((*state.before, (accepted.report_id, accepted.fix, state.motion)))[
        -TAKEN_BACK_AT_MOST:
    ]
    motion = state.motion
    lead, fix = followed(state.lead, accepted.fix, blind=motion.frozen_m is not None)
    if not fix.late and fix.altitude_m is not None and frozen(motion, fix):
        lead = stuck_at(lead, fix.tracker, fix.altitude_m)
        state = replace(state, gate=without_height(state.gate, fix.tracker, fix.altitude_m))
        motion, fix = without_frozen(motion, fix)
    elif motion.frozen_m is not None and not fix.late and fix.altitude_m is not None:
        motion = replace(motion, frozen_m=None)
    heights = learned_heights(state.heights, accepted.fix, _rate_ms(motion))
    motion = moved(settings, motion, fix)
    first, was = motion.first, state.motion.first
    lead = learned(lead, motion.track)
    state = replace(state, motion=motion, before=before, lead=lead, heights=heights)
    if first is not was and was is not None:
        return new_flight(state)
    landing = state.landing
    if motion.maybe is None and landing and landing.phase is motion.phase is Phase.PRELAUNCH:
        return replace(state, landing=None)
    return state


def _rate_ms(motion: Motion) -> float:
    """How fast it climbs, by the newest two fixes with a place and a height; 0 where there are
    none."""
    placed = [fix for fix in motion.window if fix.placed][-2:]
    if len(placed) < 2 or placed[1].time_utc <= placed[0].time_utc:
        return 0.0
    before, newest = ((fix.time_utc, fix.altitude_m or 0.0) for fix in placed)
    return (newest[1] - before[1]) / (newest[0] - before[0])


def taken_back(
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


def new_flight(state: FlightState) -> FlightState:
    """The same payload flies again: only what was heard and believed is carried over, how often
    its trackers send, and what people told of this flight."""
    first = state.motion.first
    since = -math.inf if first is None else first.time_utc - BEFORE_S
    return FlightState(
        payload=state.payload,
        motion=state.motion,
        gate=state.gate,
        lead=state.lead,
        hearing=replace(state.hearing, silent_since=None),
        now_utc=state.now_utc,
        sightings=tuple(sighting for sighting in state.sightings if sighting.at_utc >= since),
        heights=state.heights.since(since),
        looks=tuple(look for look in state.looks if look.at_utc >= since),
        sighted_utc=state.sighted_utc,
    )
