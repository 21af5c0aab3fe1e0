"""How high the ground is: where the members of an ensemble come down, and below what climbs."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import Terrain
from groundstation.physics.geodesy import Plane
from groundstation.records import Fix

Array = NDArray[np.float64]

CLEAR_M: Final = 250.0
"""Cabins of cable cars hang less than this above the ground, but for a few spans across valleys
(common practice, no source); a climb that makes a launch is hardly more (own choice)."""


def terrain_m(terrain: Terrain, plane: Plane, x: Array, y: Array, otherwise_m: float) -> Array:
    """Heights at places of ``plane``; ``otherwise_m`` where the terrain is not known."""
    lat, lon = plane.to_latlon(x, y)
    heights = terrain.heights_m(np.asarray(lat), np.asarray(lon))
    return np.where(np.isfinite(heights), heights, otherwise_m)


def rises_above(terrain: Terrain | None, low: Fix, high: Fix) -> bool:
    """Whether what climbed from ``low`` to ``high`` left the ground behind; taken so where the
    ground is not known."""
    if terrain is None or not high.placed or low.altitude_m is None or high.altitude_m is None:
        return True
    foot_m, below_m = terrain.heights_m(
        np.array([low.latitude_deg, high.latitude_deg]),
        np.array([low.longitude_deg, high.longitude_deg]),
    )
    return not (high.altitude_m - below_m) - (low.altitude_m - foot_m) < CLEAR_M
