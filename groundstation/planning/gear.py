"""The gear of a flight file: boxes, balloon, gas, cylinder and parachute."""

from dataclasses import dataclass
from typing import Final

from groundstation.errors import ConfigurationError
from groundstation.language.catalogue import N_, _
from groundstation.physics.buoyancy import Gas

TYPICAL_BURST_M: Final = {
    0.05: 1.2, 0.1: 2.0, 0.15: 2.5, 0.2: 3.0, 0.3: 3.8, 0.35: 4.1, 0.5: 5.0, 0.6: 6.0, 0.8: 7.0,
    1.0: 7.9, 1.2: 8.6, 1.5: 9.4, 2.0: 10.5, 3.0: 13.0,
}  # fmt: skip
"""Burst diameter by the mass of a latex balloon, in m by kg: from memory of data sheets; no public
table was found. The data sheet of the balloon counts, and below 200 g above all."""

SMALL_KG: Final = 0.2  # own choice: below it data sheets are remembered least
TYPICAL_SD: Final = 0.10
"""How far a typical burst diameter is off, as a share, beside 0.065 of one from the data sheet:
own choice, as makers differ by about that."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSettings:
    """A box that hangs on the string. ``smallest_face_m`` are the sides of its smallest face."""

    name: str
    mass_kg: float
    smallest_face_m: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        check_mass(f"package {self.name!r}: mass_kg", self.mass_kg, 0.005, 50.0)
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
    burst_diameter_sd: float | None = None
    drag_coefficient: float = 0.30
    drag_coefficient_sd: float = 0.03

    def __post_init__(self) -> None:
        check_mass("balloon.mass_kg", self.mass_kg, 0.05, 10.0)
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
        if self.burst_diameter_sd is not None and not 0.0 < self.burst_diameter_sd <= 0.3:
            raise ConfigurationError(
                f"balloon.burst_diameter_sd {self.burst_diameter_sd:g} is no share from 0 to 0.3;"
                ' give 0.065, or "6.5 %"'
            )
        if not 0.0 <= self.drag_coefficient_sd <= 0.3:
            raise ConfigurationError(
                f"balloon.drag_coefficient_sd {self.drag_coefficient_sd:g} is not from 0 to 0.3;"
                " give how far the drag coefficient is off, such as 0.03"
            )

    @property
    def diameter_sd(self) -> float:
        """How far the burst diameter is off, as a share."""
        if self.burst_diameter_sd is not None:
            return self.burst_diameter_sd
        return TYPICAL_SD if self.burst_diameter_m is None else 0.065

    @property
    def diameter_at_burst_m(self) -> float:
        return self.burst_diameter_m or typical_burst_m(self.mass_kg)


_GASES: Final = {Gas.HELIUM: N_("helium"), Gas.HYDROGEN: N_("hydrogen")}


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

    @property
    def called(self) -> str:
        """In the language that is spoken."""
        return _(_GASES[self.kind])


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderSettings:
    """A cylinder at ``pressure_pa`` above the air's, of which ``rest_pa`` stays in it. Its size is
    ``volume_m3`` (of water), or ``content_m3``: how much gas the label says is in it when it is at
    ``label_pa``, without which that is the pressure of today."""

    volume_m3: float | None = None
    content_m3: float | None = None
    label_pa: float | None = None
    pressure_pa: float
    rest_pa: float = 200_000.0
    temperature_k: float = 288.15

    def __post_init__(self) -> None:
        if (self.volume_m3 is None) == (self.content_m3 is None):
            raise ConfigurationError(
                'cylinder takes one of volume_m3, its size in water, such as "50 l", and'
                ' content_m3, the gas in it by its label, such as "244 ft3"'
            )
        if self.volume_m3 is not None and not 0.0005 <= self.volume_m3 <= 0.3:
            raise ConfigurationError(
                f"cylinder.volume_m3 {self.volume_m3:g} m³ is no cylinder; give its size in water"
                ' with its unit, such as "50 l", or the gas in it by its label as content_m3, such'
                ' as "244 ft3"'
            )
        if self.content_m3 is not None and not 0.05 <= self.content_m3 <= 60.0:
            raise ConfigurationError(
                f"cylinder.content_m3 {self.content_m3:g} m³ is no cylinder's gas; give it with its"
                ' unit, such as "244 ft3" or "9 m3"'
            )
        for name in ("pressure_pa", "label_pa"):
            value = getattr(self, name)
            if value is not None and not 500_000.0 <= value <= 70_000_000.0:
                raise ConfigurationError(
                    f"cylinder.{name} {value:g} Pa is no pressure of a cylinder; give it with its"
                    ' unit, such as "200 bar" or "2200 psi"'
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
            check_mass("parachute.mass_kg", self.mass_kg, 0.005, 10.0)

    @property
    def drag_range(self) -> tuple[float, float]:
        """The least and the most that its drag coefficient may be."""
        if self.drag_coefficient is not None:
            return 0.95 * self.drag_coefficient, 1.05 * self.drag_coefficient
        return DRAG_OF_CANOPY[self.kind]


def typical_burst_m(mass_kg: float) -> float:
    """Of a latex balloon of this mass; see ``TYPICAL_BURST_M``."""
    masses = [*TYPICAL_BURST_M]
    low = max((known_kg for known_kg in masses if known_kg <= mass_kg), default=masses[0])
    high = min((known_kg for known_kg in masses if known_kg >= mass_kg), default=masses[-1])
    if low == high:
        # Beyond the table as the cube root of the mass, as a skin stretched alike would.
        return float(TYPICAL_BURST_M[low] * (mass_kg / low) ** (1.0 / 3.0))
    share = (mass_kg - low) / (high - low)
    return TYPICAL_BURST_M[low] + share * (TYPICAL_BURST_M[high] - TYPICAL_BURST_M[low])


def check_mass(name: str, kilograms: float, least: float, most: float) -> None:
    if least <= kilograms <= most:
        return
    grams = ""
    if least <= kilograms / 1000.0 <= most:
        grams = f"; did you mean {kilograms / 1000.0:g} kg, which is {kilograms:g} g?"
    raise ConfigurationError(
        f"{name} {kilograms:g} kg is not between {least:g} and {most:g} kg{grams}"
    )
