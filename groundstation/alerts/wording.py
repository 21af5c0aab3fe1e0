"""Alerts in words, for the lock screen of a phone. Pure: ages count from the alert's own time."""

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.alerts.orders import order_text
from groundstation.alerts.phrases import FOR_THE_PASSENGER, is_about_landing, phrase
from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    position_text,
    span_text,
    time_text,
)
from groundstation.alerts.where import (
    VEHICLE_KNOWN_S,
    VEHICLE_OLD_S,
    Namer,
    named_text,
    where_text,
)
from groundstation.errors import ConfigurationError
from groundstation.flight.alert_records import Alert, Message
from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.language.catalogue import N_, _
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import AlertKind, Fix, Instruction, Phase, Place
from groundstation.units import Units

LONGEST_TITLE: Final = 50
"""Characters that the lock screens of common phones show on one line; common practice, no
source."""

LOCK_SCREEN: Final = 110
"""Characters of a body that a lock screen shows at once; common practice, no source."""

LONGEST_WHAT: Final = 36
"""Leaves twelve characters for the payload, so that two of them can be told apart."""

NAMES_LAST_FIX: Final = (AlertKind.SILENT, AlertKind.SHOULD_BE_DOWN)

BESIDE_THE_PLAN: Final = (AlertKind.BURST, AlertKind.FLOATING, AlertKind.LANDED)

REHEARSAL: Final = N_("Rehearsal: ")

OPEN_MAP: Final = "https://www.openstreetmap.org/?mlat={lat}&mlon={lon}#map=13/{lat}/{lon}"


@dataclass(frozen=True, slots=True, kw_only=True)
class WordingSettings:
    """How messages are worded.

    ``timezone`` is a name such as "Europe/Budapest". ``map_link`` has {lat} and {lon} where
    the coordinates go; "geo:{lat},{lon}" (RFC 5870) opens the phone's own map, "" leaves the
    link out; ``touch_link`` is opened by a touch on an alert that sends somewhere, "" for the same.
    Without ``base`` no distances are given. In a ``rehearsal`` every message says so
    first. ``planned`` is where payloads were to land. ``namer`` finds a town or village near a
    place. Raises ``ConfigurationError``.
    """

    units: Units = Units.METRIC
    timezone: str = "UTC"
    base: BaseSettings | None = None
    map_link: str = OPEN_MAP
    touch_link: str = ""
    rehearsal: bool = False
    planned: Mapping[str, PlannedLanding | None] = field(default_factory=dict)
    namer: Namer | None = None

    def __post_init__(self) -> None:
        _zone(self.timezone)
        for name, link in (("map_link", self.map_link), ("touch_link", self.touch_link)):
            try:
                link.format(lat="0", lon="0")
            except (LookupError, ValueError, AttributeError) as error:
                raise ConfigurationError(
                    f"{name} {link!r} can't be filled in ({error}); "
                    "only {lat} and {lon} may stand in braces"
                ) from error


def render(alert: Alert, settings: WordingSettings, vehicles: Sequence[Fix] = ()) -> Message:
    """The message for ``alert``: what happened as title; what to do, where to and how sure first.

    ``vehicles`` are where those are who look for it; ``payload`` is their name.
    """
    order = ""
    if alert.instruction is not None:
        order = instruction_text(alert.instruction, alert.time_utc, settings, vehicles)
    words = phrase(alert, settings.units, order)
    point = _point(alert)
    where = _where(alert, point, settings, vehicles, order)
    lines = [
        words.first or order,
        words.more,
        *(where if alert.point is not None else ()),
        _last_heard(alert, settings),
        *(where if alert.point is None else ()),  # of where it was heard
        *_coordinates(alert, point, settings),
        _last_line(alert, settings),
    ]
    return Message(
        alert=alert,
        link="" if point is None else _link(point, settings, touched=alert.point is not None),
        title=f"{_(REHEARSAL) if settings.rehearsal else ''}{_title(alert.payload, words.what)}",
        body="\n".join(line.strip() for line in lines if line.strip()),
    )


def instruction_text(
    order: Instruction, at_utc: float, settings: WordingSettings, vehicles: Sequence[Fix] = ()
) -> str:
    """What is to be done now, in a sentence or two, from where the reader is."""
    zone, units = _zone(settings.timezone), settings.units
    where = instruction_where(order, at_utc, settings, vehicles)
    text = order_text(order, where, units, zone)
    if order.where is None or not where:
        return text
    named = named_text(order.where, settings.namer, settings.base, units)
    if named and named != where:
        both = order_text(order, f"{where}, {named}", units, zone)
        if len(both) <= LOCK_SCREEN:
            return both
    if len(text) > LOCK_SCREEN:
        # A long name; how sure it is follows in the lines below.
        return order_text(replace(order, radius_50_m=None), where, units, zone)
    return text


def instruction_where(
    order: Instruction, at_utc: float, settings: WordingSettings, vehicles: Sequence[Fix] = ()
) -> str:
    """Where the place of the instruction is, from where the reader is; "" where nobody can say."""
    if order.where is None or not _known(order.where.latitude_deg, order.where.longitude_deg):
        return ""
    return where_text(
        order.where,
        at_utc,
        vehicles=vehicles,
        namer=settings.namer,
        base=settings.base,
        launch=order.launch,
        saw_launch=order.saw_launch,
        units=settings.units,
    )


def _last_line(alert: Alert, settings: WordingSettings) -> str:
    when = time_text(alert.time_utc, _zone(settings.timezone), zone_name=True)
    if alert.kind is AlertKind.STATION:
        return when  # short, and no harm where it comes twice: no id for a lock screen
    caution = f"{_(FOR_THE_PASSENGER)} " if is_about_landing(alert) else ""
    return f"{caution}{when} #{short_id(alert.key.text)}"


def short_id(key: str) -> str:
    """Six characters from which a person sees that two messages are the same one."""
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()[:6]


def _title(payload: str, what: str) -> str:
    what = _cut(what, LONGEST_WHAT)
    name = _cut(" ".join(payload.split()), LONGEST_TITLE - len(what) - 2)
    return f"{name}: {what}"


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _point(alert: Alert) -> Place | None:
    if alert.kind is AlertKind.STATION:
        return None
    place = alert.point
    if place is None and alert.fix is not None and alert.landing is None:
        fix = alert.fix
        place = Place(latitude_deg=fix.latitude_deg, longitude_deg=fix.longitude_deg)
    return place if place and _known(place.latitude_deg, place.longitude_deg) else None


def _known(latitude_deg: float, longitude_deg: float) -> bool:
    return abs(latitude_deg) <= 90.0 and math.isfinite(longitude_deg)


def _where(
    alert: Alert,
    point: Place | None,
    settings: WordingSettings,
    vehicles: Sequence[Fix],
    order: str,
) -> list[str]:
    if point is None:
        return []
    named = named_text(point, settings.namer, settings.base, settings.units)
    lines = [named[:1].upper() + named[1:]] if named and named not in order else []
    for vehicle in vehicles:
        age_s = alert.time_utc - vehicle.received_utc
        if age_s <= VEHICLE_KNOWN_S:
            way, name = _from(vehicle, point, settings), vehicle.payload
            lines.append(
                _("{way} of {name}, {span} ago", way=way, name=name, span=span_text(age_s))
                if age_s >= VEHICLE_OLD_S
                else _("{way} of {name}", way=way, name=name)
            )
    if settings.base is not None:
        lines.append(_("{way} of base", way=_from(settings.base, point, settings)))
    planned = settings.planned.get(alert.payload)
    if planned is not None and alert.kind in BESIDE_THE_PLAN:
        lines.append(_("{way} of the planned landing", way=_from(planned, point, settings)))
    landing = None if alert.measured else alert.landing
    if landing is not None:
        near, far = (
            distance_text(radius, settings.units)
            for radius in (landing.radius_50_m, landing.radius_90_m)
        )
        lines.append(_("Within {near} (50 %), {far} (90 %)", near=near, far=far))
        if landing.phase is not Phase.LANDED and alert.kind is not AlertKind.LANDED:
            zone = _zone(settings.timezone)
            first, last = (time_text(eta_utc, zone) for eta_utc in landing.eta_90_utc)
            eta = time_text(landing.eta_utc, zone)
            lines.append(_("Touchdown {eta} ({first} to {last})", eta=eta, first=first, last=last))
    return lines


def _coordinates(alert: Alert, point: Place | None, settings: WordingSettings) -> list[str]:
    if point is None:
        return []
    lying = alert.measured is not None or alert.kind is AlertKind.LANDED
    coordinates = position_text(point.latitude_deg, point.longitude_deg)
    if lying:
        sentence = _("Measured at {place}", place=coordinates)
    elif alert.landing:
        sentence = _("Landing point {place}", place=coordinates)
    else:
        sentence = _("Position {place}", place=coordinates)
    return [sentence, _link(point, settings)]


def _link(point: Place, settings: WordingSettings, *, touched: bool = False) -> str:
    """``touched`` is that of an alert that sends somewhere."""
    link = settings.touch_link if touched and settings.touch_link else settings.map_link
    return link.format(lat=f"{point.latitude_deg:.5f}", lon=f"{point.longitude_deg:.5f}")


def _from(
    start: BaseSettings | PlannedLanding | Fix, point: Place, settings: WordingSettings
) -> str:
    away, bearing = distance_bearing(
        start.latitude_deg, start.longitude_deg, point.latitude_deg, point.longitude_deg
    )
    return (
        f"{distance_text(away, settings.units)} {compass_text(bearing)} ({round(bearing) % 360}°)"
    )


def _last_heard(alert: Alert, settings: WordingSettings) -> str:
    fix = alert.fix
    if fix is None or alert.kind is AlertKind.STATION:
        return ""
    words = [_("Last fix {span} old", span=span_text(alert.time_utc - fix.time_utc))]
    if fix.altitude_m is not None:
        words.append(_("at {height}", height=altitude_text(fix.altitude_m, settings.units)))
    known = _known(fix.latitude_deg, fix.longitude_deg)
    if known and alert.kind in NAMES_LAST_FIX and alert.point is not None:
        place = position_text(fix.latitude_deg, fix.longitude_deg)
        words.append(_("at {place}", place=place))
    return ", ".join(words)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (LookupError, ValueError, OSError) as error:
        raise ConfigurationError(
            f"timezone {name!r} is not known here; give a name such as 'Europe/Budapest'"
        ) from error
