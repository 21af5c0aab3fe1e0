"""Figures of a plan as the person reads them, metric or imperial."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number as written
from groundstation.units import (
    CELSIUS_ZERO_K,
    FOOT_M,
    INCH_M,
    MILE_M,
    POUND_FORCE_N,
    POUND_KG,
    Units,
)

_KINDS: Final[dict[str, tuple[tuple[float, int, str], tuple[float, int, str]]]] = {
    "mass": ((1.0, 2, "kg"), (1.0 / POUND_KG, 2, "lb")),
    "volume": ((1.0, 2, "m³"), (FOOT_M**-3, 1, "ft³")),
    "size": ((1.0, 2, "m"), (1.0 / FOOT_M, 1, "ft")),
    "across": ((1.0, 1, "m"), (1.0 / FOOT_M, 1, "ft")),
    "length": ((1.0, 0, "m"), (1.0 / FOOT_M, 0, "ft")),
    "pressure": ((1e-5, 0, "bar"), (INCH_M**2 / POUND_FORCE_N, 0, "psi")),
    "air": ((1e-2, 0, "hPa"), (1.0 / 3386.389, 2, "inHg")),
    "rate": ((1.0, 1, "m/s"), (60.0 / FOOT_M, 0, "ft/min")),
    "fine_rate": ((1.0, 2, "m/s"), (60.0 / FOOT_M, 1, "ft/min")),
    "wind": ((1.0, 1, "m/s"), (3600.0 / MILE_M, 0, "mph")),
    "height": ((1e-3, 1, "km"), (1.0 / FOOT_M, 0, "ft")),
    "level": ((1e-3, 0, "km"), (1.0 / FOOT_M, 0, "ft")),
    "distance": ((1e-3, 0, "km"), (1.0 / MILE_M, 0, "mi")),
    "away": ((1e-3, 1, "km"), (1.0 / MILE_M, 1, "mi")),
    "altitude": ((1.0, 0, "m"), (1.0 / FOOT_M, 0, "ft")),
    "minutes": ((1.0 / 60.0, 0, N_("min")), (1.0 / 60.0, 0, N_("min"))),
    "energy": ((1.0, 0, "J"), (1.0 / (FOOT_M * POUND_FORCE_N), 0, "ft·lbf")),
    "force": ((1.0, 0, "N"), (1.0 / POUND_FORCE_N, 0, "lbf")),
    "density": ((0.1, 1, "g/cm²"), (16.0 * INCH_M**2 / POUND_KG, 2, "oz/in²")),
}
"""SI to what is shown: factor, decimals, unit."""

_ROUNDED_FT: Final = 100.0  # heights in feet are said in hundreds (common practice)
_LEVELS_M: Final = (5_000.0, 20_000.0 * FOOT_M)  # own choice: five or six marks up to the burst


@dataclass(frozen=True, slots=True)
class Shown:
    """Writes values in SI in the units that are wanted, as the language that is spoken has it."""

    units: Units = Units.METRIC

    def number(self, kind: str, value: float) -> str:
        """Without its unit; ``kind`` is a key of the table above."""
        factor, decimals, _ = self._kind(kind)
        number = factor * value
        if kind in ("height", "level") and self.units is Units.IMPERIAL:
            number = round(number / _ROUNDED_FT) * _ROUNDED_FT
        return written(number, decimals)

    def unit(self, kind: str) -> str:
        unit = self._kind(kind)[2]
        # Those of the SI are alike in every language, and N is a direction, too.
        return _(unit) if kind == "minutes" else unit

    def text(self, kind: str, value: float) -> str:
        """Such as "3.36 m³" or "78 bar"."""
        return f"{self.number(kind, value)} {self.unit(kind)}"

    def span(self, kind: str, low: float, high: float) -> str:
        """Such as "4.9 to 5.8 m/s"."""
        return _("{low} to {high}", low=self.number(kind, low), high=self.text(kind, high))

    def give_or_take(self, kind: str, value: float, sd: float) -> str:
        """Such as "5.2 ± 0.3 m/s"."""
        return f"{self.number(kind, value)} ± {self.text(kind, sd)}"

    def value(self, kind: str, value: float) -> float:
        """A number to be drawn, neither rounded nor written."""
        return self._kind(kind)[0] * value

    def values(self, kind: str, values: ArrayLike) -> NDArray[np.float64]:
        """Such numbers."""
        return self._kind(kind)[0] * np.asarray(values, dtype=float)

    def degrees(self, kelvin: ArrayLike) -> NDArray[np.float64]:
        """Temperatures as they are read on a thermometer."""
        celsius = np.asarray(kelvin, dtype=float) - CELSIUS_ZERO_K
        return celsius * 1.8 + 32.0 if self.units is Units.IMPERIAL else celsius

    @property
    def degrees_unit(self) -> str:
        return "°F" if self.units is Units.IMPERIAL else "°C"

    @property
    def levels_m(self) -> float:
        """How far apart heights are marked: round in what is shown."""
        return _LEVELS_M[self.units is Units.IMPERIAL]

    def _kind(self, kind: str) -> tuple[float, int, str]:
        return _KINDS[kind][self.units is Units.IMPERIAL]


METRIC: Final = Shown()
