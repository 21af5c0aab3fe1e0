"""Places that are told roughly: as the middle of a square of a grid that never moves.

A random shift for each message would be undone by the mean of many. A fixed grid tells the same
square each time, however often it is asked; and since a place near an edge would change squares to
and fro, and so show where the edge is, a square is left only for a place well beyond it.
"""

import math
from dataclasses import dataclass, field
from typing import Final

METRES_PER_DEGREE: Final = 111_195.0
"""Of latitude, on a sphere of 6,371 km; a grid needs it no better."""

LEFT_AT: Final = 0.75
"""A square is left so many of its sides from its middle; its edge is at 0.5 (own choice)."""


@dataclass(slots=True)
class Blur:
    """Squares of ``size_m``; 0 tells places as they are."""

    size_m: float
    _kept: dict[str, tuple[float, float]] = field(default_factory=dict)

    def place(self, lat: float, lon: float) -> tuple[float, float]:
        """The middle of the square in which it is."""
        if not self.size_m:
            return round(lat, 5), round(lon, 5)
        step = self.size_m / METRES_PER_DEGREE
        row = min(math.floor((lat + 90.0) / step), math.ceil(180.0 / step) - 1)
        middle = (row + 0.5) * step - 90.0
        columns = self._columns(middle)
        column = math.floor((lon + 180.0) % 360.0 * columns / 360.0)
        return round(middle, 5), round((column + 0.5) * 360.0 / columns - 180.0, 5)

    def follow(self, name: str, lat: float, lon: float) -> tuple[float, float]:
        """The same for a place that is told again and again under one ``name``."""
        known = self._kept.get(name)
        if known is None or self._left(known, lat, lon):
            known = self.place(lat, lon)
            self._kept[name] = known
        return known

    def _columns(self, middle: float) -> int:
        around = 360.0 * METRES_PER_DEGREE * max(math.cos(math.radians(middle)), 0.0)
        return max(1, round(around / self.size_m))

    def _left(self, known: tuple[float, float], lat: float, lon: float) -> bool:
        if not self.size_m:
            return True
        north = abs(lat - known[0]) * METRES_PER_DEGREE / self.size_m
        width = 360.0 / self._columns(known[0])
        east = abs((lon - known[1] + 180.0) % 360.0 - 180.0) / width
        return max(north, east) > LEFT_AT
