"""Alerts in words, for the lock screen of a phone. Pure: ages count from the alert's own time."""

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.alert_records import Alert, Message
from groundstation.alerts.phrases import FOR_THE_PASSENGER, is_about_landing, phrase
from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    position_text,
    span_text,
    time_text,
)
from groundstation.errors import ConfigurationError
from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import AlertKind, Fix, Landing, Phase
from groundstation.units import Units

LONGEST_TITLE: Final = 50
"""Characters that the lock screens of common phones show on one line; common practice, no
source."""

LONGEST_WHAT: Final = 36
"""Leaves twelve characters for the payload, so that two of them can be told apart."""

VEHICLE_OLD_S: Final = 120.0
VEHICLE_KNOWN_S: Final = 3_600.0
"""A vehicle's place is told with its age, and not at all once it says nothing. Own choices."""

NAMES_LAST_FIX: Final = (AlertKind.SILENT, AlertKind.SHOULD_BE_DOWN, AlertKind.LANDED)

BESIDE_THE_PLAN: Final = (AlertKind.BURST, AlertKind.FLOATING, AlertKind.LANDED)

REHEARSAL: Final = "Rehearsal: "

OPEN_MAP: Final = "https://www.openstreetmap.org/?mlat={lat}&mlon={lon}#map=13/{lat}/{lon}"


@dataclass(frozen=True, slots=True, kw_only=True)
class WordingSettings:
    """How messages are worded.

    ``timezone`` is a name such as "Europe/Budapest". ``map_link`` has {lat} and {lon} where
    the coordinates go; "geo:{lat},{lon}" (RFC 5870) opens the phone's own map, "" leaves the
    link out. Without ``base`` no distances are given. In a ``rehearsal`` every message says so
    first. ``planned`` is where payloads were to land. Raises ``ConfigurationError``.
    """

    units: Units = Units.METRIC
    timezone: str = "UTC"
    base: BaseSettings | None = None
    map_link: str = OPEN_MAP
    rehearsal: bool = False
    planned: Mapping[str, PlannedLanding | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _zone(self.timezone)
        try:
            self.map_link.format(lat="0", lon="0")
        except (LookupError, ValueError, AttributeError) as error:
            raise ConfigurationError(
                f"map_link {self.map_link!r} can't be filled in ({error}); "
                "only {lat} and {lon} may stand in braces"
            ) from error


def render(alert: Alert, settings: WordingSettings, vehicles: Sequence[Fix] = ()) -> Message:
    """The message for ``alert``: a title that says it all, and a body for who wants more.

    ``vehicles`` are where those are who look for it; ``payload`` is their name.
    """
    words = phrase(alert, settings.units)
    point = _point(alert)
    lines = [
        _sentence(alert, words.what, settings),
        words.more,
        words.note,
        *_where(alert, point, settings, vehicles),
        _last_heard(alert, settings),
        words.advice,
        ""
        if point is None
        else settings.map_link.format(lat=f"{point[0]:.5f}", lon=f"{point[1]:.5f}"),
        _last_line(alert),
    ]
    return Message(
        alert=alert,
        title=f"{REHEARSAL if settings.rehearsal else ''}{_title(alert.payload, words.what)}",
        body="\n".join(line for line in lines if line),
    )


def _last_line(alert: Alert) -> str:
    caution = f"{FOR_THE_PASSENGER} " if is_about_landing(alert) else ""
    return f"{caution}#{short_id(alert.key.text)}"


def short_id(key: str) -> str:
    """Six characters from which a person sees that two messages are the same one."""
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()[:6]


def _title(payload: str, what: str) -> str:
    what = _cut(what, LONGEST_WHAT)
    name = _cut(" ".join(payload.split()), LONGEST_TITLE - len(what) - 2)
    return f"{name}: {what}"


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _sentence(alert: Alert, what: str, settings: WordingSettings) -> str:
    when = time_text(alert.time_utc, _zone(settings.timezone), zone_name=True)
    return f"{what[0].upper()}{what[1:]}. {when}."


def _point(alert: Alert) -> tuple[float, float] | None:
    place = _place(alert)
    if place is None:
        return None
    point = (place.latitude_deg, place.longitude_deg)
    known = abs(point[0]) <= 90.0 and math.isfinite(point[1])
    return point if known else None


def _place(alert: Alert) -> Fix | Landing | None:
    match alert.kind:
        case AlertKind.LAUNCHED | AlertKind.MOVED_AFTER_LANDING:
            return alert.fix
        case AlertKind.LANDED:
            fix, landing = alert.fix, alert.landing
            if fix and landing and fix.time_utc > landing.evidence_utc:
                return fix
            return landing or fix
        case _:
            return alert.landing or alert.fix


def _where(
    alert: Alert,
    point: tuple[float, float] | None,
    settings: WordingSettings,
    vehicles: Sequence[Fix],
) -> list[str]:
    if point is None:
        return []
    landing = alert.landing if _place(alert) is alert.landing else None
    name = "Position" if landing is None else "Landing point"
    lines = [f"{name} {position_text(*point)}"]
    for vehicle in vehicles:
        age_s = alert.time_utc - vehicle.received_utc
        if age_s <= VEHICLE_KNOWN_S:
            old = f", {span_text(age_s)} ago" if age_s >= VEHICLE_OLD_S else ""
            lines.append(f"{_from(vehicle, point, settings)} of {vehicle.payload}{old}")
    if settings.base is not None:
        lines.append(f"{_from(settings.base, point, settings)} of base")
    planned = settings.planned.get(alert.payload)
    if planned is not None and alert.kind in BESIDE_THE_PLAN:
        lines.append(f"{_from(planned, point, settings)} of the planned landing")
    if landing is not None:
        near, far = (
            distance_text(radius, settings.units)
            for radius in (landing.radius_50_m, landing.radius_90_m)
        )
        lines.append(f"Within {near} (50 %), {far} (90 %)")
        if landing.phase is not Phase.LANDED and alert.kind is not AlertKind.LANDED:
            zone = _zone(settings.timezone)
            first, last = (time_text(eta_utc, zone) for eta_utc in landing.eta_90_utc)
            lines.append(f"Touchdown {time_text(landing.eta_utc, zone)} ({first} to {last})")
    return lines


def _from(
    place: BaseSettings | PlannedLanding | Fix,
    point: tuple[float, float],
    settings: WordingSettings,
) -> str:
    away, bearing = distance_bearing(place.latitude_deg, place.longitude_deg, *point)
    return (
        f"{distance_text(away, settings.units)} {compass_text(bearing)} ({round(bearing) % 360}°)"
    )


def _last_heard(alert: Alert, settings: WordingSettings) -> str:
    fix = alert.fix
    if fix is None:
        return ""
    words = [f"Last fix {span_text(alert.time_utc - fix.time_utc)} old"]
    if fix.altitude_m is not None:
        words.append(f"at {altitude_text(fix.altitude_m, settings.units)}")
    known = abs(fix.latitude_deg) <= 90.0 and math.isfinite(fix.longitude_deg)
    if known and _place(alert) is not fix and alert.kind in NAMES_LAST_FIX:
        words.append(f"at {position_text(fix.latitude_deg, fix.longitude_deg)}")
    return ", ".join(words)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (LookupError, ValueError, OSError) as error:
        raise ConfigurationError(
            f"timezone {name!r} is not known here; give a name such as 'Europe/Budapest'"
        ) from error
