"""How likely a look finds, or hears, what lies somewhere.

A sweep with the eye finds what is within reach and nothing beyond (Koopman 1946: the definite
range law); a receiver hears less and less with distance, half as well at its reach.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.physics.region import inside

Array = NDArray[np.float64]


def detection(
    plane: Plane,
    x_m: Array,
    y_m: Array,
    shape: Sequence[tuple[float, float]],
    *,
    area: bool,
    reach_m: float,
    chance: float,
    fades: bool,
) -> Array:
    """How likely it is found at each of ``x_m``, ``y_m`` (metres in ``plane``, any shape).

    ``shape`` are (latitude, longitude) in degrees: one place, a way, or with ``area`` the corners
    of an area. ``chance`` is how likely it is found right there; it ``fades`` with distance, or
    ends at ``reach_m``.
    """
    lat, lon = np.array(shape).T
    px, py = plane.to_xy(lat, lon)
    away = _distance(px, py, x_m, y_m, closed=area)
    if area:
        ring = (np.append(px, px[0]), np.append(py, py[0]))
        away = np.where(inside(x_m, y_m, [ring]), 0.0, away)
    if not fades:
        return np.where(away <= reach_m, chance, 0.0)
    return np.asarray(chance * np.exp2(-((away / reach_m) ** 2)))


def _distance(px: Array, py: Array, x: Array, y: Array, *, closed: bool) -> Array:
    """Metres from each of ``x``, ``y`` to the nearest piece of the line."""
    if closed:
        px, py = np.append(px, px[0]), np.append(py, py[0])
    best = np.hypot(x - px[0], y - py[0])
    for n in range(len(px) - 1):
        dx, dy = px[n + 1] - px[n], py[n + 1] - py[n]
        length = dx * dx + dy * dy
        along = ((x - px[n]) * dx + (y - py[n]) * dy) / length if length > 0.0 else 0.0 * x
        along = np.clip(along, 0.0, 1.0)
        best = np.minimum(best, np.hypot(x - px[n] - along * dx, y - py[n] - along * dy))
    return np.asarray(best)
