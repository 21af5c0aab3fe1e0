"""What a flight file says: what is to be lifted, by what, and from where.

Numbers that can't be are refused with a sentence that says what was probably meant.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from groundstation.errors import ConfigurationError
from groundstation.flight.settings import PlannedLanding
from groundstation.physics.buoyancy import Gas

TYPICAL_BURST_M: Final = {
    0.2: 3.0, 0.3: 3.8, 0.35: 4.1, 0.5: 5.0, 0.6: 6.0, 0.8: 7.0,
    1.0: 7.9, 1.2: 8.6, 1.5: 9.4, 2.0: 10.5, 3.0: 13.0,
}  # fmt: skip
"""Burst diameter by the mass of a latex balloon, in m by kg: common practice, from memory, without
a source. The data sheet of the balloon counts."""

DRAG_OF_CANOPY: Final = {
    "flat circular": (0.75, 0.80),
    "conical": (0.75, 0.90),
    "biconical": (0.75, 0.92),
    "triconical": (0.80, 0.96),
    "extended skirt": (0.78, 0.87),
    "hemispherical": (0.62, 0.77),
    "annular": (0.85, 0.95),
    "cross": (0.60, 0.85),
    "unknown round": (0.65, 0.85),
}
"""Drag coefficients of the whole canopy's area (T. W. Knacke, NWC TP 6575, table 5-1, as quoted by
others; cross and unknown round from memory)."""


class Wanted(StrEnum):
    """What the fill is solved for."""

    ASCENT_RATE = "ascent-rate"
    BURST_ALTITUDE = "burst-altitude"
    NECK_LIFT = "neck-lift"
    CYLINDER = "cylinder"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSettings:
    """A box that hangs on the string. ``smallest_face_m`` are the sides of its smallest face."""

    name: str
    mass_kg: float
    smallest_face_m: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        _mass(f"package {self.name!r}: mass_kg", self.mass_kg, 0.005, 50.0)
        for side in self.smallest_face_m or ():
            if not 0.005 <= side <= 5.0:
                raise ConfigurationError(
                    f"package {self.name!r}: smallest_face_m {side:g} m is no side of a box; give"
                    ' both sides, such as ["12 cm", "10 cm"]'
                )

    @property
    def face_m2(self) -> float | None:
        sides = self.smallest_face_m
        return None if sides is None else sides[0] * sides[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class BalloonSettings:
    """``burst_diameter_m`` is the data sheet's; without it a typical one of the mass is taken.
    ``drag_coefficient`` is that of the rise, 0.25 to 0.35 for latex as it is launched."""

    mass_kg: float
    burst_diameter_m: float | None = None
    burst_diameter_sd: float = 0.065
    drag_coefficient: float = 0.30
    drag_coefficient_sd: float = 0.03

    def __post_init__(self) -> None:
        _mass("balloon.mass_kg", self.mass_kg, 0.05, 10.0)
        given = self.burst_diameter_m
        usual = typical_burst_m(self.mass_kg)
        if given is not None and not 0.7 * usual <= given <= 1.4 * usual:
            raise ConfigurationError(
                f"balloon.burst_diameter_m {given:g} m does not fit a balloon of"
                f" {self.mass_kg:g} kg, which usually bursts at {usual:.1f} m; are both of the same"
                " balloon, and is it a diameter and no radius?"
            )
        if not 0.1 <= self.drag_coefficient <= 1.0:
            raise ConfigurationError("balloon.drag_coefficient is between 0.1 and 1.0")
        if not 0.0 < self.burst_diameter_sd <= 0.3:
            raise ConfigurationError("balloon.burst_diameter_sd is a share, such as 0.065")

    @property
    def diameter_at_burst_m(self) -> float:
        return self.burst_diameter_m or typical_burst_m(self.mass_kg)


@dataclass(frozen=True, slots=True, kw_only=True)
class GasSettings:
    """``purity`` is the share of the gas by volume; it must be given for hydrogen."""

    kind: Gas = Gas.HELIUM
    purity: float | None = None

    def __post_init__(self) -> None:
        if self.kind is Gas.HYDROGEN and self.purity is None:
            raise ConfigurationError(
                "gas.purity is missing: hydrogen comes in very different grades; give the share of"
                " the cylinder's label, such as 0.999"
            )
        if self.purity is not None and not 0.5 <= self.purity <= 1.0:
            raise ConfigurationError(
                f"gas.purity {self.purity:g} is no share of the volume; give 0.995 for 99.5 %"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderSettings:
    """A cylinder of ``volume_m3`` (water), at ``pressure_pa`` above the air's, of which
    ``rest_pa`` stays in it."""

    volume_m3: float
    pressure_pa: float
    rest_pa: float = 200_000.0
    temperature_k: float = 288.15

    def __post_init__(self) -> None:
        if not 0.0005 <= self.volume_m3 <= 1.0:
            raise ConfigurationError(
                f"cylinder.volume_m3 {self.volume_m3:g} m³ is no cylinder; give it with its unit,"
                ' such as "50 l"'
            )
        if not 500_000.0 <= self.pressure_pa <= 70_000_000.0:
            raise ConfigurationError(
                f"cylinder.pressure_pa {self.pressure_pa:g} Pa is no pressure of a cylinder; give"
                ' it with its unit, such as "200 bar"'
            )
        if not 0.0 <= self.rest_pa < self.pressure_pa:
            raise ConfigurationError("cylinder.rest_pa is above what is in the cylinder")
        if not 230.0 <= self.temperature_k <= 330.0:
            raise ConfigurationError("cylinder.temperature_k is no outdoor temperature")


@dataclass(frozen=True, slots=True, kw_only=True)
class ParachuteSettings:
    """``diameter_m`` is that of the whole canopy's area, spread flat (nominal diameter).
    ``balloon_left`` is the share of the balloon that usually stays on the string."""

    diameter_m: float
    kind: str = "unknown round"
    drag_coefficient: float | None = None
    balloon_left: float = 0.3
    mass_kg: float = 0.0

    def __post_init__(self) -> None:
        if not 0.15 <= self.diameter_m <= 10.0:
            raise ConfigurationError(
                f"parachute.diameter_m {self.diameter_m:g} m is no parachute of such a payload;"
                ' give it with its unit, such as "90 cm"'
            )
        if self.kind not in DRAG_OF_CANOPY:
            raise ConfigurationError(
                f"parachute.kind {self.kind!r} is not known; one of {', '.join(DRAG_OF_CANOPY)}"
            )
        if self.drag_coefficient is not None and not 0.2 <= self.drag_coefficient <= 2.5:
            raise ConfigurationError("parachute.drag_coefficient is between 0.2 and 2.5")
        if not 0.0 <= self.balloon_left <= 1.0:
            raise ConfigurationError("parachute.balloon_left is a share from 0 to 1")
        if self.mass_kg:
            _mass("parachute.mass_kg", self.mass_kg, 0.005, 10.0)

    @property
    def drag_range(self) -> tuple[float, float]:
        """The least and the most that its drag coefficient may be."""
        if self.drag_coefficient is not None:
            return 0.95 * self.drag_coefficient, 1.05 * self.drag_coefficient
        return DRAG_OF_CANOPY[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSettings:
    """Where it is filled and let go. ``temperature_k`` and ``pressure_pa`` are those of the air
    there; without them those of the standard atmosphere are taken."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    name: str = "site"
    temperature_k: float | None = None
    pressure_pa: float | None = None

    def __post_init__(self) -> None:
        if not -430.0 <= self.altitude_m <= 6_000.0:
            raise ConfigurationError("site.altitude_m is no height of a field")
        if self.temperature_k is not None and not 210.0 <= self.temperature_k <= 330.0:
            raise ConfigurationError(
                f"site.temperature_k {self.temperature_k:g} K is no temperature of a field; give it"
                ' with its unit, such as "15 degC"'
            )
        if self.pressure_pa is not None and not 40_000.0 <= self.pressure_pa <= 110_000.0:
            raise ConfigurationError(
                f"site.pressure_pa {self.pressure_pa:g} Pa is not that of the air; give it with its"
                ' unit, such as "1013 hPa", at the site and not reduced to the sea'
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
        if self.what is Wanted.NECK_LIFT:
            if self.neck_lift_kg is None:
                raise ConfigurationError("aim.neck_lift_kg is missing: what the scale showed")
            _mass("aim.neck_lift_kg", self.neck_lift_kg, 0.02, 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceSettings:
    """An aerodrome or a navigation aid that the site is told from."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSettings:
    """What the person sets for going: beyond these it is better to wait or to stay. None leaves
    one out."""

    ground_wind_ms: float | None = 6.0
    drift_m: float | None = 150_000.0
    keep_out: float | None = 0.05
    daylight_s: float | None = 7_200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightFile:
    """All of it. ``suspension_force_n`` is what separates the payload from the balloon,
    ``string_m`` how long it is from the neck to the last package. ``contact`` is whom an authority
    may call. ``candidate`` are other sites, to be compared. ``landing`` is the forecast that the
    flight is held against."""

    name: str
    launch: str | None = None
    timezone: str = "UTC"
    operator: str = ""
    contact: str = ""
    site: SiteSettings
    package: tuple[PackageSettings, ...]
    balloon: BalloonSettings
    gas: GasSettings = field(default_factory=GasSettings)
    cylinder: CylinderSettings | None = None
    parachute: ParachuteSettings
    aim: AimSettings = field(default_factory=AimSettings)
    limits: LimitSettings = field(default_factory=LimitSettings)
    reference: ReferenceSettings | None = None
    candidate: tuple[SiteSettings, ...] = ()
    landing: PlannedLanding | None = None
    suspension_force_n: float | None = None
    string_m: float = 0.0

    def __post_init__(self) -> None:
        try:
            ZoneInfo(self.timezone)
        except (ZoneInfoNotFoundError, ValueError) as error:
            raise ConfigurationError(
                f"timezone {self.timezone!r} is not known; give one such as Europe/Budapest"
            ) from error
        if not self.package:
            raise ConfigurationError("there is no [[package]]; add what is to be lifted")
        if self.aim.what is Wanted.CYLINDER and self.cylinder is None:
            raise ConfigurationError("aim.what is 'cylinder', and there is no [cylinder]")

    @property
    def payload_kg(self) -> float:
        """All that hangs on the balloon's neck."""
        return sum(one.mass_kg for one in self.package) + self.parachute.mass_kg


def typical_burst_m(mass_kg: float) -> float:
    """Of a latex balloon of this mass; see ``TYPICAL_BURST_M``."""
    masses = [*TYPICAL_BURST_M]
    low = max((one for one in masses if one <= mass_kg), default=masses[0])
    high = min((one for one in masses if one >= mass_kg), default=masses[-1])
    if low == high:
        # Beyond the table as the cube root of the mass, as a skin stretched alike would.
        return float(TYPICAL_BURST_M[low] * (mass_kg / low) ** (1.0 / 3.0))
    share = (mass_kg - low) / (high - low)
    return TYPICAL_BURST_M[low] + share * (TYPICAL_BURST_M[high] - TYPICAL_BURST_M[low])


def _mass(name: str, kilograms: float, least: float, most: float) -> None:
    if least <= kilograms <= most:
        return
    grams = ""
    if least <= kilograms / 1000.0 <= most:
        grams = f"; did you mean {kilograms / 1000.0:g} kg, which is {kilograms:g} g?"
    raise ConfigurationError(
        f"{name} {kilograms:g} kg is not between {least:g} and {most:g} kg{grams}"
    )
