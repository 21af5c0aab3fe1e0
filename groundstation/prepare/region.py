"""The region that is prepared: a circle around the site."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from groundstation.geo.places import Box
from groundstation.physics.geodesy import destination, metres_per_degree

Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Degrees and metres."""

    latitude_deg: float
    longitude_deg: float
    radius_m: float

    @property
    def box(self) -> Box:
        """South, west, north, east of it; west is above east across the date line."""
        at = self.latitude_deg, self.longitude_deg
        north, south = (
            destination(*at, 0.0, self.radius_m)[0],
            destination(*at, 180.0, self.radius_m)[0],
        )
        # The widest is at the parallel nearest to the pole.
        furthest = min(max(abs(north), abs(south)), 89.0)
        wide = min(self.radius_m / metres_per_degree(furthest)[1], 179.0)
        return south, _turned(at[1] - wide), north, _turned(at[1] + wide)

    def tiles(self) -> Iterator[tuple[int, int]]:
        """South-west corners of the degrees that its box touches."""
        south, west, north, east = self.box
        last = math.floor(west + (east - west) % 360.0)
        for lat in range(math.floor(south), math.floor(north) + 1):
            for lon in range(math.floor(west), last + 1):
                yield lat, int(_turned(lon))

    def columns(self, across: int) -> list[Place]:
        """Places of a grid over its box, ``across`` each way."""
        south, west, north, east = self.box
        wide = (east - west) % 360.0
        return [
            (
                round(south + (north - south) * row / (across - 1), 4),
                round(_turned(west + wide * column / (across - 1)), 4),
            )
            for row in range(across)
            for column in range(across)
        ]


def _turned(longitude_deg: float) -> float:
    return (longitude_deg + 180.0) % 360.0 - 180.0
