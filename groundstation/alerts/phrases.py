"""What each kind of alert says: what happened, for the title; what to do; and what follows."""

import math
from dataclasses import dataclass
from typing import Final

from groundstation.alerts.phrase_parts import (
    at_part,
    between_part,
    by_now_part,
    height_part,
    joined,
    lost_part,
    planned_part,
    rate_part,
    towards_part,
)
from groundstation.alerts.quantities import (
    altitude_text,
    distance_text,
    percent_text,
    span_text,
)
from groundstation.flight.alert_records import (
    Alert,
    AltitudeFrozen,
    Burst,
    CalledOff,
    ClimbingFast,
    ClimbingSlowly,
    FallingFast,
    FallingSlowly,
    Floating,
    HeardAgain,
    Landed,
    LandingMoved,
    Launched,
    MayLandInside,
    MovedAfterLanding,
    OffPlan,
    OnGround,
    ShouldBeDown,
    SilenceCause,
    Silent,
    StationNotice,
    StillClimbing,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.flight.instruct import by_chance
from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number
from groundstation.records import AlertKind, Landing, Phase
from groundstation.units import Units

FOR_THE_PASSENGER: Final = N_("For the passenger: don't read while driving.")
MOVED_FROM_M: Final = 50.0
"""A point that moved by less is told as where it was. Own choice: the way of a person who looks."""
AT_THE_LANDING: Final = N_(
    "Keep away from power lines and water. Ask before entering private land. "
    "Local rules come first."
)
TELL_THOSE_NOTIFIED: Final = N_(
    "If it may leave the area you gave notice of, tell those you notified."
)
ON_GROUND: Final = {
    OnGround.RADIO_REACHES_LITTLE: N_(
        "On the ground a radio is heard from a few kilometres at most, from high places farther."
    ),
    OnGround.CELLULAR_NEEDS_NETWORK: N_(
        "A cellular tag reports once it finds a network, which may take long."
    ),
    OnGround.NEEDS_SKY: N_(
        "Upside down or under trees it can't reach the sky and may stay silent."
    ),
}


ONE_PLACE_M: Final = 1.0  # own choice: no tracker's receiver is as sure as its last digit


@dataclass(frozen=True, slots=True)
class Phrase:
    """``what`` follows the payload's name in the title. ``first`` is what to do, where that is not
    simply the current instruction, and ``more`` follows."""

    what: str
    first: str = ""
    more: str = ""


def phrase(alert: Alert, units: Units, order: str) -> Phrase:
    """The words for ``alert``, with ``order`` as the current instruction; any number in it may be
    none that is known."""
    match alert.facts:
        case Launched(chance=likely) as launch if likely is not None:
            return Phrase(
                _("has probably been launched"),
                more=_(
                    "The chance is {percent} %: it moves as a balloon does, and so might a car."
                    " Tell the station whether it was launched.",
                    percent=percent_text(likely),
                ),
            )
        case Launched() as launch:
            return Phrase(_launched(launch.ago_s), more=_("Check that every tracker is heard."))
        case Burst(chance=likely) as burst if likely is not None:
            return Phrase(
                _("has probably burst"),
                more=joined(
                    _(
                        "The chance is {percent} %: no height tells it, the way it drifts and the"
                        " time do.",
                        percent=percent_text(likely),
                    ),
                    between_part(burst.ago_90_s),
                ),
            )
        case Burst() as burst:
            planned = height_part(burst.planned_m, units)
            return Phrase(
                at_part(_("burst"), N_("burst at {height}"), burst.altitude_m, units),
                more=joined(
                    _moved(alert, units), planned and _("Planned was {planned}.", planned=planned)
                ),
            )
        case Floating() as floating:
            return Phrase(
                at_part(_("floating"), N_("floating at {height}"), floating.altitude_m, units),
                more=_(TELL_THOSE_NOTIFIED),
            )
        case FallingFast() as fall:
            return Phrase(
                rate_part(_("falling fast"), fall.descent_rate_ms, units),
                first=joined(_("Keep clear, it comes down hard."), order),
                more=joined(
                    planned_part(fall.planned_ms, units),
                    _("The parachute may be tangled or lost."),
                ),
            )
        case FallingSlowly() as fall:
            return Phrase(
                rate_part(_("falling slowly"), fall.descent_rate_ms, units),
                more=joined(
                    planned_part(fall.planned_ms, units),
                    _(
                        "Part of the balloon may still be attached: it lands later and farther"
                        " downwind."
                    ),
                ),
            )
        case LandingMoved() if alert.instruction is not None and alert.instruction.where is None:
            return Phrase(
                _("landing unsure again"), first=joined(_("Drop the point told before."), order)
            )
        case LandingMoved():
            return Phrase(_landing_moved(alert, units))
        case MayLandInside() as inside:
            return Phrase(
                _("may land where it must not"),
                first=_tell_responsible(inside),
                more=order,
            )
        case OffPlan() as off:
            return Phrase(
                _off_plan(off, units),
                first=joined(_("Go by the flight, not by the plan."), order),
                more=_("If that is not where you gave notice of, tell those you notified."),
            )
        case ClimbingFast() as climb:
            return Phrase(
                rate_part(_("climbing fast"), climb.ascent_rate_ms, units),
                first=_("Be ready early: with more gas than planned it bursts lower and sooner."),
                more=planned_part(climb.planned_ms, units),
            )
        case ClimbingSlowly() as climb:
            return Phrase(
                rate_part(_("climbing slowly"), climb.ascent_rate_ms, units),
                first=_("Expect a longer and farther flight: it may have too little gas, or leak."),
                more=joined(planned_part(climb.planned_ms, units), _(TELL_THOSE_NOTIFIED)),
            )
        case StillClimbing() as climb:
            return Phrase(
                at_part(
                    _("still climbing"), N_("still climbing at {height}"), climb.altitude_m, units
                ),
                first=_("Expect it later and elsewhere: it is well above its planned burst."),
                more=_(TELL_THOSE_NOTIFIED),
            )
        case AltitudeFrozen() as frozen:
            return Phrase(
                at_part(
                    _("height stands still"),
                    N_("height stands still at {height}"),
                    frozen.altitude_m,
                    units,
                ),
                first=_(
                    "Go by the region: its heights are left out, the estimate goes by the clock."
                ),
                more=_("It moves on, so the tracker's receiver is likely at its ceiling."),
            )
        case TrackersDisagree() as trackers:
            return Phrase(
                _disagree(trackers.apart_m, units),
                first=_("Look at the fixes of each tracker before you trust the point."),
                more=_(
                    "One of them is wrong, or they have come apart. The landing region is wider."
                ),
            )
        case Silent() as silence:
            return _silent(alert, silence, units, order)
        case HeardAgain() as heard:
            after = span_text(heard.silent_s) if math.isfinite(heard.silent_s) else ""
            if heard.on_ground:
                after = after if heard.silent_s > 0.0 else ""
                again = _("Heard again after {span}.", span=after) if after else ""
                more = joined(_measured(heard, units), again, _(AT_THE_LANDING))
                return Phrase(_("heard on the ground"), more=more)
            again = _("heard again after {span}", span=after) if after else _("heard again")
            alone = ""
            if heard.height_m is not None:
                high = altitude_text(heard.height_m, units)
                alone = _("Its height alone: {height}; where it is was not told.", height=high)
            return Phrase(again, more=joined(alone, _moved(alert, units)))
        case TouchdownSoon(landing=Landing() as landing) as soon if by_chance(landing):
            left = span_text(max(soon.remaining_s, 0.0)) if math.isfinite(soon.remaining_s) else ""
            return Phrase(
                _("probably down in about {span}", span=left) if left else _("touchdown soon"),
                more=lost_part(soon.loss, units),
            )
        case TouchdownSoon() as soon:
            known = math.isfinite(soon.remaining_s)
            return Phrase(
                _("touchdown in {span}", span=span_text(soon.remaining_s))
                if known
                else _("touchdown soon"),
                more=lost_part(soon.loss, units),
            )
        case ShouldBeDown(ago_s=float(since)) as down:
            return Phrase(
                _("probably down for {span}", span=span_text(since))
                if since >= 60.0
                else _("probably down"),
                more=joined(
                    _("By its drift and the time it lies there."),
                    _listen(down.hints),
                    _(AT_THE_LANDING),
                ),
            )
        case ShouldBeDown() as down:
            hints = " ".join(_(ON_GROUND[hint]) for hint in down.hints)
            return Phrase(
                _("should be down"),
                more=joined(_listen(down.hints), hints, _(AT_THE_LANDING)),
            )
        case Landed() as landed:
            return Phrase(_("landed"), more=joined(_measured(landed, units), _(AT_THE_LANDING)))
        case MovedAfterLanding() as carried:
            return Phrase(
                _moved_after(carried.moved_m, units),
                more=joined(
                    _(
                        "Someone may have found it, or the wind drags it. Keep the number on its"
                        " label free to be called."
                    ),
                    _(AT_THE_LANDING),
                ),
            )
        case CalledOff(back=True):
            return Phrase(
                _("is a flight after all"),
                more=_("That it was none has been taken back."),
            )
        case CalledOff(who=who):
            by = _("{who} said so.", who=who) if who else _("That was said on the page.")
            return Phrase(
                _("that was no flight"),
                first=_("Nothing to do: go by nothing that was told of it as a flight."),
                more=joined(by, _("If that is wrong, take it back on the page.")),
            )
        case StationNotice() as notice:
            first, _end, more = notice.more.partition("\n")
            return Phrase(notice.what, first=first or notice.what, more=more)


def is_about_landing(alert: Alert) -> bool:
    """Whether the message is likely to be read in a car on the way to the landing."""
    return alert.kind is not AlertKind.STATION and (
        alert.point is not None or alert.phase in (Phase.DESCENT, Phase.LANDED)
    )


def _silent(alert: Alert, silence: Silent, units: Units, order: str) -> Phrase:
    known = math.isfinite(silence.silent_s)
    what = _("silent for {span}", span=span_text(silence.silent_s)) if known else _("silent")
    falling = alert.phase is Phase.DESCENT
    check = _("Check receiver, antenna and network.")
    first, more = order, ""
    match silence.cause:
        case SilenceCause.SOURCE_AWAY:
            first = _("Mend the source {source} first: it is not connected.", source=silence.source)
            more = order if falling else ""
        case SilenceCause.STILL_ABOVE_CEILING:
            more = joined(
                _("It should be below its receiver's ceiling by now and be heard."), check
            )
        case SilenceCause.NOT_EXPECTED:
            more = joined(_("Not expected: it should be well in reach."), check if falling else "")
        case SilenceCause.NOT_EXPECTED_WITHOUT_BASE:
            more = joined(
                _("Not expected, as far as can be told without a place for base."),
                check if falling else "",
            )
        case SilenceCause.BELOW_HORIZON:
            more = _("As expected, below the horizon of base.")
        case SilenceCause.DOWN:
            more = _("It should be down by now, near the landing point.")
    if falling:
        more = joined(more, _(AT_THE_LANDING))
    return Phrase(
        what,
        first=first,
        more=joined(more, by_now_part(silence.by_now, silence.by_now_90_m, units)),
    )


def _listen(hints: tuple[OnGround, ...]) -> str:
    """Nobody hears from a hill what speaks to satellites or networks only."""
    if hints and OnGround.RADIO_REACHES_LITTLE not in hints:
        return ""
    return _("Listen from high places.")


def _measured(landed: Landed | HeardAgain, units: Units) -> str:
    fixes, within_m = landed.fixes, landed.within_m
    if fixes is None or fixes < 2 or within_m is None or not math.isfinite(within_m):
        return ""
    if within_m < ONE_PLACE_M:
        return _("{count} fixes at one place.", count=number(fixes))
    within = distance_text(within_m, units)
    return _("{count} fixes within {distance}.", count=number(fixes), distance=within)


def _launched(ago_s: float | None) -> str:
    if ago_s is None or not math.isfinite(ago_s):
        return _("launched")
    return _("launched about {span} ago", span=span_text(ago_s))


def _tell_responsible(inside: MayLandInside) -> str:
    if not math.isfinite(inside.share):
        return _("Tell those responsible for {area} that it lands there.", area=_(inside.area))
    return _(
        "Tell those responsible for {area}: {percent} % chance that it lands there.",
        area=_(inside.area),
        percent=number(100.0 * inside.share),
    )


def _off_plan(off: OffPlan, units: Units) -> str:
    if not math.isfinite(off.off_m):
        return _("landing off the plan")
    return _(
        "landing {distance} {way} of the plan",
        distance=distance_text(off.off_m, units),
        way=towards_part(off.bearing_deg),
    )


def _disagree(apart_m: float, units: Units) -> str:
    if not math.isfinite(apart_m):
        return _("trackers disagree")
    return _("trackers disagree by {distance}", distance=distance_text(apart_m, units))


def _moved_after(moved_m: float, units: Units) -> str:
    if not math.isfinite(moved_m):
        return _("moved after landing")
    return _("moved {distance} after landing", distance=distance_text(moved_m, units))


def _landing_moved(alert: Alert, units: Units) -> str:
    way = _by_way(alert, units)
    return _("landing moved {way}", way=way) if way else _("landing point known")


def _moved(alert: Alert, units: Units) -> str:
    way = _by_way(alert, units)
    if not way:
        return ""
    return _("The landing point has moved {way} since it was last told.", way=way)


def _by_way(alert: Alert, units: Units) -> str:
    """How far and which way the point moved; "" where it did not."""
    moved = alert.moved
    if moved is None or not MOVED_FROM_M <= moved.distance_m < math.inf:
        return ""
    return f"{distance_text(moved.distance_m, units)} {towards_part(moved.bearing_deg)}".strip()
