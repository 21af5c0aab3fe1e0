"""The landing estimate as it is told: on the page, by replays and on a broker."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Self

from groundstation.jsonout import JsonObject
from groundstation.records import Landing, Phase, PhaseChances
from groundstation.schema.encode import record_json
from groundstation.schema.fields import (
    Area,
    Chance,
    IfAny,
    Latitude,
    Longitude,
    Metres,
    Plain,
    Speed,
    Time,
    TimeAhead,
    TimeAlone,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceTold:
    """The chance of each phase, 0 to 1."""

    ascent: Annotated[Chance, "That it climbs, or has not been launched yet."]
    float: Annotated[Chance, "That it floats."]
    descent: Annotated[Chance, "That it falls."]
    landed: Annotated[Chance, "That it is down."]


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingTold:
    """Where and when it lands, how sure that is, and what it rests on."""

    kind: Annotated[str, "Always landing."] = "landing"
    time_utc: Annotated[Time, "When the estimate was made."]
    payload: Annotated[str, "Whose landing it is."]
    phase: Annotated[Phase, "The phase in which it was made."]
    latitude_deg: Annotated[Latitude, "Of the point, the median."]
    longitude_deg: Annotated[Longitude, "Of the point, the median."]
    ground_m: Annotated[Metres, "Height of the ground there, above mean sea level."]
    eta_utc: Annotated[TimeAhead, "When it is expected to touch down."]
    eta_90_utc: Annotated[tuple[TimeAlone, TimeAlone], "Between these with a chance of 90 %."]
    descent_rate_ms: Annotated[Speed, "How fast it falls at the ground, expected."]
    region_50: Annotated[Area, "Where it lands with a chance of 50 %."]
    region_90: Annotated[Area, "Where it lands with a chance of 90 %."]
    basis: Annotated[str, "What the estimate rests on, in words."]
    evidence_utc: Annotated[Time, "Of the last fix that is in it."]
    radius_50_m: Annotated[Metres, "Half of the chance is within this distance of the point."]
    radius_90_m: Annotated[Metres, "Nine tenths of the chance are within this distance."]
    descent_rate_90_ms: Annotated[
        tuple[Speed, Speed] | None, "Between these with a chance of 90 %, where that is known."
    ] = None
    chance: Annotated[ChanceTold | None, "How likely each phase is, when it was made."] = None
    height_m: Annotated[Metres | None, "Its height above mean sea level then, the median."] = None
    height_90_m: Annotated[
        tuple[Metres, Metres] | None, "Its height, between these with a chance of 90 %."
    ] = None
    burst_90_utc: Annotated[
        tuple[TimeAlone, TimeAlone] | None,
        "Between these it burst or will, with a chance of 90 %, where no height tells it.",
    ] = None
    inside: Annotated[
        Mapping[str, Plain],
        "Areas to keep out of, with the share of the chance in each.",
        IfAny(),
    ] = field(default_factory=dict)

    @classmethod
    def of(cls, landing: Landing, **more: Any) -> Self:
        progress = landing.progress
        return cls(
            time_utc=landing.time_utc,
            payload=landing.payload,
            phase=landing.phase,
            latitude_deg=landing.latitude_deg,
            longitude_deg=landing.longitude_deg,
            ground_m=landing.ground_m,
            eta_utc=landing.eta_utc,
            eta_90_utc=landing.eta_90_utc,
            descent_rate_ms=landing.descent_rate_ms,
            region_50=landing.region_50,
            region_90=landing.region_90,
            basis=landing.basis,
            evidence_utc=landing.evidence_utc,
            radius_50_m=landing.radius_50_m,
            radius_90_m=landing.radius_90_m,
            descent_rate_90_ms=landing.descent_rate_90_ms,
            chance=None if progress is None else _chance(progress.chance),
            height_m=None if progress is None else progress.height_m,
            height_90_m=None if progress is None else progress.height_90_m,
            burst_90_utc=None if progress is None else progress.burst_90_utc,
            inside=dict(landing.inside),
            **more,
        )


def _chance(chance: PhaseChances) -> ChanceTold:
    return ChanceTold(
        ascent=chance.ascent,
        float=chance.floating,
        descent=chance.descent,
        landed=chance.landed,
    )


def landing_json(landing: Landing) -> JsonObject:
    """As the replay command prints it."""
    return record_json(LandingTold.of(landing))
