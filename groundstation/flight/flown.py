"""The track of a flight as arrays in a local plane, cut at its highest point."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.state import FlightState
from groundstation.physics.geodesy import Plane
from groundstation.records import Fix

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flown:
    """Time in s since 1970, metres east and north of ``plane``, metres above sea level.

    ``top`` is the index of the highest point; ascent is up to it, descent from it on.
    """

    plane: Plane
    time_s: Array
    x_m: Array
    y_m: Array
    altitude_m: Array
    top: int


def flown(state: FlightState) -> Flown | None:
    """The points with an altitude since the launch; None with fewer than two."""
    last, highest = state.last, state.highest
    if last is None:
        return None
    since = -np.inf if state.launch is None else state.launch.time_utc
    rows = [
        p
        for p in state.track.points
        if p.altitude_m is not None and since <= p.time_utc <= last.time_utc
    ]
    table = np.array(rows, dtype=float).reshape(-1, 4)
    if highest is not None and highest.altitude_m is not None and highest.time_utc >= since:
        at = int(np.searchsorted(table[:, 0], highest.time_utc))
        if at == len(table) or table[at, 0] != highest.time_utc:
            table = np.insert(table, at, _row(highest), axis=0)
    if len(table) < 2:
        return None
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = plane.to_xy(table[:, 1], table[:, 2])
    return Flown(plane, table[:, 0], x, y, table[:, 3], int(np.argmax(table[:, 3])))


def _row(fix: Fix) -> tuple[float, ...]:
    return (fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m or 0.0)
