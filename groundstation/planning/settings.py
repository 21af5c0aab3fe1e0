"""What a flight file says: what is to be lifted, by what, and from where.

Numbers that can't be are refused with a sentence that says what was probably meant.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from groundstation.errors import ConfigurationError
from groundstation.flight.settings import PlannedLanding
from groundstation.physics.atmosphere import pressure, pressure_altitude_m
from groundstation.planning.gear import (
    BalloonSettings,
    CylinderSettings,
    GasSettings,
    PackageSettings,
    ParachuteSettings,
    check_mass,
)
from groundstation.planning.readable_figures import Shown
from groundstation.settings.builder import MISSING
from groundstation.units import Units


def _asks(what: str) -> dict[str, str]:
    """Metadata of a field that must be there: how it is asked for."""
    return {MISSING: f"is missing: give {what}"}


LOWEST_SHARE, HIGHEST_SHARE = 0.86, 1.075
"""Of the standard pressure at a height, between which weather stays: 870 and 1,085 hPa at sea level
are the records (World Meteorological Organization, from memory)."""


class Wanted(StrEnum):
    """What the fill is solved for."""

    ASCENT_RATE = "ascent-rate"
    BURST_ALTITUDE = "burst-altitude"
    NECK_LIFT = "neck-lift"
    CYLINDER = "cylinder"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSettings:
    """Where it is filled and let go. ``temperature_k`` and ``pressure_pa`` are those of the air
    there; without them those of the standard atmosphere are taken. ``sea_level_pressure_pa`` is
    one that a weather service has reduced to sea level, in place of ``pressure_pa``."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    name: str = "site"
    temperature_k: float | None = None
    pressure_pa: float | None = None
    sea_level_pressure_pa: float | None = None

    def __post_init__(self) -> None:
        if not -430.0 <= self.altitude_m <= 6_000.0:
            raise ConfigurationError("site.altitude_m is no height of a field")
        if self.temperature_k is not None and not 210.0 <= self.temperature_k <= 330.0:
            raise ConfigurationError(
                f"site.temperature_k {self.temperature_k:g} K is no temperature of a field; give it"
                ' with its unit, such as "15 degC"'
            )
        self._check_pressure()

    @property
    def air_pa(self) -> float:
        """The pressure of the air there: as measured, else reduced from that of sea level, else the
        standard's."""
        if self.pressure_pa is not None:
            return self.pressure_pa
        standard = float(pressure(self.altitude_m))
        if self.sea_level_pressure_pa is None:
            return standard
        # As an altimeter is set (ICAO Doc 7488): the standard atmosphere, begun higher or lower.
        begins = float(pressure_altitude_m(self.sea_level_pressure_pa))
        return float(pressure(begins + self.altitude_m))

    def _check_pressure(self) -> None:
        given, sea = self.pressure_pa, self.sea_level_pressure_pa
        if given is not None and sea is not None:
            raise ConfigurationError(
                "site takes one of pressure_pa, as measured there, and sea_level_pressure_pa"
            )
        if sea is not None and not 85_000.0 <= sea <= 109_000.0:
            raise ConfigurationError(
                f"site.sea_level_pressure_pa {sea:g} Pa is none; give it with its unit, such as"
                ' "1013 hPa"'
            )
        if given is None:
            return
        usual = float(pressure(self.altitude_m))
        if LOWEST_SHARE <= given / usual <= HIGHEST_SHARE:
            return
        reduced = ""
        if 85_000.0 <= given <= 109_000.0 and given > usual:
            reduced = (
                " This looks like a pressure reduced to sea level: give what a barometer shows at"
                " the site, or put this one as sea_level_pressure_pa."
            )
        raise ConfigurationError(
            f"site.pressure_pa {given / 100.0:.0f} hPa can't be that of the air at"
            f" {self.altitude_m:.0f} m, where the standard atmosphere has"
            f' {usual / 100.0:.0f} hPa; give it with its unit, such as "{usual / 100.0:.0f} hPa".'
            f"{reduced}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AimSettings:
    """What is wanted: one of the four that ``what`` names, with its value where it has one."""

    what: Wanted = Wanted.ASCENT_RATE
    ascent_rate_ms: float = 5.0
    burst_altitude_m: float = 30_000.0
    neck_lift_kg: float | None = None

    def __post_init__(self) -> None:
        if not 1.0 <= self.ascent_rate_ms <= 12.0:
            raise ConfigurationError("aim.ascent_rate_ms is between 1 and 12 m/s")
        if not 3_000.0 <= self.burst_altitude_m <= 50_000.0:
            raise ConfigurationError(
                f"aim.burst_altitude_m {self.burst_altitude_m:g} m is out of reach; give it with"
                ' its unit, such as "30 km"'
            )
        if self.neck_lift_kg is None:
            if self.what is Wanted.NECK_LIFT:
                raise ConfigurationError("aim.neck_lift_kg is missing: what the scale showed")
        else:
            check_mass("aim.neck_lift_kg", self.neck_lift_kg, 0.02, 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceSettings:
    """An aerodrome or a navigation aid that the site is told from."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSettings:
    """What the person sets for going: beyond these it is better to wait or to stay. None leaves
    one out. ``keep_out`` is a share of the flights, 0.05 or "5 %"."""

    ground_wind_ms: float | None = 6.0
    drift_m: float | None = 150_000.0
    keep_out: float | None = 0.05
    daylight_s: float | None = 7_200.0

    def __post_init__(self) -> None:
        share = self.keep_out
        if share is not None and not 0.0 <= share <= 1.0:
            meant = f'; did you mean "{share:g} %"?' if 1.0 < share <= 100.0 else ""
            raise ConfigurationError(
                f"limits.keep_out {share:g} is no share of the flights: give one from 0 to 1, such"
                f' as 0.05, or "5 %"{meant}'
            )
        for name in ("ground_wind_ms", "drift_m", "daylight_s"):
            value = getattr(self, name)
            if value is not None and not value > 0.0:
                raise ConfigurationError(f"limits.{name} {value:g} is no limit: give one above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightFile:
    """All of it. ``suspension_force_n`` is what separates the payload from the balloon,
    ``string_m`` how long it is from the neck to the last package, ``antenna_m`` how long an antenna
    trails below, ``antenna_force_n`` what breaks that. ``contact`` is whom an authority may call.
    ``candidate`` are other sites, to be compared. ``landing`` is the forecast that the flight is
    held against, ``lessons`` the file of what earlier flights taught. ``timezone`` and ``units``
    are the station's where the file does not say."""

    name: str = field(metadata=_asks('the payload\'s name, such as name = "kanalas-1"'))
    launch: str | None = None
    timezone: str | None = None
    units: Units | None = None
    operator: str = ""
    contact: str = ""
    site: SiteSettings = field(
        metadata=_asks("[site], where it is let go, with latitude_deg and longitude_deg")
    )
    package: tuple[PackageSettings, ...] = field(
        metadata=_asks("[[package]], one for each box on the string, with name and mass_kg")
    )
    balloon: BalloonSettings = field(
        metadata=_asks('[balloon], with its mass, such as mass_kg = "1000 g"')
    )
    gas: GasSettings = field(default_factory=GasSettings)
    cylinder: CylinderSettings | None = None
    parachute: ParachuteSettings = field(
        metadata=_asks(
            '[parachute], which brings it down at a bearable speed, such as diameter_m = "1.2 m";'
            " nothing should fly without one"
        )
    )
    aim: AimSettings = field(default_factory=AimSettings)
    limits: LimitSettings = field(default_factory=LimitSettings)
    reference: ReferenceSettings | None = None
    candidate: tuple[SiteSettings, ...] = ()
    landing: PlannedLanding | None = None
    suspension_force_n: float | None = None
    string_m: float = 0.0
    antenna_m: float = 0.0
    lessons: Path | None = None
    antenna_force_n: float | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ConfigurationError("name is empty; give the payload one")
        for name, most in (("string_m", 300.0), ("antenna_m", 1_000.0)):
            value = getattr(self, name)
            if not 0.0 <= value <= most:
                raise ConfigurationError(
                    f'{name} {value:g} m is no length from 0 to {most:g} m; give it as "12 m"'
                )
        for name in ("suspension_force_n", "antenna_force_n"):
            force = getattr(self, name)
            if force is not None and not 0.0 < force <= 20_000.0:
                raise ConfigurationError(
                    f"{name} {force:g} N is no force that breaks a string; give it with its unit,"
                    ' such as "100 N" or "25 lbf"'
                )
        try:
            ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError) as error:
            raise ConfigurationError(
                f"timezone {self.timezone!r} is not known; give one such as Europe/Budapest"
            ) from error
        if not self.package:
            raise ConfigurationError("there is no [[package]]; add what is to be lifted")
        if self.aim.what is Wanted.CYLINDER and self.cylinder is None:
            raise ConfigurationError("aim.what is 'cylinder', and there is no [cylinder]")

    @property
    def zone(self) -> str:
        """The time zone, UTC where none is given."""
        return self.timezone or "UTC"

    @property
    def shown(self) -> Shown:
        """Writes figures in the file's units, metric where none are given."""
        return Shown(self.units or Units.METRIC)

    @property
    def payload_kg(self) -> float:
        """All that hangs on the balloon's neck."""
        return sum(piece.mass_kg for piece in self.package) + self.parachute.mass_kg
