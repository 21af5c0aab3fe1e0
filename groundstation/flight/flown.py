"""The track of a flight as arrays in a local plane, cut at its highest point."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.geodesy import Plane
from groundstation.records import Fix, Phase

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flown:
    """Time in s since 1970, metres east and north of ``plane``, metres above sea level.

    ``top`` is the index of the highest point; ascent is up to it, descent from it on. ``blind``
    (time, x, y; each of shape (n,)) are the points after the last one with an altitude. Where
    those belong to a climb, they stand among the others too, from index ``known`` on, at the
    height that the climb so far would have brought them to: good for winds, for nothing else.
    """

    plane: Plane
    time_s: Array
    x_m: Array
    y_m: Array
    altitude_m: Array
    top: int
    known: int
    blind: Array

    @property
    def anchor_m(self) -> float:
        """The last height that was heard."""
        return float(self.altitude_m[self.known - 1])

    @property
    def anchor_s(self) -> float:
        """When it was heard."""
        return float(self.time_s[self.known - 1])


def flown(settings: FlightSettings, state: FlightState) -> Flown | None:
    """The points since the launch; None with fewer than two.

    A flight whose fixes never have an altitude begins at its launch, at the height of the ground.
    """
    last, highest = state.last, state.highest
    if last is None:
        return None
    since = -np.inf if state.launch is None else state.launch.time_utc
    points = [p for p in state.track.points if since <= p.time_utc <= last.time_utc]
    rows = [tuple(p) for p in points if p.altitude_m is not None]
    if not rows and points and state.launch is not None:
        rows = [(*points[0][:3], ground_given_m(settings))]
    table = np.array(rows, dtype=float).reshape(-1, 4)
    if highest is not None and highest.altitude_m is not None and highest.time_utc >= since:
        at = int(np.searchsorted(table[:, 0], highest.time_utc))
        if at == len(table) or table[at, 0] != highest.time_utc:
            table = np.insert(table, at, _row(highest), axis=0)
    if not len(table):
        return None
    known = len(table)
    unseen = np.array([p[:3] for p in points if p.time_utc > table[-1, 0]], dtype=float)
    unseen = unseen.reshape(-1, 3)
    if len(unseen) and state.phase is Phase.ASCENT:
        table = np.concatenate([table, _climbed(settings, table, unseen)])
    if len(table) < 2:
        return None
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = plane.to_xy(table[:, 1], table[:, 2])
    bx, by = plane.to_xy(unseen[:, 1], unseen[:, 2])
    blind = np.stack([unseen[:, 0], bx, by])
    top = int(np.argmax(table[:, 3]))
    return Flown(plane, table[:, 0], x, y, table[:, 3], top, known, blind)


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


def _climbed(settings: FlightSettings, table: Array, unseen: Array) -> Array:
    """``unseen`` with heights, as far as it surely had not burst."""
    plan = settings.plan
    rate = climb_rate_ms(settings, table[:, 0], table[:, 3])
    height = table[-1, 3] + rate * (unseen[:, 0] - table[-1, 0])
    sure = height < max(plan.burst_altitude_m - plan.burst_altitude_sd_m, table[-1, 3] + 500.0)
    return np.asarray(np.column_stack([unseen, height])[sure])


def _row(fix: Fix) -> tuple[float, ...]:
    return (fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m or 0.0)
