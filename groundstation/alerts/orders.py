"""The current instruction in words: what to do, where to, how sure, and what that rests on."""

import math
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.alerts.quantities import altitude_text, distance_text, percent_text, time_text
from groundstation.language.catalogue import N_, _
from groundstation.records import Act, Instruction, Phase, PhaseChances, Progress, Standing
from groundstation.units import Units

BADGES: Final = {
    Standing.WAITING: N_("Waiting"),
    Standing.RISING: N_("Ascending"),
    Standing.FLOATING: N_("Floating"),
    Standing.FALLING: N_("Descending"),
    Standing.DUE: N_("Should be down"),
    Standing.DOWN: N_("Landed"),
    Standing.FOUND: N_("Found"),
    Standing.GIVEN_UP: N_("Given up"),
}
SILENT_BADGES: Final = {
    Standing.RISING: N_("Silent, was ascending"),
    Standing.FLOATING: N_("Silent, was floating"),
    Standing.FALLING: N_("Descending, silent"),
}

STANDS: Final = {
    Phase.ASCENT: Standing.RISING,
    Phase.FLOAT: Standing.FLOATING,
    Phase.DESCENT: Standing.FALLING,
    Phase.LANDED: Standing.DUE,
}
PROBABLE_BADGES: Final = {
    Phase.ASCENT: N_("Probably ascending"),
    Phase.FLOAT: N_("Probably floating"),
    Phase.DESCENT: N_("Probably descending"),
    Phase.LANDED: N_("Probably down"),
}

LIKELY: Final = {
    Phase.ASCENT: (N_("ascending ({percent} %)"), N_("probably ascending ({percent} %)")),
    Phase.FLOAT: (N_("floating ({percent} %)"), N_("probably floating ({percent} %)")),
    Phase.DESCENT: (N_("descending ({percent} %)"), N_("probably descending ({percent} %)")),
    Phase.LANDED: (N_("down ({percent} %)"), N_("probably down ({percent} %)")),
}
UNLIKELY: Final = 0.005  # own choice: three of 600 members are nobody's worry
LIKELIER: Final = 0.5  # then it is likelier than not
PROBABLY_BELOW: Final = 0.9
"""A phase is told without "probably" from this chance on, as elsewhere (``flight/progress.py``)."""


def order_text(order: Instruction, where: str, units: Units, zone: ZoneInfo) -> str:
    """One sentence or two; ``where`` says where its place is, "" where nobody can say."""
    place, at = (
        _sure(order, where or below, units)
        for where, below in (
            (where and _("the point {where}", where=where), _("the point below")),
            (where, _("at the point below")),
        )
    )
    since = order.silent_since_utc
    unheard = "" if since is None else time_text(since, zone)
    down = "" if order.down_utc is None else time_text(order.down_utc, zone)
    match order.act:
        case Act.LISTEN if since is None and order.last_altitude_m is not None:
            return _(
                "Only its height is heard, {height}: see that its receiver finds the place.",
                height=altitude_text(order.last_altitude_m, units),
            )
        case Act.LISTEN if since is None:
            return _("Nothing heard yet: see that the tracker is on and its source connected.")
        case Act.LISTEN:
            return _(
                "Nothing heard since {time}: see that the tracker is on and its source connected.",
                time=unheard,
            )
        case Act.GET_READY:
            return _("It is heard. Before the launch, see that every tracker is.")
        case Act.FOLLOW if order.where is None and order.radius_50_m is not None:
            return _(
                "Be ready to leave: {so_far}, its landing is known to within {radius} only.",
                so_far=_burst_so_far(order) if order.may_have_burst else _("it climbs"),
                radius=distance_text(order.radius_50_m, units),
            )
        case Act.FOLLOW if order.where is None:
            return _("Be ready to leave: it climbs, where it lands can't be told yet.")
        case Act.FOLLOW:
            return _plan_for(order, at, zone)
        case Act.WAIT if order.where is None:
            return _("Wait: it floats and may drift far.")
        case Act.WAIT:
            return _("Wait: it floats and may drift far; now it would land {place}.", place=at)
        case Act.CHECK if unheard:
            return _(
                "Check receiver, antenna and network: nothing heard since {time}.", time=unheard
            )
        case Act.CHECK:
            return _("Check receiver, antenna and network: nothing is heard.")
        case Act.HEAD if order.where is None or order.down_utc is None:
            return _("It falls; where it lands can't be told yet.")
        case Act.HEAD:
            return _("Head for {place}, down about {down}.", place=place, down=down)
        case Act.GO_ON:
            return _(
                "Go on to {place}, down about {down}; nothing heard since {time}.",
                place=place,
                down=down,
                time=unheard,
            )
        case Act.STOP if order.past and not order.audible:
            return _(
                "Stop where it is safe and wait for its next fix: it was due at {down}, {place}.",
                down=down,
                place=at,
            )
        case Act.STOP if not order.audible:
            return _(
                "Stop where it is safe and wait for its next fix: down about {down}, {place}.",
                down=down,
                place=at,
            )
        case Act.STOP if order.past:
            return _(
                "Stop where it is safe and listen: it was due at {down}, {place}.",
                down=down,
                place=at,
            )
        case Act.STOP:
            return _(
                "Stop where it is safe and listen: down about {down}, {place}.",
                down=down,
                place=at,
            )
        case Act.SEARCH if unheard:
            return _(
                "Search from {place} outwards; nothing heard since {time}.",
                place=place,
                time=unheard,
            )
        case Act.SEARCH:
            return _("Search from {place} outwards.", place=place)
        case Act.FETCH:
            there = where or _("at the point below")
            if order.carried:
                return _(
                    "Go to where it was last heard, {place}: it moved after it landed.", place=there
                )
            return _("Go to it, {place}: it was heard there on the ground.", place=there)
        case Act.NOTHING if order.standing is Standing.GIVEN_UP:
            return _("The search was given up. Nothing more to do here.")
        case Act.NOTHING:
            return _("It is found. Nothing more to do here.")


def badge_text(order: Instruction) -> str:
    """Where it stands, in a word or two."""
    if order.chance is not None and order.standing in SILENT_BADGES:
        phase, most = likeliest(order.chance)
        if most < PROBABLY_BELOW or STANDS[phase] is not order.standing:
            return _(PROBABLE_BADGES[phase])
    return _((SILENT_BADGES if is_silent_aloft(order) else BADGES)[order.standing])


def likeliest(chance: PhaseChances) -> tuple[Phase, float]:
    """The likeliest phase, and how likely it is."""
    phases = {
        Phase.ASCENT: chance.ascent,
        Phase.FLOAT: chance.floating,
        Phase.DESCENT: chance.descent,
        Phase.LANDED: chance.landed,
    }
    return max(phases.items(), key=lambda phase: phase[1])


def is_silent_aloft(order: Instruction) -> bool:
    """Whether the badge tells of a silence: what stands on the ground is silent as a rule."""
    return order.silent_since_utc is not None and order.standing in SILENT_BADGES


def happened_text(order: Instruction, phase_utc: float, zone: ZoneInfo, who: str = "") -> str:
    """What happened last, with when; ``phase_utc`` is when its phase began, ``who`` closed it."""
    at, began = time_text(order.since_utc, zone), time_text(phase_utc, zone)
    match order.standing:
        case Standing.WAITING:
            return _("Not launched yet.")
        case Standing.DUE if order.down_utc is not None:
            return _("It was due down at {time}.", time=time_text(order.down_utc, zone))
        case Standing.DUE:
            return _("Should be down since {time}.", time=began)
        case Standing.DOWN if order.phase is not Phase.LANDED:
            return _("Heard on the ground at {time}.", time=at)
        case Standing.DOWN:
            return _("Down since {time}.", time=began)
        case Standing.FOUND if who:
            return _("Found at {time} by {who}.", time=at, who=who)
        case Standing.FOUND:
            return _("Found at {time}.", time=at)
        case Standing.GIVEN_UP if who:
            return _("Given up at {time} by {who}.", time=at, who=who)
        case Standing.GIVEN_UP:
            return _("Given up at {time}.", time=at)
        case Standing.RISING if order.chance is not None and order.may_have_burst:
            return _("In the air since about {time}.", time=began)
        case Standing.RISING if order.old and order.fix_utc is not None:
            return _("It was ascending at {time}.", time=time_text(order.fix_utc, zone))
        case Standing.RISING:
            return _("Ascending since {time}.", time=began)
        case Standing.FLOATING:
            return _("Floating since {time}.", time=began)
        case Standing.FALLING if order.chance is not None:
            return _("Probably descending since about {time}.", time=began)
        case Standing.FALLING:
            return _("Descending since {time}.", time=began)


def rests_text(order: Instruction, units: Units, progress: Progress | None = None) -> str:
    """What it rests on beside the age of the fix, as the rest of a sentence; "" for nothing."""
    parts = []
    unheard = order.silent_since_utc is not None or order.standing is Standing.DUE
    if unheard and order.last_altitude_m is not None and order.standing is not Standing.DOWN:
        parts.append(_("at {height}", height=altitude_text(order.last_altitude_m, units)))
    if order.standing not in (Standing.DOWN, Standing.FOUND, Standing.GIVEN_UP):
        parts.append(_likely(progress, units))
    return ", ".join(part for part in parts if part)


def _likely(progress: Progress | None, units: Units) -> str:
    """What it likely does, where no height tells it: the likeliest phase, with how sure."""
    if progress is None or progress.burst_90_utc is None:
        return ""
    phase, most = likeliest(progress.chance)
    sure, unsure = LIKELY[phase]
    likely = _(unsure if most < PROBABLY_BELOW else sure, percent=percent_text(most))
    if phase is Phase.LANDED or progress.height_90_m is None:
        return likely
    low, high = (altitude_text(height, units) for height in progress.height_90_m)
    return _("{likely}, between {low} and {high} high (90 %)", likely=likely, low=low, high=high)


def _sure(order: Instruction, point: str, units: Units) -> str:
    radius = order.radius_50_m
    if radius is None or not math.isfinite(radius):
        return point
    return _("{point} (50 % within {radius})", point=point, radius=distance_text(radius, units))


def _plan_for(order: Instruction, place: str, zone: ZoneInfo) -> str:
    if order.chance is not None or order.may_have_burst:
        so_far = _burst_so_far(order)
        return _("Plan for a landing {place}: {so_far}.", place=place, so_far=so_far)
    if order.old and order.fix_utc is not None:
        time = time_text(order.fix_utc, zone)
        return _("Plan for a landing {place}: it had not burst by {time}.", place=place, time=time)
    return _("Plan for a landing {place}: it has not burst yet.", place=place)


def _burst_so_far(order: Instruction) -> str:
    """Whether it has burst, as sure as the chance is."""
    burst = 0.0 if order.chance is None else order.chance.burst
    if burst > LIKELIER:
        return _("it has probably burst")
    if order.may_have_burst:
        return _("it may have burst")
    return _("it has probably not burst yet") if burst > UNLIKELY else _("it has not burst yet")
