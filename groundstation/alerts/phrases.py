"""What each kind of alert says: the short form for the title, and what to do."""

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
from groundstation.records import Alert, AlertKind, Phase
from groundstation.units import Units

FOR_THE_PASSENGER: Final = "For the passenger: don't read while driving."
AT_THE_LANDING: Final = (
    "Keep away from power lines and water. Ask before entering private land. "
    "Local rules come first."
)


@dataclass(frozen=True, slots=True)
class Phrase:
    """``what`` follows the payload's name in the title; ``more`` adds to it in the body."""

    what: str
    more: str = ""
    advice: str = ""


def phrase(alert: Alert, units: Units) -> Phrase:
    """The words for ``alert``; any figure may be missing."""
    match alert.kind:
        case AlertKind.LAUNCHED:
            return Phrase("launched", advice="Check that every tracker is heard.")
        case AlertKind.BURST:
            height = _figure(alert, "burst_altitude_m")
            at = "" if height is None else f" at {altitude_text(height, units)}"
            planned = _figure(alert, "planned_burst_m")
            return Phrase(
                f"burst{at}",
                more="" if planned is None else f"Planned was {altitude_text(planned, units)}.",
                advice="Falling now. Head for the landing region.",
            )
        case AlertKind.FLOATING:
            height = _figure(alert, "float_altitude_m")
            at = "" if height is None else f" at {altitude_text(height, units)}"
            return Phrase(
                f"floating{at}",
                more="It has stopped climbing without a burst and may drift far.",
                advice="If it may leave the area you gave notice of, tell those you notified.",
            )
        case AlertKind.FALLING_FAST:
            return Phrase(
                f"falling fast{_rate(alert, 'descent', units)}",
                more=f"{_planned(alert, 'descent', units)}The parachute may be tangled or lost.",
                advice="It lands sooner and hard: keep clear of the landing region.",
            )
        case AlertKind.FALLING_SLOWLY:
            return Phrase(
                f"falling slowly{_rate(alert, 'descent', units)}",
                more=f"{_planned(alert, 'descent', units)}Part of the balloon may still be"
                " attached.",
                advice="It lands later and farther downwind.",
            )
        case AlertKind.LANDING_MOVED:
            moved, bearing = _figure(alert, "moved_m"), _figure(alert, "bearing_deg")
            by = "" if moved is None else f" {distance_text(moved, units)}"
            towards = "" if bearing is None else f" {compass_text(bearing)}"
            climbing = alert.phase in (Phase.ASCENT, Phase.FLOAT)
            return Phrase(
                f"landing moved{by}{towards}",
                advice="It has not burst yet: plan by the region, not by the point."
                if climbing
                else "Head for the new point.",
            )
        case AlertKind.KEEP_OUT:
            share = _figure(alert, "share")
            chance = "" if share is None else f" The chance is {100.0 * share:.0f} % now."
            area = alert.note or "an area to keep out of"
            return Phrase(
                "may land where it must not",
                more=f"It may come down in {area}.{chance}",
                advice="Tell those who must know of it there, by the number you agreed on.",
            )
        case AlertKind.OFF_PLAN:
            off, bearing = _figure(alert, "off_m"), _figure(alert, "bearing_deg")
            by = "" if off is None else f" {distance_text(off, units)}"
            towards = "" if bearing is None else f" {compass_text(bearing)}"
            return Phrase(
                f"landing{by}{towards} of the plan",
                more="The forecast and the flight no longer agree: go by the flight.",
                advice="If that is not where you gave notice of, tell those you notified.",
            )
        case AlertKind.CLIMBING_FAST:
            return Phrase(
                f"climbing fast{_rate(alert, 'ascent', units)}",
                more=f"{_planned(alert, 'ascent', units)}It likely has more gas than planned: it"
                " bursts lower and sooner.",
                advice="Be ready for the landing earlier than planned.",
            )
        case AlertKind.CLIMBING_SLOWLY:
            return Phrase(
                f"climbing slowly{_rate(alert, 'ascent', units)}",
                more=f"{_planned(alert, 'ascent', units)}It may have too little gas, or leak: it"
                " flies longer and farther, and may float.",
                advice="If it may leave the area you gave notice of, tell those you notified.",
            )
        case AlertKind.STILL_CLIMBING:
            height = _figure(alert, "altitude_m")
            at = "" if height is None else f" at {altitude_text(height, units)}"
            return Phrase(
                f"still climbing{at}",
                more="It is well above the planned burst height, so it lands later and elsewhere.",
                advice="If it may leave the area you gave notice of, tell those you notified.",
            )
        case AlertKind.ALTITUDE_FROZEN:
            height = _figure(alert, "altitude_m")
            at = "" if height is None else f" at {altitude_text(height, units)}"
            return Phrase(
                f"height stands still{at}",
                more="It moves on, so the tracker's receiver is likely at its ceiling. Its heights"
                " are left out; the estimate goes by the clock.",
            )
        case AlertKind.TRACKERS_DISAGREE:
            apart = _figure(alert, "apart_m")
            by = "" if apart is None else f" by {distance_text(apart, units)}"
            return Phrase(
                f"trackers disagree{by}",
                more="One of them is wrong, or they have come apart. The landing region is wider.",
                advice="Look at the fixes of each before you trust the point.",
            )
        case AlertKind.SILENT:
            return _silent(alert, units)
        case AlertKind.HEARD_AGAIN:
            silent = _figure(alert, "silent_s")
            after = "" if silent is None else f" after {span_text(silent)}"
            return Phrase(f"heard again{after}")
        case AlertKind.TOUCHDOWN_SOON:
            left = _figure(alert, "remaining_s")
            within = " soon" if left is None else f" in {span_text(left)}"
            return Phrase(
                f"touchdown{within}",
                more=_lost(alert, units),
                advice="Stop where it is safe, with a free view of the sky, and listen.",
            )
        case AlertKind.SHOULD_BE_DOWN:
            return Phrase(
                "should be down",
                more="Nothing was heard from the ground. Search within the region, from its middle"
                " outwards, and listen from high places.",
                advice=AT_THE_LANDING,
            )
        case AlertKind.LANDED:
            return Phrase("landed", advice=AT_THE_LANDING)
        case AlertKind.MOVED_AFTER_LANDING:
            moved = _figure(alert, "moved_m")
            by = "" if moved is None else f" {distance_text(moved, units)}"
            return Phrase(
                f"moved{by} after landing",
                more="Someone may have found it, or the wind drags it.",
                advice=f"Keep the number on its label free to be called. {AT_THE_LANDING}",
            )
        case AlertKind.STATION:
            return _of_station(alert)


def _of_station(alert: Alert) -> Phrase:
    what, _, more = alert.note.partition("\n")
    return Phrase(what or "about the station", more=more)


def is_about_landing(alert: Alert) -> bool:
    """Whether the message is likely to be read in a car on the way to the landing."""
    return alert.kind not in (AlertKind.LAUNCHED, AlertKind.STATION) and (
        alert.landing is not None or alert.phase in (Phase.DESCENT, Phase.LANDED)
    )


def _lost(alert: Alert, units: Units) -> str:
    height, left = _figure(alert, "lost_agl_m"), _figure(alert, "lost_in_s")
    if height is None or left is None:
        return ""
    return (
        f"Base will lose it below about {altitude_text(height, units)} above ground,"
        f" in {span_text(left)}."
    )


def _silent(alert: Alert, units: Units) -> Phrase:
    silent = _figure(alert, "silent_s")
    since = "" if silent is None else f" for {span_text(silent)}"
    expected = bool(_figure(alert, "expected"))
    advice = "No need to act yet."
    if not expected:
        then = "" if alert.landing is None else " Go on by the estimate."
        advice = f"Check receiver, antenna and network.{then}"
    if alert.phase in (Phase.DESCENT, Phase.LANDED):
        advice = f"{advice} {AT_THE_LANDING}"
    return Phrase(
        f"silent{since}{', as expected' if expected else ''}",
        more=_about_now(alert, units),
        advice=advice,
    )


def _about_now(alert: Alert, units: Units) -> str:
    latitude, longitude = _figure(alert, "now_latitude_deg"), _figure(alert, "now_longitude_deg")
    if latitude is None or longitude is None:
        return ""
    height = _figure(alert, "now_altitude_m")
    at = "" if height is None else f", at about {altitude_text(height, units)}"
    return f"By now it should be near {rough_position_text(latitude, longitude)}{at}."


def _rate(alert: Alert, way: str, units: Units) -> str:
    rate = _figure(alert, f"{way}_rate_ms")
    return "" if rate is None else f", {rate_text(rate, units)}"


def _planned(alert: Alert, way: str, units: Units) -> str:
    planned = _figure(alert, f"planned_{way}_rate_ms")
    return "" if planned is None else f"Planned was {rate_text(planned, units)}. "


def _figure(alert: Alert, name: str) -> float | None:
    value = alert.figures.get(name)
    return None if value is None or not math.isfinite(value) else value
