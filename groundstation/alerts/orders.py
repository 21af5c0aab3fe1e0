"""The current instruction in words: what to do, where to, how sure."""

import math
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.alerts.quantities import distance_text, time_text
from groundstation.records import Act, Instruction
from groundstation.units import Units

NO_ESTIMATE: Final = "no landing estimate could be made"


def order_text(told: Instruction, where: str, units: Units, zone: ZoneInfo) -> str:
    """One sentence or two; ``where`` says where its place is, "" where nobody can say."""
    place = _place(told, where, units)
    since = told.silent_since_utc
    unheard = "" if since is None else f"nothing heard since {time_text(since, zone)}"
    down = "" if told.down_utc is None else time_text(told.down_utc, zone)
    match told.act:
        case Act.LISTEN:
            return "Nothing heard yet: see that the tracker is on and its source connected."
        case Act.GET_READY:
            return "It is heard. Nothing to do until the launch."
        case Act.FOLLOW if told.where is None and told.radius_50_m is not None:
            radius = distance_text(told.radius_50_m, units)
            return f"Be ready to leave: it climbs, its landing is only known to within {radius}."
        case Act.FOLLOW if told.where is None:
            return f"It climbs; {NO_ESTIMATE} yet."
        case Act.FOLLOW:
            so_far = "it may have burst" if told.may_have_burst else "it has not burst yet"
            return f"Plan for a landing {place}: {so_far}."
        case Act.WAIT if told.where is None:
            return "Wait: it floats and may drift far."
        case Act.WAIT:
            return f"Wait: it floats and may drift far; now it would land {place}."
        case Act.CHECK:
            return f"Check receiver, antenna and network: {unheard or 'nothing is heard'}."
        case Act.HEAD if told.where is None or told.down_utc is None:
            return f"It falls; {NO_ESTIMATE} yet."
        case Act.HEAD:
            return f"Head for {place}, down about {down}."
        case Act.GO_ON:
            return f"Go on to {place}, down about {down}; {unheard}."
        case Act.STOP:
            return f"Stop where it is safe and listen: down about {down}, {place}."
        case Act.SEARCH:
            more = f"; {unheard}" if unheard else ""
            return f"Search {place} and outwards{more}."
        case Act.FETCH:
            return f"Go to it, {place}: it was heard there on the ground."


def _place(told: Instruction, where: str, units: Units) -> str:
    radius = told.radius_50_m
    sure = ""
    if radius is not None and math.isfinite(radius):
        sure = f" (50 % within {distance_text(radius, units)})"
    return f"{where or 'the point below'}{sure}"
