"""How high the ground is where the members of an ensemble come down."""

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import Terrain
from groundstation.physics.geodesy import Plane

Array = NDArray[np.float64]


def terrain_m(terrain: Terrain, plane: Plane, x: Array, y: Array, otherwise_m: float) -> Array:
    """Heights at places of ``plane``; ``otherwise_m`` where the terrain is not known."""
    lat, lon = plane.to_latlon(x, y)
    heights = terrain.heights_m(np.asarray(lat), np.asarray(lon))
    return np.where(np.isfinite(heights), heights, otherwise_m)
