"""What the person tells the station about a payload, and when to be told what."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import ConfigurationError
from groundstation.physics.wind import WindsAloft
from groundstation.records import Place, Ring


class TrackerKind(StrEnum):
    RADIO = "radio"
    SATELLITE = "satellite"
    CELLULAR = "cellular"
    LOG = "log"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackerSettings:
    """One transmitter of a payload.

    ``ceiling_m`` is the height above which its receiver gives no fix. ``interval_s`` is what to
    expect until the station has learned it. One with ``needs_sky`` is not heard from under trees
    or face down; None takes it for so where it sends to satellites.
    """

    id: str
    kind: TrackerKind = TrackerKind.RADIO
    interval_s: float = 60.0
    ceiling_m: float | None = None
    needs_sky: bool | None = None

    @property
    def sky_needed(self) -> bool:
        return self.kind is TrackerKind.SATELLITE if self.needs_sky is None else self.needs_sky


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleSettings:
    """A chase vehicle, and the ids of what tells where it is."""

    name: str
    tracker: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLanding:
    """Where it was forecast to land; nine tenths of the chance lie within ``radius_90_m``."""

    latitude_deg: float
    longitude_deg: float
    radius_90_m: float = 10_000.0

    def __post_init__(self) -> None:
        if not (abs(self.latitude_deg) <= 90.0 and abs(self.longitude_deg) <= 180.0):
            raise ConfigurationError("a planned landing has a latitude and a longitude in degrees")
        if not self.radius_90_m > 0.0:
            raise ConfigurationError("radius_90_m of the planned landing must be above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """What is expected of the flight; each mean with one standard deviation.

    Defaults are wide: burst height as seen on the project's open flights (20 to 39 km, study of
    real flights), descent rate at sea level a lognormal around 7.8 m/s with sd 0.34 (same study).
    """

    burst_altitude_m: float = 30_000.0
    burst_altitude_sd_m: float = 4_000.0
    ascent_rate_ms: float = 5.0
    ascent_rate_sd_ms: float = 1.0
    descent_rate_ms: float | None = None
    descent_rate_sd_ms: float = 1.0
    landing: PlannedLanding | None = None

    @property
    def made(self) -> bool:
        """Whether a person made one; else it is only what is usual."""
        return self != PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseSettings:
    """Where the station's antenna stands."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertSettings:
    """When something is worth saying.

    A landing point is told when it is further from the one told before than ``moved_m`` and than
    ``moved_share`` of the radius of the 50 % region, not more often than every ``moved_every_s``.
    An area to keep out of is told when more than the share ``keep_out`` of the ensemble comes down
    in it.
    """

    moved_m: float = 2_000.0
    moved_share: float = 1.0
    moved_every_s: float = 120.0
    touchdown_soon_s: float = 600.0
    silent_after_intervals: float = 4.0
    silent_at_least_s: float = 180.0
    moved_after_landing_m: float = 150.0
    keep_out: float = 0.2

    def __post_init__(self) -> None:
        if not 0.0 <= self.keep_out <= 1.0:
            raise ConfigurationError(
                f'keep_out {self.keep_out:g} is no share of the ensemble; give 0.2, or "20 %"'
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """Where it must not come down. ``rings`` are of (latitude, longitude) in degrees, closed, those
    inside others are holes; or lines and points with ``half_width_m`` on each side, where that is
    above 0."""

    name: str
    rings: tuple[Ring, ...]
    half_width_m: float = 0.0


class Terrain(Protocol):
    """Knows the height of the ground."""

    def heights_m(
        self, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Metres above mean sea level, NaN where not known; shapes are alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightSettings:
    """One payload as the fold sees it. ``ground_m`` is the height of the landing ground where
    the person gives one; otherwise that of the launch is taken.

    ``terrain`` and ``aloft`` (winds from a forecast or a sounding) are used where given.
    An estimate is made at most every ``estimate_every_s`` of the descent, and every
    ``climbing_every_s`` before it, when it changes slowly. ``launch_utc`` is when it is to be let
    go and ``launch_site`` from where, where a flight file says so.
    """

    payload: str
    trackers: tuple[TrackerSettings, ...]
    plan: PlanSettings = field(default_factory=PlanSettings)
    alerts: AlertSettings = field(default_factory=AlertSettings)
    base: BaseSettings | None = None
    ground_m: float | None = None
    ground_sd_m: float = 60.0
    terrain: Terrain | None = None
    aloft: WindsAloft | None = None
    keep_outs: tuple[KeepOut, ...] = ()
    members: int = 500
    estimate_every_s: float = 5.0
    climbing_every_s: float = 30.0
    launch_utc: float | None = None
    launch_site: Place | None = None

    @property
    def flight_due(self) -> bool:
        """Whether anything says that it is the day of a flight: winds, a site or a time."""
        return not (self.aloft is None and self.launch_site is None and self.launch_utc is None)
