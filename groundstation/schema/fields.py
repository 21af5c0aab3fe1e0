"""What a field of a told record is: its unit and rounding, and in a sentence what it means.

A field is written once::

    landing_utc: Annotated[Time, "When it came down."]

From that come its name and form in JSON, its schema and its type in JavaScript. Names: ``_utc`` is
left off, because JSON has times as text; latitude and longitude in degrees are ``lat`` and ``lon``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from groundstation.records import Region


@dataclass(frozen=True, slots=True)
class Number:
    """Told with so many decimals, or with all; null where it is not finite."""

    decimals: int | None
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """Seconds since 1970, told as ISO 8601 text in UTC. Beside it stands how long ago that was, or
    how long until then where it is ``ahead``, in the station's seconds, for who asks once."""

    ahead: bool = False
    alone: bool = False
    """Without the age."""


@dataclass(frozen=True, slots=True)
class GeoJson:
    """A region, told as GeoJSON."""


@dataclass(frozen=True, slots=True)
class IfAny:
    """Left out where it is empty."""


@dataclass(frozen=True, slots=True)
class Named:
    """Told under another name than the usual one."""

    name: str


@dataclass(frozen=True, slots=True)
class Untold:
    """Kept in the record, and not told."""


@dataclass(frozen=True, slots=True)
class AlsoLinks:
    """Of a record with a place: who asks once also gets addresses that open it on a map."""


Time = Annotated[float, Moment()]
TimeAhead = Annotated[float, Moment(ahead=True)]
TimeAlone = Annotated[float, Moment(alone=True)]
Latitude = Annotated[float, Number(6, -90.0, 90.0)]
Longitude = Annotated[float, Number(6, -180.0, 180.0)]
"""0.1 m on the ground: below what any tracker can tell apart."""
Metres = Annotated[float, Number(1)]
Angle = Annotated[float, Number(1, 0.0, 360.0)]
Speed = Annotated[float, Number(2)]
Seconds = Annotated[float, Number(1)]
Chance = Annotated[float, Number(4, 0.0, 1.0)]
Plain = Annotated[float, Number(3)]
AsSent = Annotated[float, Number(None)]
Area = Annotated[Region, GeoJson()]

NAMES: Final[Mapping[str, str]] = {"latitude_deg": "lat", "longitude_deg": "lon"}


def told_name(field: str) -> str:
    """The name in JSON."""
    return NAMES.get(field, field.removesuffix("_utc"))


def age_name(name: str, moment: Moment) -> str:
    """The name of what stands beside a time."""
    ending = "in_s" if moment.ahead else "age_s"
    return ending if name == "time" else f"{name}_{ending}"


def links(latitude_deg: float, longitude_deg: float) -> Mapping[str, Any]:
    """Where a phone opens the point: RFC 5870 for its own map, a web map for the rest."""
    lat, lon = f"{latitude_deg:.6f}", f"{longitude_deg:.6f}"
    return {
        # The query is what makes Android drop a pin (its developer guide, "Common intents: maps").
        "geo": f"geo:{lat},{lon}?q={lat},{lon}",
        "map": f"https://www.openstreetmap.org/?mlat={lat}&mlon={lon}"
        f"#map=14/{latitude_deg:.5f}/{longitude_deg:.5f}",
    }
