"""What the person is to do now, read off the state of the flight."""

from dataclasses import replace
from typing import Final

from groundstation.flight.progress import TOLD_FROM
from groundstation.flight.settings import FlightSettings
from groundstation.flight.silence import is_audible
from groundstation.flight.state import FlightState, last_heard, newest_height_m, unplaced
from groundstation.records import (
    Act,
    Fix,
    Instruction,
    Landing,
    Phase,
    PhaseChances,
    Place,
    Standing,
)

LATE_S: Final = 300.0
"""So long after the latest touchdown that the estimate allows it is down for sure. Own choice."""

LOW_M: Final = 300.0
"""What is heard this low after its touchdown was due lies on the ground: the ground's height is
known to some tens of metres, in hills to a few hundred. Own choice."""


SURELY_NOT: Final = 0.1
"""Below this chance of a burst one may say that it has not burst. Own choice."""

FRESH_S: Final = 180.0
"""What an older fix tells of a climb may be over. Own choice: as long as a silence is no news."""

STANDING: Final = {
    Phase.PRELAUNCH: Standing.WAITING,
    Phase.ASCENT: Standing.RISING,
    Phase.FLOAT: Standing.FLOATING,
    Phase.DESCENT: Standing.FALLING,
    Phase.LANDED: Standing.DOWN,
}

KNOWN_M: Final = 10_000.0
"""Before the burst, a point is one to plan by once half of the chance is this near to it: a quarter
of an hour by car. Own choice."""


def is_known(landing: Landing) -> bool:
    """Whether the landing point is worth a way."""
    return landing.phase not in (Phase.ASCENT, Phase.FLOAT) or landing.radius_50_m <= KNOWN_M


def instruction(settings: FlightSettings, state: FlightState, now_utc: float) -> Instruction:
    """What is to be done at ``now_utc``, by the station's clock."""
    order = _to_do(settings, state, now_utc)
    return replace(
        order,
        standing=_standing(order, state),
        audible=is_audible(settings, state),
    )


def _standing(order: Instruction, state: FlightState) -> Standing:
    if order.act is Act.FETCH:
        return Standing.DOWN
    if order.act is Act.SEARCH or order.past:
        return Standing.DUE
    return STANDING[state.motion.phase]


def _to_do(settings: FlightSettings, state: FlightState, now_utc: float) -> Instruction:
    motion, landing = state.motion, state.landing
    last, launch = motion.last, motion.launch
    if last is None:
        return Instruction(
            act=Act.LISTEN,
            since_utc=state.now_utc,
            phase=motion.phase,
            last_altitude_m=newest_height_m(state),
        )
    flight_now = now_utc - last.received_utc + last.time_utc
    order = Instruction(
        act=Act.GET_READY,
        since_utc=motion.since_utc or (motion.first or last).time_utc,
        phase=motion.phase,
        silent_since_utc=state.hearing.silent_since,
        last_altitude_m=newest_height_m(state),
        launch=None if launch is None else place_of(launch),
        saw_launch=motion.waited,
        fix_utc=last.time_utc,
        old=flight_now - last.time_utc > FRESH_S,
    )
    if motion.phase is Phase.PRELAUNCH:
        if now_utc <= state.hearing.due_utc:
            return order
        return replace(
            order,
            act=Act.LISTEN,
            since_utc=last.received_utc,
            silent_since_utc=last.received_utc,
        )
    if motion.phase is Phase.LANDED:
        carried = motion.away >= 2
        rest = last if carried or motion.rest is None else motion.rest
        return replace(order, act=Act.FETCH, where=place_of(rest), measured=True, carried=carried)
    if state.said.on_ground:
        return replace(
            order, act=Act.FETCH, where=place_of(last), measured=True, since_utc=last.time_utc
        )
    if landing is not None:
        order = replace(_towards(order, landing), chance=_chance(state, landing))
        if is_overdue(state, flight_now):
            return replace(
                order,
                act=Act.SEARCH,
                since_utc=landing.eta_utc,
                silent_since_utc=order.silent_since_utc or _unheard(state, now_utc),
                past=True,
            )
    silent = order.silent_since_utc is not None
    match motion.phase:
        case Phase.DESCENT if landing is not None and _is_of_the_fall(landing):
            if landing.eta_utc - flight_now < settings.alerts.touchdown_soon_s:
                begun = landing.eta_utc - settings.alerts.touchdown_soon_s
                past = not by_chance(landing) and flight_now > landing.eta_90_utc[1]
                since_utc = max(begun, motion.since_utc)
                return replace(order, act=Act.STOP, since_utc=since_utc, past=past)
            return replace(order, act=Act.GO_ON if silent else Act.HEAD)
        case Phase.DESCENT:  # the estimate is still from before the burst
            return replace(order, act=Act.HEAD, where=None, radius_50_m=None, down_utc=None)
        case _ if silent and state.said.silent_in is motion.phase:
            return replace(order, act=Act.CHECK, since_utc=last.received_utc)
        case Phase.FLOAT:
            return replace(order, act=Act.WAIT)
        case _ if landing is None or is_known(landing):
            return replace(order, act=Act.FOLLOW)
        case _:
            return replace(order, act=Act.FOLLOW, where=None)


def is_overdue(state: FlightState, flight_now_utc: float) -> bool:
    """Whether the touchdown is surely over, though nothing came from the ground."""
    landing = state.landing
    if landing is None or state.motion.phase not in (Phase.ASCENT, Phase.DESCENT):
        return False
    if by_chance(landing):
        return landing.progress is not None and landing.progress.chance.landed >= TOLD_FROM
    return flight_now_utc > landing.eta_90_utc[1] + LATE_S


def _chance(state: FlightState, landing: Landing) -> PhaseChances | None:
    """Of its phase, where no height tells that."""
    if landing.progress is None or not by_chance(landing):
        return None
    return None if state.motion.burst is not None or unplaced(state) else landing.progress.chance


def by_chance(landing: Landing) -> bool:
    """Whether only chances tell of its burst and landing, as no fix of it has a height."""
    return landing.progress is not None and landing.progress.burst_90_utc is not None


def _is_of_the_fall(landing: Landing) -> bool:
    """Whether it was made after the burst, or weighs by chances whether there was one."""
    return landing.phase is Phase.DESCENT or by_chance(landing)


def was_due(landing: Landing, at_utc: float) -> bool:
    """Whether it was down by then, at least probably."""
    chance = 0.0 if landing.progress is None else landing.progress.chance.landed
    return at_utc > landing.eta_90_utc[1] or chance >= TOLD_FROM


def _unheard(state: FlightState, now_utc: float) -> float | None:
    heard = last_heard(state)
    if heard is None or now_utc - heard.received_utc <= FRESH_S:
        return None
    return heard.received_utc


def speaks_from_ground(landing: Landing | None, fix: Fix) -> bool:
    """Whether ``fix`` is low after the touchdown of ``landing``, made before it, was due."""
    if landing is None or fix.altitude_m is None or fix.time_utc <= landing.eta_90_utc[1]:
        return False
    return is_low(place_of(landing), fix)


def is_low(ground: Place | None, fix: Fix) -> bool:
    """Whether ``fix`` may be on the ground at that place, as far as its height tells."""
    if ground is None or ground.altitude_m is None or fix.altitude_m is None:
        return True
    return fix.altitude_m < ground.altitude_m + LOW_M


def place_of(what: Fix | Landing) -> Place:
    """Where a fix or a landing point is."""
    height = what.ground_m if isinstance(what, Landing) else what.altitude_m
    return Place(
        latitude_deg=what.latitude_deg, longitude_deg=what.longitude_deg, altitude_m=height
    )


def _towards(order: Instruction, landing: Landing) -> Instruction:
    return replace(
        order,
        where=place_of(landing),
        radius_50_m=landing.radius_50_m,
        down_utc=landing.eta_utc,
        may_have_burst=landing.progress is not None and landing.progress.chance.burst > SURELY_NOT,
    )
