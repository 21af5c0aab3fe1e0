"""Gas, lift and size of a balloon: Archimedes and the ideal gas law.

The gas is taken to have the temperature and the pressure of the air around it, and the skin not to
press on it, so the gross lift stays the same at every height. Sources: molar masses of IUPAC (CIAAW
2021); the shape of the lift balance as in WMO-No. 8, on upper-air balloons (from memory).
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.errors import OutOfModelRangeError
from groundstation.physics.atmosphere import SEA_LEVEL_DENSITY_KGM3, STANDARD_GRAVITY_MS2

UNIVERSAL_JMOLK: Final = 8.314462618
"""CODATA 2018, exact by definition."""

AIR_KGMOL: Final = 28.9644e-3
"""Dry air of the US Standard Atmosphere 1976."""


class Gas(StrEnum):
    HELIUM = "helium"
    HYDROGEN = "hydrogen"


MOLAR_KGMOL: Final = {Gas.HELIUM: 4.002602e-3, Gas.HYDROGEN: 2.01588e-3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What fills the balloon: ``purity`` is the share of ``gas`` by volume, the rest is air."""

    gas: Gas = Gas.HELIUM
    purity: float = 1.0

    def __post_init__(self) -> None:
        if not 0.5 <= self.purity <= 1.0:
            raise OutOfModelRangeError(
                f"a purity of {self.purity:g} is none: give the share of the gas, such as 0.99"
            )

    @property
    def molar_kgmol(self) -> float:
        return self.purity * MOLAR_KGMOL[self.gas] + (1.0 - self.purity) * AIR_KGMOL

    def lift_kgm3(self, pressure_pa: float, temperature_k: float) -> float:
        """How much a cubic metre of it lifts in air of that pressure and temperature."""
        moles = pressure_pa / (UNIVERSAL_JMOLK * temperature_k)
        return moles * (AIR_KGMOL - self.molar_kgmol)


def diameter_m(volume_m3: float) -> float:
    """Of a sphere."""
    return float((6.0 * volume_m3 / math.pi) ** (1.0 / 3.0))


def volume_m3(diameter: float) -> float:
    """Of a sphere."""
    return math.pi * diameter**3 / 6.0


def ascent_rate_ms(
    free_lift_kg: float,
    volume: float,
    drag_coefficient: float,
    density_kgm3: float = SEA_LEVEL_DENSITY_KGM3,
) -> float:
    """The steady rise of a sphere of ``volume`` m3 that is pulled up by ``free_lift_kg``.

    Drag balance: free lift times g = rho Cd A v^2 / 2.
    """
    if free_lift_kg <= 0.0:
        return 0.0
    area = math.pi * diameter_m(volume) ** 2 / 4.0
    pull = 2.0 * free_lift_kg * STANDARD_GRAVITY_MS2
    return math.sqrt(pull / (density_kgm3 * drag_coefficient * area))


def free_lift_for_kg(
    ascent_ms: float,
    lifted_kg: float,
    lift_kgm3: float,
    drag_coefficient: float,
    density_kgm3: float = SEA_LEVEL_DENSITY_KGM3,
) -> float:
    """The free lift that makes ``lifted_kg`` (balloon and all that hangs on it) rise so fast.

    Raises ``OutOfModelRangeError`` for what no fill gives.
    """
    if not 0.1 <= ascent_ms <= 15.0:
        raise OutOfModelRangeError(f"no balloon is filled to rise at {ascent_ms:g} m/s")

    def faster(free: float) -> float:
        volume = (lifted_kg + free) / lift_kgm3
        return ascent_rate_ms(free, volume, drag_coefficient, density_kgm3) - ascent_ms

    low, high = 0.0, lifted_kg
    while faster(high) < 0.0:
        high *= 2.0
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if faster(middle) < 0.0 else (low, middle)
    return (low + high) / 2.0
