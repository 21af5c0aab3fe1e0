"""What each kind of alert says: what happened, for the title; what to do; and what follows."""

import math
from dataclasses import dataclass
from typing import Final

from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    rate_text,
    rough_position_text,
    span_text,
)
from groundstation.flight.alert_records import (
    Alert,
    AltitudeFrozen,
    Burst,
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
    SignalLoss,
    SilenceCause,
    Silent,
    StationNotice,
    StillClimbing,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.records import AlertKind, Phase, Place
from groundstation.units import Units

FOR_THE_PASSENGER: Final = "For the passenger: don't read while driving."
MOVED_FROM_M: Final = 50.0
"""A point that moved by less is told as where it was. Own choice: the way of a person who looks."""
AT_THE_LANDING: Final = (
    "Keep away from power lines and water. Ask before entering private land. "
    "Local rules come first."
)
TELL_THOSE_NOTIFIED: Final = "If it may leave the area you gave notice of, tell those you notified."
ON_GROUND: Final = {
    OnGround.RADIO_REACHES_LITTLE: "On the ground a radio is heard from a few kilometres at most,"
    " from high places farther.",
    OnGround.CELLULAR_NEEDS_NETWORK: "A cellular tag reports once it finds a network, which may"
    " take long.",
    OnGround.NEEDS_SKY: "Upside down or under trees it can't reach the sky and may stay silent.",
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
        case Launched() as launch:
            return Phrase(
                f"launched{_ago(launch.ago_s)}", more="Check that every tracker is heard."
            )
        case Burst(chance=likely) as burst if likely is not None:
            return Phrase(
                "has probably burst",
                more=f"The chance is {100.0 * likely:.0f} %: no height tells it, the way it drifts"
                f" and the time do.{_between(burst.ago_90_s)}",
            )
        case Burst() as burst:
            planned = _height(burst.planned_m, units)
            return Phrase(
                f"burst{_at(burst.altitude_m, units)}",
                more=_joined(_moved(alert, units), planned and f"Planned was {planned}."),
            )
        case Floating() as floating:
            return Phrase(f"floating{_at(floating.altitude_m, units)}", more=TELL_THOSE_NOTIFIED)
        case FallingFast() as fall:
            return Phrase(
                f"falling fast{_rate(fall.descent_rate_ms, units)}",
                first=f"Keep clear, it comes down hard. {order}",
                more=f"{_planned(fall.planned_ms, units)}The parachute may be tangled or lost.",
            )
        case FallingSlowly() as fall:
            return Phrase(
                f"falling slowly{_rate(fall.descent_rate_ms, units)}",
                more=f"{_planned(fall.planned_ms, units)}Part of the balloon may still be"
                " attached: it lands later and farther downwind.",
            )
        case LandingMoved() if alert.instruction is not None and alert.instruction.where is None:
            return Phrase("landing unsure again", first=f"Drop the point told before. {order}")
        case LandingMoved():
            return Phrase(f"landing{_by_way(alert, units) or ' point known'}")
        case MayLandInside() as inside:
            known = math.isfinite(inside.share)
            chance = f": {100.0 * inside.share:.0f} % chance" if known else ""
            return Phrase(
                "may land where it must not",
                first=f"Tell those responsible for {inside.area}{chance} that it lands there.",
                more=order,
            )
        case OffPlan() as off:
            return Phrase(
                f"landing{_way(off.off_m, off.bearing_deg, units)} of the plan",
                first=f"Go by the flight, not by the plan. {order}",
                more="If that is not where you gave notice of, tell those you notified.",
            )
        case ClimbingFast() as climb:
            return Phrase(
                f"climbing fast{_rate(climb.ascent_rate_ms, units)}",
                first="Be ready early: with more gas than planned it bursts lower and sooner.",
                more=_planned(climb.planned_ms, units),
            )
        case ClimbingSlowly() as climb:
            return Phrase(
                f"climbing slowly{_rate(climb.ascent_rate_ms, units)}",
                first="Expect a longer and farther flight: it may have too little gas, or leak.",
                more=_joined(_planned(climb.planned_ms, units), TELL_THOSE_NOTIFIED),
            )
        case StillClimbing() as climb:
            return Phrase(
                f"still climbing{_at(climb.altitude_m, units)}",
                first="Expect it later and elsewhere: it is well above its planned burst.",
                more=TELL_THOSE_NOTIFIED,
            )
        case AltitudeFrozen() as frozen:
            return Phrase(
                f"height stands still{_at(frozen.altitude_m, units)}",
                first="Go by the region: its heights are left out, the estimate goes by the clock.",
                more="It moves on, so the tracker's receiver is likely at its ceiling.",
            )
        case TrackersDisagree() as trackers:
            return Phrase(
                f"trackers disagree{_by(trackers.apart_m, units, 'by ')}",
                first="Look at the fixes of each tracker before you trust the point.",
                more="One of them is wrong, or they have come apart. The landing region is wider.",
            )
        case Silent() as silence:
            return _silent(alert, silence, units, order)
        case HeardAgain() as heard:
            known = math.isfinite(heard.silent_s)
            after = f" after {span_text(heard.silent_s)}" if known else ""
            if heard.on_ground:
                return Phrase("heard on the ground", more=f"Heard again{after}. {AT_THE_LANDING}")
            return Phrase(f"heard again{after}", more=_moved(alert, units))
        case TouchdownSoon() as soon:
            known = math.isfinite(soon.remaining_s)
            return Phrase(
                f"touchdown {f'in {span_text(soon.remaining_s)}' if known else 'soon'}",
                more=_lost(soon.loss, units),
            )
        case ShouldBeDown(ago_s=since) if since is not None:
            return Phrase(
                f"probably down{f' for {span_text(since)}' if since >= 60.0 else ''}",
                more=_joined(
                    "By its drift and the time it lies there. Listen from high places.",
                    AT_THE_LANDING,
                ),
            )
        case ShouldBeDown() as down:
            hints = " ".join(ON_GROUND[hint] for hint in down.hints)
            return Phrase(
                "should be down",
                more=_joined("Listen from high places.", hints, AT_THE_LANDING),
            )
        case Landed() as landed:
            return Phrase("landed", more=_joined(_measured(landed, units), AT_THE_LANDING))
        case MovedAfterLanding() as carried:
            return Phrase(
                f"moved{_by(carried.moved_m, units)} after landing",
                more="Someone may have found it, or the wind drags it. Keep the number on its"
                f" label free to be called. {AT_THE_LANDING}",
            )
        case StationNotice() as notice:
            first, _, more = notice.more.partition("\n")
            return Phrase(notice.what, first=first or notice.what, more=more)


def is_about_landing(alert: Alert) -> bool:
    """Whether the message is likely to be read in a car on the way to the landing."""
    return alert.kind is not AlertKind.STATION and (
        alert.point is not None or alert.phase in (Phase.DESCENT, Phase.LANDED)
    )


def _silent(alert: Alert, silence: Silent, units: Units, order: str) -> Phrase:
    since = f" for {span_text(silence.silent_s)}" if math.isfinite(silence.silent_s) else ""
    falling = alert.phase is Phase.DESCENT
    check = "Check receiver, antenna and network."
    first, more = order, ""
    match silence.cause:
        case SilenceCause.SOURCE_AWAY:
            first = f"Mend the source {silence.source} first: it is not connected."
            more = order if falling else ""
        case SilenceCause.STILL_ABOVE_CEILING:
            more = f"It should be below its receiver's ceiling by now and be heard. {check}"
        case SilenceCause.NOT_EXPECTED:
            more = f"Not expected: it should be well in reach.{f' {check}' if falling else ''}"
        case SilenceCause.NOT_EXPECTED_WITHOUT_BASE:
            more = (
                "Not expected, as far as can be told without a place for base."
                f"{f' {check}' if falling else ''}"
            )
        case SilenceCause.BELOW_HORIZON:
            more = "As expected, below the horizon of base."
        case SilenceCause.DOWN:
            more = "It should be down by now, near the landing point."
    if falling:
        more = f"{more} {AT_THE_LANDING}"
    return Phrase(f"silent{since}", first=first, more=_joined(more, _by_now(silence.by_now, units)))


def _measured(landed: Landed, units: Units) -> str:
    few = landed.fixes is None or landed.fixes < 2
    if few or landed.within_m is None or not math.isfinite(landed.within_m):
        return ""
    if landed.within_m < ONE_PLACE_M:
        return f"{landed.fixes} fixes at one place."
    return f"{landed.fixes} fixes within {distance_text(landed.within_m, units)}."


def _moved(alert: Alert, units: Units) -> str:
    way = _by_way(alert, units)
    return way and f"The landing point has{way} since it was last told."


def _by_way(alert: Alert, units: Units) -> str:
    moved = alert.moved
    if moved is None or not MOVED_FROM_M <= moved.distance_m < math.inf:
        return ""
    return f" moved{_way(moved.distance_m, moved.bearing_deg, units)}"


def _ago(ago_s: float | None) -> str:
    return f" about {span_text(ago_s)} ago" if ago_s is not None and math.isfinite(ago_s) else ""


def _between(ago_s: tuple[float, float] | None) -> str:
    if ago_s is None or not all(map(math.isfinite, ago_s)):
        return ""
    if ago_s[1] < 60.0:
        return f" Within the last {span_text(ago_s[0])} (90 %)."
    return f" Between {span_text(ago_s[0])} and {span_text(ago_s[1])} ago (90 %)."


def _lost(loss: SignalLoss | None, units: Units) -> str:
    if loss is None or not (math.isfinite(loss.agl_m) and math.isfinite(loss.in_s)):
        return ""
    return (
        f"Base will lose it below about {altitude_text(loss.agl_m, units)} above ground,"
        f" in {span_text(loss.in_s)}."
    )


def _by_now(place: Place | None, units: Units) -> str:
    if place is None or not math.isfinite(place.latitude_deg + place.longitude_deg):
        return ""
    height = _height(place.altitude_m, units)
    at = height and f", at about {height}"
    where = rough_position_text(place.latitude_deg, place.longitude_deg)
    return f"By now it should be near {where}{at}."


def _joined(*parts: str) -> str:
    return " ".join(part.strip() for part in parts if part)


def _height(altitude_m: float | None, units: Units) -> str:
    known = altitude_m is not None and math.isfinite(altitude_m)
    return altitude_text(altitude_m, units) if altitude_m is not None and known else ""


def _at(altitude_m: float | None, units: Units) -> str:
    height = _height(altitude_m, units)
    return height and f" at {height}"


def _rate(rate_ms: float, units: Units) -> str:
    return f", {rate_text(rate_ms, units)}" if math.isfinite(rate_ms) else ""


def _planned(rate_ms: float | None, units: Units) -> str:
    if rate_ms is None or not math.isfinite(rate_ms):
        return ""
    return f"Planned was {rate_text(rate_ms, units)}. "


def _by(distance_m: float, units: Units, word: str = "") -> str:
    return f" {word}{distance_text(distance_m, units)}" if math.isfinite(distance_m) else ""


def _way(distance_m: float, bearing_deg: float, units: Units) -> str:
    towards = f" {compass_text(bearing_deg)}" if math.isfinite(bearing_deg) else ""
    return f"{_by(distance_m, units)}{towards}"
