"""From the fill to the burst and back: solved in any direction.

The gas has the air's temperature and pressure at every height (``physics/buoyancy.py``), so the
gross lift stays the same, and it bursts where the air is so thin that it fills the burst volume.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import OutOfModelRangeError
from groundstation.physics.atmosphere import STANDARD_GRAVITY_MS2, density, temperature
from groundstation.physics.buoyancy import (
    AIR_KGMOL,
    UNIVERSAL_JMOLK,
    Fill,
    Gas,
    ascent_rate_ms,
    diameter_m,
    free_lift_for_kg,
    volume_m3,
)
from groundstation.planning.gear import CylinderSettings
from groundstation.planning.settings import FlightFile, SiteSettings, Wanted

HIGHEST_M: Final = 60_000.0  # own choice: latex bursts lower (from memory)
AIR_PA: Final = 101_325.0  # US Standard Atmosphere 1976, at sea level
LEAST_FREE_SHARE: Final = 0.2
"""Of what is lifted. Zero-pressure balloons rise on a tenth of it (Yajima et al. 2009); latex that
leaks or is wetted needs more."""

CROWDING: Final = {Gas.HELIUM: (4.866e-9, -5.2e-18), Gas.HYDROGEN: (5.93e-9, 1.41e-17)}
"""Z - 1 = a p + b p², p in Pa, at 20 °C: fitted at 50, 150, 200 and 300 bar to the equations of
state of Ortiz-Vega (helium, 2013) and Leachman et al. (hydrogen, 2009), to 0.1 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air at the site."""

    pressure_pa: float
    temperature_k: float

    @property
    def density_kgm3(self) -> float:
        return self.pressure_pa * AIR_KGMOL / (UNIVERSAL_JMOLK * self.temperature_k)

    @classmethod
    def at(cls, site: SiteSettings) -> "Air":
        return cls(
            pressure_pa=site.air_pa,
            temperature_k=site.temperature_k or float(temperature(site.altitude_m)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Balloon:
    """What is fixed before the fill."""

    mass_kg: float
    payload_kg: float
    burst_diameter_m: float
    drag_coefficient: float
    fill: Fill
    air: Air

    @property
    def lift_kgm3(self) -> float:
        return self.fill.lift_kgm3(self.air.pressure_pa, self.air.temperature_k)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """A fill and what follows from it. The volume is that at the site."""

    volume_m3: float
    gross_kg: float
    neck_kg: float
    free_kg: float
    diameter_m: float
    ascent_rate_ms: float
    burst_altitude_m: float


def of_neck_lift(balloon: Balloon, neck_kg: float) -> Lift:
    """What a balloon does that pulls so hard at its neck. Raises ``OutOfModelRangeError``."""
    free = neck_kg - balloon.payload_kg
    if free <= 0.0:
        raise OutOfModelRangeError(
            f"a neck lift of {neck_kg:.2f} kg does not lift {balloon.payload_kg:.2f} kg: it would"
            " stay on the ground"
        )
    gross = neck_kg + balloon.mass_kg
    volume = gross / balloon.lift_kgm3
    return Lift(
        volume_m3=volume,
        gross_kg=gross,
        neck_kg=neck_kg,
        free_kg=free,
        diameter_m=diameter_m(volume),
        ascent_rate_ms=ascent_rate_ms(
            free, volume, balloon.drag_coefficient, balloon.air.density_kgm3
        ),
        burst_altitude_m=_burst_m(balloon, volume),
    )


def of_volume(balloon: Balloon, volume: float) -> Lift:
    """What it does with so many cubic metres, measured at the site."""
    return of_neck_lift(balloon, volume * balloon.lift_kgm3 - balloon.mass_kg)


def of_ascent_rate(balloon: Balloon, rate_ms: float) -> Lift:
    """The fill that makes it rise so fast."""
    lifted = balloon.mass_kg + balloon.payload_kg
    free = free_lift_for_kg(
        rate_ms, lifted, balloon.lift_kgm3, balloon.drag_coefficient, balloon.air.density_kgm3
    )
    return of_neck_lift(balloon, balloon.payload_kg + free)


def of_burst_altitude(balloon: Balloon, altitude_m: float) -> Lift:
    """The fill that bursts so high. Raises ``OutOfModelRangeError``, which names the highest that
    can be reached."""
    thinner = float(density(altitude_m)) / balloon.air.density_kgm3
    volume = volume_m3(balloon.burst_diameter_m) * thinner
    lifted = balloon.mass_kg + balloon.payload_kg
    if volume * balloon.lift_kgm3 > lifted:
        return of_volume(balloon, volume)
    highest = _burst_m(balloon, lifted / balloon.lift_kgm3)
    wise = _burst_m(balloon, (1.0 + LEAST_FREE_SHARE) * lifted / balloon.lift_kgm3)
    raise OutOfModelRangeError(
        f"no fill takes this balloon and payload to {altitude_m / 1000.0:.1f} km: the highest that"
        f" can be reached is {highest / 1000.0:.1f} km, where nothing is left to rise with, and"
        f" {wise / 1000.0:.1f} km with a free lift of {100.0 * LEAST_FREE_SHARE:.0f} %. Take a"
        " larger balloon, less payload, or aim lower"
    )


def solved(flight: FlightFile, balloon: Balloon) -> Lift:
    """What the flight file aims for. Raises ``OutOfModelRangeError``."""
    aim = flight.aim
    match aim.what:
        case Wanted.ASCENT_RATE:
            return of_ascent_rate(balloon, aim.ascent_rate_ms)
        case Wanted.BURST_ALTITUDE:
            return of_burst_altitude(balloon, aim.burst_altitude_m)
        case Wanted.NECK_LIFT:
            assert aim.neck_lift_kg is not None
            return of_neck_lift(balloon, aim.neck_lift_kg)
        case Wanted.CYLINDER:
            assert flight.cylinder is not None
            return of_volume(balloon, volume_of(flight.cylinder, balloon.fill.gas, balloon.air))


def volume_of(cylinder: CylinderSettings, gas: Gas, air: Air) -> float:
    """How many cubic metres come out of a cylinder at the site, without the rest."""
    left = _moles(cylinder, cylinder.pressure_pa, gas) - _moles(cylinder, cylinder.rest_pa, gas)
    return left * UNIVERSAL_JMOLK * air.temperature_k / air.pressure_pa


def pressure_used_pa(cylinder: CylinderSettings, volume: float, gas: Gas, air: Air) -> float:
    """By how much the cylinder's gauge falls when so many cubic metres are taken. Raises
    ``OutOfModelRangeError`` where they are not in it."""
    wanted = volume * air.pressure_pa / (UNIVERSAL_JMOLK * air.temperature_k)
    full = _moles(cylinder, cylinder.pressure_pa, gas)
    if full - _moles(cylinder, cylinder.rest_pa, gas) < wanted:
        raise OutOfModelRangeError(
            f"the cylinder gives {volume_of(cylinder, gas, air):.2f} m³, and {volume:.2f} m³ are"
            " needed; take a fuller or a second one"
        )
    low, high = 0.0, cylinder.pressure_pa
    for _ in range(60):
        middle = (low + high) / 2.0
        taken = full - _moles(cylinder, cylinder.pressure_pa - middle, gas)
        low, high = (middle, high) if taken < wanted else (low, middle)
    return (low + high) / 2.0


def compressibility(gas: Gas, pressure_pa: float) -> float:
    """Z of the gas at outdoor temperatures: how much less of it there is than an ideal one."""
    a, b = CROWDING[gas]
    return 1.0 + a * pressure_pa + b * pressure_pa**2


def descent_rate_ms(mass_kg: float, diameter: float, drag_coefficient: float, air: float) -> float:
    """Steady fall under a canopy of nominal ``diameter`` m in air of ``air`` kg/m3: weight is
    rho Cd S v² / 2 (Knacke, NWC TP 6575, chapter 5)."""
    area = np.pi * diameter**2 / 4.0
    return float(np.sqrt(2.0 * mass_kg * STANDARD_GRAVITY_MS2 / (air * drag_coefficient * area)))


def canopy_m(mass_kg: float, rate_ms: float, drag_coefficient: float, air: float) -> float:
    """The nominal diameter of a canopy under which it falls so fast."""
    area = 2.0 * mass_kg * STANDARD_GRAVITY_MS2 / (air * drag_coefficient * rate_ms**2)
    return float(np.sqrt(4.0 * area / np.pi))


def water_m3(cylinder: CylinderSettings, gas: Gas) -> float:
    """The cylinder's size, of its label's content where that is what is given."""
    if cylinder.volume_m3 is not None:
        return cylinder.volume_m3
    assert cylinder.content_m3 is not None
    inside = (cylinder.label_pa or cylinder.pressure_pa) + AIR_PA
    return cylinder.content_m3 * AIR_PA * compressibility(gas, inside) / inside


def _moles(cylinder: CylinderSettings, gauge_pa: float, gas: Gas) -> float:
    inside = gauge_pa + AIR_PA
    crowded = compressibility(gas, inside) * UNIVERSAL_JMOLK * cylinder.temperature_k
    return inside * water_m3(cylinder, gas) / crowded


def _burst_m(balloon: Balloon, volume: float) -> float:
    """Where the air has thinned so far that the balloon fills its burst volume."""
    wanted = balloon.air.density_kgm3 * volume / volume_m3(balloon.burst_diameter_m)
    if wanted >= balloon.air.density_kgm3:
        raise OutOfModelRangeError(
            f"{volume:.1f} m³ are more than a balloon that bursts at"
            f" {balloon.burst_diameter_m:.1f} m takes: it would burst while it is filled"
        )
    heights, thickness = _thickness()
    return float(np.interp(-math.log(wanted), thickness, heights))


@cache
def _thickness() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Heights, and minus the logarithm of the density there, which rises with them."""
    heights = np.arange(-500.0, HIGHEST_M, 20.0)
    return heights, -np.log(density(heights))
