"""The current instruction in words: what to do, where to, how sure, and what that rests on."""

import math
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.alerts.quantities import altitude_text, distance_text, time_text
from groundstation.records import Act, Instruction, Phase, Progress, Standing
from groundstation.units import Units

UNKNOWN: Final = "where it lands can't be told yet"

BADGES: Final = {
    Standing.WAITING: "Waiting",
    Standing.RISING: "Rising",
    Standing.FLOATING: "Floating",
    Standing.FALLING: "Falling",
    Standing.DUE: "Should be down",
    Standing.DOWN: "Landed",
    Standing.FOUND: "Found",
    Standing.GIVEN_UP: "Given up",
}
ALOFT: Final = (Standing.RISING, Standing.FLOATING, Standing.FALLING)

LIKELY: Final = {
    Phase.ASCENT: "rising",
    Phase.FLOAT: "floating",
    Phase.DESCENT: "falling",
    Phase.LANDED: "down",
}
PROBABLY_BELOW: Final = 0.9
"""A phase is told without "probably" from this chance on, as elsewhere (``flight/progress.py``)."""


def order_text(told: Instruction, where: str, units: Units, zone: ZoneInfo) -> str:
    """One sentence or two; ``where`` says where its place is, "" where nobody can say."""
    sure = _sure(told, units)
    place, at = f"the point {where or 'below'}{sure}", f"{where or 'at the point below'}{sure}"
    since = told.silent_since_utc
    unheard = "" if since is None else f"nothing heard since {time_text(since, zone)}"
    down = "" if told.down_utc is None else time_text(told.down_utc, zone)
    match told.act:
        case Act.LISTEN:
            heard = "Nothing heard yet" if since is None else unheard.capitalize()
            return f"{heard}: see that the tracker is on and its source connected."
        case Act.GET_READY:
            return "It is heard. Before the launch, see that every tracker is."
        case Act.FOLLOW if told.where is None and told.radius_50_m is not None:
            radius = distance_text(told.radius_50_m, units)
            return f"Be ready to leave: it climbs, its landing is known to within {radius} only."
        case Act.FOLLOW if told.where is None:
            return f"Be ready to leave: it climbs, {UNKNOWN}."
        case Act.FOLLOW:
            return f"Plan for a landing {at}: {_not_burst(told, zone)}."
        case Act.WAIT if told.where is None:
            return "Wait: it floats and may drift far."
        case Act.WAIT:
            return f"Wait: it floats and may drift far; now it would land {at}."
        case Act.CHECK:
            return f"Check receiver, antenna and network: {unheard or 'nothing is heard'}."
        case Act.HEAD if told.where is None or told.down_utc is None:
            return f"It falls; {UNKNOWN}."
        case Act.HEAD:
            return f"Head for {place}, down about {down}."
        case Act.GO_ON:
            return f"Go on to {place}, down about {down}; {unheard}."
        case Act.STOP:
            when = f"it was due at {down}" if told.past else f"down about {down}"
            return f"Stop where it is safe and listen: {when}, {at}."
        case Act.SEARCH:
            more = f"; {unheard}" if unheard else ""
            return f"Search from {place} outwards{more}."
        case Act.FETCH if told.carried:
            there = where or "at the point below"
            return f"Go to where it was last heard, {there}: it moved after it landed."
        case Act.FETCH:
            return f"Go to it, {where or 'at the point below'}: it was heard there on the ground."
        case Act.NOTHING if told.standing is Standing.GIVEN_UP:
            return "The search was given up. Nothing more to do here."
        case Act.NOTHING:
            return "It is found. Nothing more to do here."


def badge_text(told: Instruction) -> str:
    """Where it stands, in a word or two."""
    silent = told.silent_since_utc is not None and told.standing in ALOFT
    return f"{BADGES[told.standing]}{', silent' if silent else ''}"


def happened_text(told: Instruction, phase_utc: float, zone: ZoneInfo) -> str:
    """What happened last, with when; ``phase_utc`` is when its phase began."""
    at, began = time_text(told.since_utc, zone), time_text(phase_utc, zone)
    match told.standing:
        case Standing.WAITING:
            return "Not launched yet."
        case Standing.DUE if told.down_utc is not None:
            return f"It was due down at {time_text(told.down_utc, zone)}."
        case Standing.DOWN if told.phase is not Phase.LANDED:
            return f"Heard on the ground at {at}."
        case Standing.DOWN:
            return f"Down since {began}."
        case Standing.FOUND:
            return f"Found at {at}."
        case Standing.GIVEN_UP:
            return f"Given up at {at}."
        case _:
            return f"{BADGES[told.standing]} since {began}."


def rests_text(told: Instruction, units: Units, progress: Progress | None = None) -> str:
    """What it rests on beside the age of the fix, as the rest of a sentence; "" for nothing."""
    parts = []
    unheard = told.silent_since_utc is not None or told.standing is Standing.DUE
    if unheard and told.last_altitude_m is not None and told.standing is not Standing.DOWN:
        parts.append(f"at {altitude_text(told.last_altitude_m, units)}")
    if told.standing not in (Standing.DOWN, Standing.FOUND, Standing.GIVEN_UP):
        parts.append(_likely(progress, units))
    return ", ".join(part for part in parts if part)


def _likely(progress: Progress | None, units: Units) -> str:
    """What it likely does, where no height tells it: the likeliest phase, with how sure."""
    if progress is None or progress.burst_90_utc is None:
        return ""
    chance = progress.chance
    phases = {
        Phase.ASCENT: chance.ascent,
        Phase.FLOAT: chance.floating,
        Phase.DESCENT: chance.descent,
        Phase.LANDED: chance.landed,
    }
    phase, most = max(phases.items(), key=lambda one: one[1])
    probably = "probably " if most < PROBABLY_BELOW else ""
    sure = f"{probably}{LIKELY[phase]} ({100.0 * most:.0f} %)"
    if phase is Phase.LANDED or progress.height_90_m is None:
        return sure
    low, high = (altitude_text(height, units) for height in progress.height_90_m)
    return f"{sure}, between {low} and {high} high (90 %)"


def _sure(told: Instruction, units: Units) -> str:
    radius = told.radius_50_m
    if radius is None or not math.isfinite(radius):
        return ""
    return f" (50 % within {distance_text(radius, units)})"


def _not_burst(told: Instruction, zone: ZoneInfo) -> str:
    if told.may_have_burst:
        return "it may have burst"
    if told.old and told.fix_utc is not None:
        return f"it had not burst by {time_text(told.fix_utc, zone)}"
    return "it has not burst yet"
