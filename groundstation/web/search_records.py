"""What is told of a search, of hazards and of maps; see ``web/snapshot.py`` for the rest."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from groundstation.schema.fields import (
    Chance,
    IfAny,
    Latitude,
    Longitude,
    Metres,
    Number,
    Plain,
    TimeAlone,
)
from groundstation.search.looks import LookKind
from groundstation.web.payload_snapshot import FoundSnapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class GridTold:
    """Squares over the place, from south to north, each row from west to east."""

    south: Annotated[Latitude, "Southern edge."]
    north: Annotated[Latitude, "Northern edge."]
    west: Annotated[Longitude, "Western edge."]
    east: Annotated[Longitude, "Eastern edge."]
    rows: Annotated[int, "How many from south to north."]
    columns: Annotated[int, "How many from west to east."]
    size_m: Annotated[Metres, "Side of a square."]
    chance: Annotated[tuple[int, ...], "Of each square, in thousandths of that of the likeliest."]
    shares: Annotated[
        tuple[int, ...], "How many percent of the chance are in squares as likely or likelier."
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LookTold:
    """Something that was done in the search."""

    number: Annotated[int, "To take it back."]
    time_utc: Annotated[TimeAlone, "When it was noted."]
    kind: Annotated[LookKind, "Searched and saw nothing, or listened and heard nothing, or it."]
    shape: Annotated[tuple[tuple[Latitude, Longitude], ...], "A place, a way, or corners."]
    area: Annotated[bool, "Whether the shape is the outline of an area."]
    reach_m: Annotated[Metres, "How far one sees, or where hearing is half as good."]
    chance: Annotated[Plain, "That it would have been found, had it been right there."]
    who: Annotated[str, "Who noted it."]
    note: Annotated[str, "What they wrote."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceTold:
    """A place, as it is spoken and typed."""

    latitude_deg: Annotated[Latitude, "Of the place."]
    longitude_deg: Annotated[Longitude, "Of the place."]
    degrees_minutes: Annotated[str, "Degrees and minutes."]
    utm: Annotated[str | None, "UTM on WGS 84; null near the poles."]
    mgrs: Annotated[str | None, "MGRS; null near the poles."]
    geo: Annotated[str, "Opens it in the phone's map."]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTold(PlaceTold):
    """Where to look next."""

    chance: Annotated[Chance, "That it lies near there."]
    within_m: Annotated[Metres, "How near."]


@dataclass(frozen=True, slots=True, kw_only=True)
class NearTold:
    """A hazard near a place."""

    kind: Annotated[str, "What it is."]
    name: Annotated[str, "Its name, if it has one."]
    distance_m: Annotated[Metres, "From the place to its nearest point; 0 inside it."]
    bearing_deg: Annotated[Annotated[float, Number(0, 0.0, 360.0)], "Which way, from north."]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualTold:
    """What is taken for a kind of look unless the person says else."""

    reach_m: Annotated[Metres, "How far one sees or hears."]
    chance: Annotated[Plain, "That it would have been found, had it been right there."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchTold:
    """How the search for a payload stands."""

    payload: Annotated[str, "Which one."]
    grid: Annotated[GridTold | None, "How likely it lies where; null before an estimate."]
    looks: Annotated[tuple[LookTold, ...], "What was done."]
    next: Annotated[tuple[NextTold, ...], "Where to look next, the best first."]
    found: Annotated[FoundSnapshot | None, "What became of it; null while it is looked for."]
    place: Annotated[PlaceTold | None, "Where it was found, else the first of next."]
    near: Annotated[tuple[NearTold, ...], "Hazards near that place, the nearest first."]
    contact: Annotated[str, "Whom a finder is asked to call."]
    notices: Annotated[
        Mapping[str, str],
        "For whoever lives there, by language, with {station}, {place} and {when} to be filled in.",
    ]
    usual: Annotated[Mapping[str, UsualTold], "The usual figures of each kind of look."]


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardTold:
    """Something on the map to keep off."""

    kind: Annotated[str, "What it is."]
    name: Annotated[str, "Its name, if it has one."]
    area: Annotated[bool, "Whether its parts are outlines of areas."]
    parts: Annotated[
        tuple[tuple[tuple[Latitude, Longitude], ...], ...], "Points, lines or outlines."
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TownShown:
    """A town or village on the map."""

    name: Annotated[str, "As it is written there."]
    latitude_deg: Annotated[Latitude, "Of its middle."]
    longitude_deg: Annotated[Longitude, "Of its middle."]
    people: Annotated[int, "How many live there, to 4 %; 0 where that is not known."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadTold:
    """Where a road is nearest to a place."""

    latitude_deg: Annotated[Latitude, "On the road."]
    longitude_deg: Annotated[Longitude, "On the road."]
    name: Annotated[str, "Its name or number, if the map has one."]
    walk_m: Annotated[Metres, "From there to the place, straight."]
    bearing_deg: Annotated[Annotated[float, Number(0, 0.0, 360.0)], "From there to the place."]


@dataclass(frozen=True, slots=True, kw_only=True)
class MapTold:
    """Something that can be drawn under the flight."""

    name: Annotated[str, "As the person sees it."]
    kind: Annotated[str, "Vector, raster or relief."]
    address: Annotated[str, "Of its file or of its tiles."]
    attribution: Annotated[str, "What must be shown with it."] = ""
    agreed: Annotated[bool, "Whether this browser may ask; an online one after a yes."] = True
    zooms: Annotated[tuple[int, ...], "The least and the most zoom that it has.", IfAny()] = ()
