"""The track of a flight as arrays in a local plane, cut at its highest point."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.geodesy import Plane
from groundstation.records import Fix

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TrackArrays:
    """Time in s since 1970, metres east and north of ``plane``, metres above sea level.

    ``top`` is the index of the highest point; ascent is up to it, descent from it on.
    """

    plane: Plane
    time_s: Array
    x_m: Array
    y_m: Array
    altitude_m: Array
    top: int

    @property
    def anchor_m(self) -> float:
        """The last height that was heard."""
        return float(self.altitude_m[-1])

    @property
    def anchor_utc(self) -> float:
        """When it was heard."""
        return float(self.time_s[-1])


def flown(state: FlightState) -> TrackArrays | None:
    """The points with a height since the launch; None with fewer than two."""
    last, highest = state.motion.last, state.motion.highest
    if last is None:
        return None
    since = -np.inf if state.motion.launch is None else state.motion.launch.time_utc
    points = [p for p in state.motion.track.points if since <= p.time_utc <= last.time_utc]
    rows = [tuple(p) for p in points if p.altitude_m is not None]
    table = np.array(rows, dtype=float).reshape(-1, 4)
    if highest is not None and highest.placed and highest.time_utc >= since:
        at = int(np.searchsorted(table[:, 0], highest.time_utc))
        if at == len(table) or table[at, 0] != highest.time_utc:
            table = np.insert(table, at, _row(highest), axis=0)
    if len(table) < 2:
        return None
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = plane.to_xy(table[:, 1], table[:, 2])
    top = int(np.argmax(table[:, 3]))
    return TrackArrays(plane, table[:, 0], x, y, table[:, 3], top)


def ground_given_m(settings: FlightSettings) -> float:
    """The height of the ground where no fix tells it: as set, else that of base, else the sea's."""
    if settings.ground_m is not None:
        return settings.ground_m
    return 0.0 if settings.base is None else settings.base.altitude_m


def climb_rate_ms(settings: FlightSettings, time_s: Array, altitude_m: Array) -> float:
    """The climb of the last ten minutes; the plan's where there is none yet."""
    recent = time_s >= time_s[-1] - 600.0
    t, z = time_s[recent], altitude_m[recent]
    if len(t) >= 2 and t[-1] - t[0] >= 30.0:
        return float(np.clip((z[-1] - z[0]) / (t[-1] - t[0]), 0.5, 15.0))
    return settings.plan.ascent_rate_ms


def _row(fix: Fix) -> tuple[float, ...]:
    return (fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m or 0.0)
