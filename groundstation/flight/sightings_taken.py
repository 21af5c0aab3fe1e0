"""What a sighting does to the flight: it is kept and weighed; a word of the launch begins one."""

from dataclasses import replace
from typing import Final

from groundstation.flight.alert_records import Alert
from groundstation.flight.believing import new_flight
from groundstation.flight.called_off import called_off, flies_after_all
from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.phases_without_heights import launched, stood_at
from groundstation.flight.sightings import LaunchSeen, NoFlight, among, launch_seen, without
from groundstation.flight.state import FlightState, Motion, phase_change
from groundstation.records import Phase, PhaseChange

ANOTHER_S: Final = 900.0
"""A word of a launch so long after the one that was taken for it speaks of another (own choice)."""

Stepped = tuple[FlightState, tuple[PhaseChange | Alert, ...]]


def sighted(state: FlightState, event: Sighted) -> Stepped:
    """Keep what a person told; begin the flight where they say so and no height does."""
    sightings = among(state.sightings, event.sighting)
    state = replace(_at(state, event.now_utc), sightings=sightings)
    match event.sighting:
        case NoFlight() as word:
            return called_off(state, word)
        case LaunchSeen():
            state = replace(state, motion=replace(state.motion, no_flight_m=None))
    return begun(state)


def withdrawn(state: FlightState, event: Withdrawn) -> Stepped:
    """Without what a person took back; a launch that only they told of is none then."""
    gone = [sighting for sighting in state.sightings if sighting.number == event.number]
    if not gone:
        return state, ()
    state = replace(_at(state, event.now_utc), sightings=without(state.sightings, event.number))
    if isinstance(gone[0], NoFlight):
        return flies_after_all(state, event.number)
    motion = state.motion
    if not isinstance(gone[0], LaunchSeen) or motion.launch_word != event.number:
        return state, ()
    if motion.phase is Phase.PRELAUNCH:
        return state, ()
    motion = replace(
        motion,
        phase=Phase.PRELAUNCH,
        since_utc=event.now_utc,
        launch=None,
        burst=None,
        rest=None,
        launch_word=None,
    )
    state = replace(state, motion=motion, landing=None, waiting=())
    return state, (phase_change(state),)


def begun(state: FlightState) -> Stepped:
    """The state with the flight begun that a person told of, once its place is known."""
    word = launch_seen(state.sightings)
    if word is None or not _begins(state.motion, word):
        return state, ()
    motion = state.motion
    before = [p for p in motion.track.points if p.time_utc <= word.at_utc]
    if motion.last is None or not before:
        return state, ()
    launch = stood_at(motion.last, before[-1])
    begun_so = replace(launched(motion, launch, word.at_utc), launch_word=word.number)
    state = new_flight(replace(state, motion=begun_so))
    return state, (phase_change(state),)


def _begins(motion: Motion, word: LaunchSeen) -> bool:
    """Whether ``word`` tells of a launch that is not known yet. Heights speak for themselves."""
    if motion.launch_word == word.number or motion.window:
        return False
    launch = motion.launch
    if motion.phase is Phase.PRELAUNCH or launch is None:
        return True
    return word.at_utc - motion.since_utc > ANOTHER_S


def _at(state: FlightState, now_utc: float) -> FlightState:
    return replace(state, now_utc=max(state.now_utc, now_utc), sighted_utc=now_utc)
