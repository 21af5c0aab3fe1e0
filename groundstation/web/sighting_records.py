"""What people saw, as it is told."""

from dataclasses import dataclass
from typing import Annotated

from groundstation.flight.sighting_kinds import SightingKind, facts_of, in_words, kind_of
from groundstation.flight.sightings import AnySighting
from groundstation.language.catalogue import _
from groundstation.schema.fields import Angle, Latitude, Longitude, Metres, Plain, TimeAlone


@dataclass(frozen=True, slots=True, kw_only=True)
class SightingTold:
    """Something that a person saw or heard of a flight. Errors are one standard deviation."""

    number: Annotated[int, "To take it back."]
    kind: Annotated[SightingKind, "What it was."]
    at_utc: Annotated[TimeAlone, "The moment that it tells of."]
    told_utc: Annotated[TimeAlone, "When it was told."]
    who: Annotated[str, "Who told it."]
    note: Annotated[str, "What they wrote."]
    words: Annotated[str, "It in words, without its moment and place."]
    latitude_deg: Annotated[Latitude | None, "Where the person stood."] = None
    longitude_deg: Annotated[Longitude | None, "Where the person stood."] = None
    bearing_deg: Annotated[Angle | None, "Which way, from true north."] = None
    bearing_sd_deg: Annotated[Plain | None, "How far that may be off, in degrees."] = None
    elevation_deg: Annotated[Plain | None, "How high above the horizon, in degrees."] = None
    within_deg: Annotated[Plain | None, "How far around the direction was looked."] = None
    within_m: Annotated[Metres | None, "How near it came down."] = None
    reach_m: Annotated[Metres | None, "How far around the place was looked."] = None

    @classmethod
    def of(cls, sighting: AnySighting) -> "SightingTold":
        facts = facts_of(sighting)
        return cls(
            number=sighting.number,
            kind=kind_of(sighting),
            at_utc=sighting.at_utc,
            told_utc=sighting.told_utc,
            who=sighting.who,
            note=sighting.note,
            words=in_words(sighting, _),
            **{name: facts[name] for name in facts.keys() & cls.__slots__},
        )
