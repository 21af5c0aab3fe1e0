"""A person's word that what was told is no flight: it counts until it is taken back, until the
payload has rested (what flies then is another), or until its height leaves no doubt."""

from dataclasses import replace

from groundstation.flight import alerts
from groundstation.flight.alert_records import Alert, CalledOff
from groundstation.flight.sightings import NoFlight
from groundstation.flight.state import FlightState, Motion, phase_change
from groundstation.flight.track import Track
from groundstation.records import AlertKind, Phase, PhaseChange

Stepped = tuple[FlightState, tuple[PhaseChange | Alert, ...]]


def called_off(state: FlightState, word: NoFlight) -> Stepped:
    """Nothing flies, and who was told otherwise is told so."""
    motion = state.motion
    height = 0.0 if motion.last is None else motion.last.altitude_m or 0.0
    grounded = Motion(
        since_utc=word.at_utc,
        first=motion.last,
        last=motion.last,
        no_flight_m=height,
        track=Track(),
    )
    outcomes: tuple[PhaseChange | Alert, ...] = ()
    flies = motion.phase is not Phase.PRELAUNCH
    if (flies or motion.maybe) and any(key.kind is AlertKind.LAUNCHED for key in state.said.keys):
        facts = CalledOff(who=word.who)
        state, outcomes = alerts.raised(state, facts, f"{word.number}", at_utc=state.now_utc)
    if flies:
        state = replace(state, called_off=(word.number, motion, state.landing))
    said = replace(state.said, point=None, on_ground=False)
    state = replace(state, motion=grounded, landing=None, waiting=(), said=said, before=())
    if state.called_off is None or state.called_off[0] != word.number:
        return state, outcomes
    return state, (phase_change(state), *outcomes)


def flies_after_all(state: FlightState, number: int) -> Stepped:
    """The word was taken back: the flight goes on as it was, with what was heard since."""
    now = state.motion
    if state.called_off is None or state.called_off[0] != number:
        return replace(state, motion=replace(now, no_flight_m=None)), ()
    _, motion, landing = state.called_off
    state = replace(state, called_off=None)
    if now.phase is not Phase.PRELAUNCH or motion.last is None:
        return state, ()  # another flight has begun since
    since, track = motion.last.time_utc, motion.track
    for point in now.track.points:
        track = track.extended(point) if point.time_utc > since else track
    motion = replace(
        motion,
        last=now.last or motion.last,
        window=(*motion.window, *(fix for fix in now.window if fix.time_utc > since)),
        track=track,
    )
    state = replace(state, motion=motion, landing=landing)
    state, outcomes = alerts.raised(
        state, CalledOff(back=True), f"{number} back", at_utc=state.now_utc
    )
    return state, (phase_change(state), *outcomes)
