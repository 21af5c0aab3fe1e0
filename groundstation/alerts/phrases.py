"""What each kind of alert says: the short form for the title, and what to do."""

import math
from dataclasses import dataclass
from typing import Final

from groundstation.alert_records import (
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
    Place,
    ShouldBeDown,
    SignalLoss,
    SilenceCause,
    Silent,
    StationNotice,
    StillClimbing,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    rate_text,
    rough_position_text,
    span_text,
)
from groundstation.records import AlertKind, Phase
from groundstation.units import Units

FOR_THE_PASSENGER: Final = "For the passenger: don't read while driving."
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


SURELY_NOT: Final = 0.1


@dataclass(frozen=True, slots=True)
class Phrase:
    """``what`` follows the payload's name in the title; ``more`` and ``note`` add to it in the
    body."""

    what: str
    more: str = ""
    note: str = ""
    advice: str = ""


def phrase(alert: Alert, units: Units) -> Phrase:
    """The words for ``alert``; any number in it may be none that is known."""
    match alert.facts:
        case Launched() as launch:
            return Phrase(
                f"launched{_ago(launch.ago_s)}", advice="Check that every tracker is heard."
            )
        case Burst(chance=likely) as burst if likely is not None:
            return Phrase(
                "has probably burst",
                more=f"The chance is {100.0 * likely:.0f} %: no height tells it, the way it drifts"
                f" and the time do.{_between(burst.ago_90_s)}",
                advice="Head for the landing region.",
            )
        case Burst() as burst:
            planned = _height(burst.planned_m, units)
            return Phrase(
                f"burst{_at(burst.altitude_m, units)}",
                more=planned and f"Planned was {planned}.",
                advice="Falling now. Head for the landing region.",
            )
        case Floating() as floating:
            return Phrase(
                f"floating{_at(floating.altitude_m, units)}",
                more="It has stopped climbing without a burst and may drift far.",
                advice=TELL_THOSE_NOTIFIED,
            )
        case FallingFast() as fall:
            return Phrase(
                f"falling fast{_rate(fall.descent_rate_ms, units)}",
                more=f"{_planned(fall.planned_ms, units)}The parachute may be tangled or lost.",
                advice="It lands sooner and hard: keep clear of the landing region.",
            )
        case FallingSlowly() as fall:
            return Phrase(
                f"falling slowly{_rate(fall.descent_rate_ms, units)}",
                more=f"{_planned(fall.planned_ms, units)}Part of the balloon may still be"
                " attached.",
                advice="It lands later and farther downwind.",
            )
        case LandingMoved() as move:
            climbing = alert.phase in (Phase.ASCENT, Phase.FLOAT)
            return Phrase(
                f"landing moved{_way(move.moved_m, move.bearing_deg, units)}",
                advice=_before_burst(move) if climbing else "Head for the new point.",
            )
        case MayLandInside() as inside:
            known = math.isfinite(inside.share)
            chance = f" The chance is {100.0 * inside.share:.0f} % now." if known else ""
            return Phrase(
                "may land where it must not",
                more=f"It may come down in {inside.area}.{chance}",
                advice="Tell those who must know of it there, by the number you agreed on.",
            )
        case OffPlan() as off:
            return Phrase(
                f"landing{_way(off.off_m, off.bearing_deg, units)} of the plan",
                more="The forecast and the flight no longer agree: go by the flight.",
                advice="If that is not where you gave notice of, tell those you notified.",
            )
        case ClimbingFast() as climb:
            return Phrase(
                f"climbing fast{_rate(climb.ascent_rate_ms, units)}",
                more=f"{_planned(climb.planned_ms, units)}It likely has more gas than planned: it"
                " bursts lower and sooner.",
                advice="Be ready for the landing earlier than planned.",
            )
        case ClimbingSlowly() as climb:
            return Phrase(
                f"climbing slowly{_rate(climb.ascent_rate_ms, units)}",
                more=f"{_planned(climb.planned_ms, units)}It may have too little gas, or leak: it"
                " flies longer and farther, and may float.",
                advice=TELL_THOSE_NOTIFIED,
            )
        case StillClimbing() as climb:
            return Phrase(
                f"still climbing{_at(climb.altitude_m, units)}",
                more="It is well above the planned burst height, so it lands later and elsewhere.",
                advice=TELL_THOSE_NOTIFIED,
            )
        case AltitudeFrozen() as frozen:
            return Phrase(
                f"height stands still{_at(frozen.altitude_m, units)}",
                more="It moves on, so the tracker's receiver is likely at its ceiling. Its heights"
                " are left out; the estimate goes by the clock.",
            )
        case TrackersDisagree() as trackers:
            return Phrase(
                f"trackers disagree{_by(trackers.apart_m, units, 'by ')}",
                more="One of them is wrong, or they have come apart. The landing region is wider.",
                advice="Look at the fixes of each before you trust the point.",
            )
        case Silent() as silence:
            return _silent(alert, silence, units)
        case HeardAgain() as heard:
            known = math.isfinite(heard.silent_s)
            return Phrase(f"heard again{f' after {span_text(heard.silent_s)}' if known else ''}")
        case TouchdownSoon() as soon:
            known = math.isfinite(soon.remaining_s)
            return Phrase(
                f"touchdown {f'in {span_text(soon.remaining_s)}' if known else 'soon'}",
                more=_lost(soon.loss, units),
                advice="Stop where it is safe, with a free view of the sky, and listen.",
            )
        case ShouldBeDown(ago_s=since) if since is not None:
            return Phrase(
                f"probably down{f' for {span_text(since)}' if since >= 60.0 else ''}",
                more="By its drift and the time it lies within the region. Search from its middle"
                " outwards, and listen from high places.",
                advice=AT_THE_LANDING,
            )
        case ShouldBeDown():
            return Phrase(
                "should be down",
                more="Nothing was heard from the ground. Search within the region, from its middle"
                " outwards, and listen from high places.",
                advice=AT_THE_LANDING,
            )
        case Landed():
            return Phrase("landed", advice=AT_THE_LANDING)
        case MovedAfterLanding() as carried:
            return Phrase(
                f"moved{_by(carried.moved_m, units)} after landing",
                more="Someone may have found it, or the wind drags it.",
                advice=f"Keep the number on its label free to be called. {AT_THE_LANDING}",
            )
        case StationNotice() as notice:
            return Phrase(notice.what, more=notice.more)


def is_about_landing(alert: Alert) -> bool:
    """Whether the message is likely to be read in a car on the way to the landing."""
    return alert.kind not in (AlertKind.LAUNCHED, AlertKind.STATION) and (
        alert.landing is not None or alert.phase in (Phase.DESCENT, Phase.LANDED)
    )


def silence_meaning(silence: Silent) -> str:
    """What the silence is taken to mean, in a sentence or several."""
    match silence.cause:
        case SilenceCause.SOURCE_AWAY:
            return (
                f"The source it was last heard by, {silence.source}, is not connected: mend that"
                " first."
            )
        case SilenceCause.DOWN:
            hints = [ON_GROUND[hint] for hint in silence.on_ground]
            return " ".join(["It should be down by now, near the landing point.", *hints])
        case SilenceCause.BELOW_HORIZON:
            return "As expected, below the horizon of base."
        case SilenceCause.STILL_ABOVE_CEILING:
            return (
                "It should have come down below its receiver's ceiling by now and be heard again."
            )
        case SilenceCause.NOT_EXPECTED:
            return "Not expected here: it should be well in reach."
        case SilenceCause.NOT_EXPECTED_WITHOUT_BASE:
            return "Not expected here, as far as can be told without a place for base."


def _silent(alert: Alert, silence: Silent, units: Units) -> Phrase:
    since = f" for {span_text(silence.silent_s)}" if math.isfinite(silence.silent_s) else ""
    advice = "No need to act yet."
    if not silence.expected:
        then = "" if silence.landing is None else " Go on by the estimate."
        advice = f"Check receiver, antenna and network.{then}"
    if alert.phase in (Phase.DESCENT, Phase.LANDED):
        advice = f"{advice} {AT_THE_LANDING}"
    return Phrase(
        f"silent{since}{', as expected' if silence.expected else ''}",
        more=_by_now(silence.by_now, units),
        note=silence_meaning(silence),
        advice=advice,
    )


def _ago(ago_s: float | None) -> str:
    return f" about {span_text(ago_s)} ago" if ago_s is not None and math.isfinite(ago_s) else ""


def _between(ago_s: tuple[float, float] | None) -> str:
    if ago_s is None or not all(map(math.isfinite, ago_s)):
        return ""
    if ago_s[1] < 60.0:
        return f" Within the last {span_text(ago_s[0])} (90 %)."
    return f" Between {span_text(ago_s[0])} and {span_text(ago_s[1])} ago (90 %)."


def _before_burst(move: LandingMoved) -> str:
    progress = None if move.landing is None else move.landing.progress
    if progress is not None and progress.chance.burst > SURELY_NOT:
        return "It may have burst already: plan by the region, not by the point."
    return "It has not burst yet: plan by the region, not by the point."


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
