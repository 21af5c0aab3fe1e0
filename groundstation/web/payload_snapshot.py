"""What is told of one payload and its flight; see ``web/snapshot.py``."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from groundstation.flight.moves import Move
from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.flight.track import Point
from groundstation.language.catalogue import _
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Fix, Height, Landing, NamedPlace, Phase
from groundstation.schema.fields import (
    AlsoLinks,
    Angle,
    Latitude,
    Longitude,
    Metres,
    Plain,
    Speed,
    Time,
    TimeAhead,
    TimeAlone,
    Untold,
)
from groundstation.schema.landing import LandingTold
from groundstation.search.found import Condition, Found
from groundstation.web.basis_words import basis_text
from groundstation.web.instruction_snapshot import InstructionSnapshot
from groundstation.web.sighting_records import SightingTold


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseSnapshot:
    """Where the station's antenna stands."""

    latitude_deg: Annotated[Latitude, "Of the base."]
    longitude_deg: Annotated[Longitude, "Of the base."]
    altitude_m: Annotated[Metres, "Above mean sea level."]

    @classmethod
    def of(cls, base: BaseSettings) -> "BaseSnapshot":
        return cls(
            latitude_deg=base.latitude_deg,
            longitude_deg=base.longitude_deg,
            altitude_m=base.altitude_m,
        )


def from_base(
    base: BaseSettings | None, latitude_deg: float, longitude_deg: float
) -> tuple[float | None, float | None]:
    """How far and which way; None where there is no base."""
    if base is None:
        return None, None
    return distance_bearing(base.latitude_deg, base.longitude_deg, latitude_deg, longitude_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastFix:
    """The newest fix, and where it lies from the base."""

    TELLS: ClassVar = AlsoLinks()

    time_utc: Annotated[Time, "By the tracker's own clock, else that of reception."]
    received_utc: Annotated[Time, "When it was heard."]
    latitude_deg: Annotated[Latitude, "As it was sent."]
    longitude_deg: Annotated[Longitude, "As it was sent."]
    altitude_m: Annotated[Metres | None, "Above mean sea level; null where none was sent."]
    agl_m: Annotated[Metres | None, "Above the ground where it lands; null without a height."] = (
        None
    )
    uncertainty_m: Annotated[Metres, "Half of what its notation can tell apart."]
    course_deg: Annotated[Angle | None, "Which way it moves over the ground, from north."]
    speed_ms: Annotated[Speed | None, "How fast it moves over the ground, as sent or measured."]
    satellites: Annotated[int | None, "How many its receiver used."]
    tracker: Annotated[str, "The tracker that sent it."]
    source: Annotated[str, "The source that heard it."]
    telemetry: Annotated[Mapping[str, Plain | None], "What else it sent; the unit is in the name."]
    distance_m: Annotated[Metres | None, "From the base; null without a base."] = None
    bearing_deg: Annotated[Angle | None, "From the base; null without a base."] = None

    @classmethod
    def of(
        cls,
        fix: Fix,
        base: BaseSettings | None = None,
        *,
        ground_m: float | None = None,
        drift: tuple[float, float] | None = None,
    ) -> "LastFix":
        """``ground_m`` is the ground under it as far as that is known. ``drift`` is its measured
        (speed, course) for a tracker that sends none."""
        away, bearing = from_base(base, fix.latitude_deg, fix.longitude_deg)
        speed, course = fix.speed_ms, fix.course_deg
        if drift is not None and speed is None:
            speed, course = drift
        high = fix.altitude_m
        return cls(
            time_utc=fix.time_utc,
            received_utc=fix.received_utc,
            latitude_deg=fix.latitude_deg,
            longitude_deg=fix.longitude_deg,
            altitude_m=high,
            agl_m=None if high is None or ground_m is None else max(0.0, high - ground_m),
            uncertainty_m=fix.uncertainty_m,
            course_deg=course,
            speed_ms=speed,
            satellites=fix.satellites,
            tracker=fix.tracker,
            source=fix.source,
            telemetry=dict(fix.telemetry),
            distance_m=away,
            bearing_deg=bearing,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightAlone:
    """A height that was heard after the newest fix, and without a place."""

    time_utc: Annotated[Time, "By the tracker's clock where it sends one."]
    received_utc: Annotated[Time, "When it was heard."]
    altitude_m: Annotated[Metres, "Above mean sea level."]
    agl_m: Annotated[Metres | None, "Above the ground where it lands or was let go."]
    by_pressure: Annotated[bool, "Whether a pressure told it, by the standard atmosphere."]
    tracker: Annotated[str, "Which tracker sent it."]

    @classmethod
    def of(cls, height: Height, altitude_m: float, ground_m: float | None) -> "HeightAlone":
        return cls(
            time_utc=height.time_utc,
            received_utc=height.received_utc,
            altitude_m=altitude_m,
            agl_m=None if ground_m is None else max(0.0, altitude_m - ground_m),
            by_pressure=height.by_pressure,
            tracker=height.tracker,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TownTold:
    """The town or village that says best where something is."""

    name: Annotated[str, "As it is written there."]
    distance_m: Annotated[Metres, "From its middle to the place."]
    bearing_deg: Annotated[Angle, "From its middle to the place, from north."]

    @classmethod
    def of(cls, town: NamedPlace, latitude_deg: float, longitude_deg: float) -> "TownTold":
        away, bearing = distance_bearing(
            town.latitude_deg, town.longitude_deg, latitude_deg, longitude_deg
        )
        return cls(name=town.name, distance_m=away, bearing_deg=bearing)


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingSnapshot(LandingTold):
    """The landing estimate, and where its point lies from the base."""

    TELLS: ClassVar = AlsoLinks()

    distance_m: Annotated[Metres | None, "From the base; null without a base."] = None
    bearing_deg: Annotated[Angle | None, "From the base; null without a base."] = None
    town: Annotated[TownTold | None, "The town or village near it; null where none is known."] = (
        None
    )

    @classmethod
    def from_(
        cls,
        landing: Landing,
        base: BaseSettings | None = None,
        town: NamedPlace | None = None,
    ) -> "LandingSnapshot":
        at = landing.latitude_deg, landing.longitude_deg
        away, bearing = from_base(base, *at)
        near = None if town is None else TownTold.of(town, *at)
        worded = replace(
            landing,
            basis=basis_text(landing.basis),
            inside=tuple((_(area), share) for area, share in landing.inside),
        )
        return cls.of(worded, distance_m=away, bearing_deg=bearing, town=near)


@dataclass(frozen=True, slots=True, kw_only=True)
class IfLaunchedSnapshot:
    """Where it would land if it were let go from the site of its plan."""

    launch_utc: Annotated[TimeAhead, "At this time: that of the plan, or the next if it is late."]
    landing: Annotated[LandingSnapshot, "By the plan and the forecast alone."]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchSnapshot:
    """Where and when it was let go."""

    time_utc: Annotated[Time, "When it left the ground."]
    latitude_deg: Annotated[Latitude, "Of the place."]
    longitude_deg: Annotated[Longitude, "Of the place."]
    altitude_m: Annotated[Metres | None, "Of the place, above mean sea level."]

    @classmethod
    def of(cls, fix: Fix) -> "LaunchSnapshot":
        return cls(
            time_utc=fix.time_utc,
            latitude_deg=fix.latitude_deg,
            longitude_deg=fix.longitude_deg,
            altitude_m=fix.altitude_m,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BurstSnapshot:
    """The highest point, and when the fall began."""

    time_utc: Annotated[Time, "When the fall began."]
    altitude_m: Annotated[Metres, "The highest, above mean sea level."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSnapshot:
    """Where it was to land, and how far from there it lands now."""

    latitude_deg: Annotated[Latitude, "Of the planned landing."]
    longitude_deg: Annotated[Longitude, "Of the planned landing."]
    radius_90_m: Annotated[Metres, "Nine tenths of the chance were within this distance."]
    distance_m: Annotated[Metres | None, "From there to where it lands now."] = None
    bearing_deg: Annotated[Angle | None, "From there to where it lands now."] = None

    @classmethod
    def of(cls, planned: PlannedLanding, landing: Landing | None) -> "PlannedSnapshot":
        away, bearing = (
            (None, None)
            if landing is None
            else distance_bearing(
                planned.latitude_deg,
                planned.longitude_deg,
                landing.latitude_deg,
                landing.longitude_deg,
            )
        )
        return cls(
            latitude_deg=planned.latitude_deg,
            longitude_deg=planned.longitude_deg,
            radius_90_m=planned.radius_90_m,
            distance_m=away,
            bearing_deg=bearing,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalLoss:
    """When the base will lose sight of it as it falls."""

    time_utc: Annotated[TimeAhead, "When it goes below the horizon of the base."]
    agl_m: Annotated[Metres | None, "Its height above the landing point then."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundSnapshot:
    """What became of a payload in the end."""

    payload: Annotated[str, "Which one."]
    time_utc: Annotated[TimeAlone, "When it was found, or given up."]
    latitude_deg: Annotated[Latitude, "Where it lay; the best guess if it was given up."]
    longitude_deg: Annotated[Longitude, "Where it lay; the best guess if it was given up."]
    condition: Annotated[Condition, "How it was found; lost where the search was given up."]
    who: Annotated[str, "Who noted it."]
    note: Annotated[str, "What they wrote."]

    @classmethod
    def of(cls, found: Found) -> "FoundSnapshot":
        return cls(
            payload=found.payload,
            time_utc=found.time_utc,
            latitude_deg=found.latitude_deg,
            longitude_deg=found.longitude_deg,
            condition=found.condition,
            who=found.who,
            note=found.note,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackerSnapshot:
    """One transmitter."""

    id: Annotated[str, "As the configuration has it."]
    received_utc: Annotated[Time | None, "When it was last heard; null where it never was."] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PayloadSnapshot:
    """One payload and its flight."""

    payload: Annotated[str, "Its name."]
    instruction: Annotated[InstructionSnapshot, "What is to be done about it now."]
    phase: Annotated[Phase, "Where it is in its flight."] = Phase.PRELAUNCH
    since_utc: Annotated[Time | None, "Since when the phase holds; null before the first fix."] = (
        None
    )
    silent_since_utc: Annotated[
        Time | None, "When it was last heard before a silence that was told; null while heard."
    ] = None
    rate_ms: Annotated[Speed | None, "Vertical speed over about the last minute, up positive."] = (
        None
    )
    last: Annotated[LastFix | None, "Its newest fix; null before the first."] = None
    height: Annotated[
        HeightAlone | None,
        "Its height, heard since then without a place; null where there is none.",
    ] = None
    landing: Annotated[LandingSnapshot | None, "Where it lands; null before the launch."] = None
    launch: Annotated[LaunchSnapshot | None, "Where it was let go; null before."] = None
    burst: Annotated[BurstSnapshot | None, "The highest point; null before the fall."] = None
    expected_burst_m: Annotated[Metres | None, "The planned height of the burst."] = None
    planned: Annotated[PlannedSnapshot | None, "Where it was to land; null without a plan."] = None
    signal_lost: Annotated[SignalLoss | None, "When base loses sight of it; null if never."] = None
    found: Annotated[FoundSnapshot | None, "What became of it; null while it is looked for."] = None
    trackers: Annotated[tuple[TrackerSnapshot, ...], "Its transmitters."] = ()
    if_launched: Annotated[
        IfLaunchedSnapshot | None, "Before the launch: where it would land; null once it flies."
    ] = None
    sightings: Annotated[tuple[SightingTold, ...], "What people saw of this flight."] = ()
    track: Annotated[tuple[Point, ...], Untold()] = ()
    """Thinned; it ends before ``last``, and is told piece by piece."""
    moves: Annotated[tuple[Move, ...], Untold()] = ()
    """How the landing estimate moved, told piece by piece."""
