"""Where a place is, in words, from where the reader is."""

from collections.abc import Callable, Sequence
from typing import Final

from groundstation.alerts.quantities import compass_text, distance_text
from groundstation.flight.settings import BaseSettings
from groundstation.language.catalogue import _
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Fix, NamedPlace, Place
from groundstation.units import Units

Namer = Callable[[float, float], NamedPlace | None]
"""Finds the town or village that says best where a latitude and longitude are, or None."""

VEHICLE_OLD_S: Final = 120.0  # own choice: in two minutes a car is two streets on
VEHICLE_KNOWN_S: Final = 3_600.0
"""A vehicle's place is told with its age, and not at all once it says nothing. Own choices."""

NAME_HELPS_M: Final = 50_000.0
"""Beyond this a name is used only where base is farther still: at sea, in a desert. Own choice."""

BESIDE_M: Final = 100.0
"""Nearer than this a direction helps nobody. Own choice."""


def where_text(
    place: Place,
    at_utc: float,
    *,
    vehicles: Sequence[Fix] = (),
    namer: Namer | None = None,
    base: BaseSettings | None = None,
    launch: Place | None = None,
    saw_launch: bool = True,
    units: Units = Units.METRIC,
) -> str:
    """A phrase such as "23 km ENE of car": from the vehicle that was heard last, else by a name
    where one is near, else from base, else from the launch, or from its first fix where nobody
    ``saw_launch``; "" where none of them is known."""
    known = [vehicle for vehicle in vehicles if at_utc - vehicle.received_utc <= VEHICLE_KNOWN_S]
    if known:
        newest = max(known, key=lambda vehicle: vehicle.received_utc)
        return from_text(newest, place, newest.payload, units)
    named = named_text(place, namer, base, units)
    if named:
        return named
    if base is not None:
        return _from_base(base, place, units)
    if launch is not None:
        # Heard first in the air, it was launched elsewhere.
        return (
            _from_launch(launch, place, units) if saw_launch else _from_first(launch, place, units)
        )
    return ""


def named_text(
    place: Place, namer: Namer | None, base: BaseSettings | None = None, units: Units = Units.METRIC
) -> str:
    """A phrase such as "6.1 km NE of Karcag"; "" where no name is near, and base is nearer."""
    if namer is None:
        return ""
    near = namer(place.latitude_deg, place.longitude_deg)
    if near is None:
        return ""
    away = _away_m(near, place)
    if away > NAME_HELPS_M and base is not None and _away_m(base, place) < away:
        return ""
    return from_text(near, place, near.name, units)


def _away_m(start: NamedPlace | BaseSettings, place: Place) -> float:
    return distance_bearing(
        start.latitude_deg, start.longitude_deg, place.latitude_deg, place.longitude_deg
    )[0]


def from_text(
    start: Place | Fix | BaseSettings | NamedPlace,
    place: Place,
    name: str,
    units: Units,
) -> str:
    """How far and which way ``place`` is from ``start``, which is called ``name``."""
    way = _way(start, place, units)
    if way is not None:
        return _("{distance} {way} of {name}", distance=way[0], way=way[1], name=name)
    if isinstance(start, NamedPlace):
        return _("in {name}", name=name)
    return _("where {name} is", name=name)


def _from_base(start: BaseSettings, place: Place, units: Units) -> str:
    way = _way(start, place, units)
    if way is None:
        return _("where base is")
    return _("{distance} {way} of base", distance=way[0], way=way[1])


def _from_launch(start: Place, place: Place, units: Units) -> str:
    way = _way(start, place, units)
    if way is None:
        return _("where its launch is")
    return _("{distance} {way} of its launch", distance=way[0], way=way[1])


def _from_first(start: Place, place: Place, units: Units) -> str:
    way = _way(start, place, units)
    if way is None:
        return _("where its first fix is")
    return _("{distance} {way} of its first fix", distance=way[0], way=way[1])


def _way(
    start: Place | Fix | BaseSettings | NamedPlace, place: Place, units: Units
) -> tuple[str, str] | None:
    """How far and which way; None where it is right there."""
    away, bearing = distance_bearing(
        start.latitude_deg, start.longitude_deg, place.latitude_deg, place.longitude_deg
    )
    return None if away < BESIDE_M else (distance_text(away, units), compass_text(bearing))
