"""How a track turns, speeds up and stops from minute to minute: the odds of a balloon in the winds
against something that is steered.

What rises through the winds changes its velocity a little in each minute, as much aside as along
its way. A road is straight, or bends by much; who drives on it goes on as fast as before, turns
off, or stops. So a few minutes of places each minute or oftener tell the two apart, where winds are
not known.
"""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from groundstation.flight.track import Point
from groundstation.physics.geodesy import Plane

PIECE_S: Final = 55.0  # own choice: over less, errors of place look like turns
LONGEST_S: Final = 130.0  # own choice: over more, halts and bends are no longer seen
FEWEST: Final = 4  # own choice: of changes, so that one straight road is not all that was seen
MOST: Final = 90  # own choice: by then it is known
# Climbs of 19 recorded flights and radiosondes: the change of each component from one minute to the
# next is 1.2 m/s in the median and 3.6 m/s at nine tenths, along the way as aside; over 2 min 1.6
# and 5.0. A Student t of 4 degrees has these at 0.741 and 2.132 times its scale (any table).
DRIFT_MS: Final = 1.6
DRIFT_POWER: Final = 0.45  # see DRIFT_MS
DRIFT_DEGREES: Final = 4.0  # see DRIFT_MS
PLACE_M: Final = 6.0  # own choice: a receiver in the open
MOST_EACH: Final = 1.5  # own choice: minutes on one road are alike, so none says more for a balloon


class Change(NamedTuple):
    """From one piece of the track to the next: seconds between their middles, and the velocity
    (east, north) in each, m/s."""

    seconds: float
    before: tuple[float, float]
    after: tuple[float, float]

    @property
    def turned(self) -> tuple[float, float]:
        """The change along the way and aside of it."""
        (u, v), (east, north) = self.before, self.after
        speed = max(math.hypot(u, v), 0.1)
        east, north = east - u, north - v
        return (east * u + north * v) / speed, (north * u - east * v) / speed


class Habit(NamedTuple):
    """How a change comes about on a way: its ``share`` of all; along, and aside as a least value
    and a part of the speed; standard deviations."""

    share: float
    along_ms: float
    aside_ms: float
    aside_part: float


class Kind(NamedTuple):
    """Something that is steered: how much of all there is of it, and what it does while it goes on.
    Else it turns, slows, halts: its speeds are ``speed_ms`` a component, of which it ``keeps`` a
    part from one piece to the next."""

    share: float
    goes_on: tuple[Habit, ...]
    speed_ms: float
    keeps: float


# Own choices, of what roads and lines are like (common practice in their design): half of them are
# straight over a minute; bends turn by a third of a radian in it; towns turn and stop.
# Motorways and lines are straighter. Slow is on foot, by bicycle and over fields, turning within
# minutes.
KINDS: Final = (
    Kind(0.4, (Habit(0.40, 1.5, 0.4, 0.0), Habit(0.35, 5.0, 1.0, 0.35)), 9.0, 0.0),
    Kind(0.3, (Habit(0.50, 1.5, 0.3, 0.0), Habit(0.40, 3.0, 0.5, 0.35)), 15.0, 0.0),
    Kind(0.3, (Habit(0.40, 1.0, 0.3, 0.0),), 4.0, 0.8),
)


def log_odds(points: Sequence[Point]) -> float | None:
    """ln of how much likelier the changes among ``points`` are for a balloon than for anything that
    is steered; None where they are too few or too far apart. The first is where it stood."""
    changes = _changes(points)
    if len(changes) < FEWEST:
        return None
    drifts = [_drift(change) for change in changes]
    steered = [
        math.log(kind.share)
        + sum(
            max(_steered(kind, change) - drift, -MOST_EACH)
            for change, drift in zip(changes, drifts, strict=True)
        )
        for kind in KINDS
    ]
    most = max(steered)
    return -most - math.log(sum(math.exp(way - most) for way in steered))


def _changes(points: Sequence[Point]) -> list[Change]:
    kept = [points[0]]
    for point in points[1:]:
        if point.time_utc - kept[-1].time_utc >= PIECE_S and len(kept) <= MOST:
            kept.append(point)
    plane = Plane(points[0].latitude_deg, points[0].longitude_deg)
    x, y = plane.to_xy(
        np.array([p.latitude_deg for p in kept]), np.array([p.longitude_deg for p in kept])
    )
    took = np.diff([p.time_utc for p in kept])
    u, v = np.diff(x) / took, np.diff(y) / took
    # In the first piece it still stood for a while.
    pairs = [n for n in range(2, len(took)) if max(took[n - 1], took[n]) <= LONGEST_S]
    return [
        Change(
            seconds=float(took[n - 1] + took[n]) / 2.0,
            before=(float(u[n - 1]), float(v[n - 1])),
            after=(float(u[n]), float(v[n])),
        )
        for n in pairs
    ]


def _drift(change: Change) -> float:
    """ln of the density of a change for a balloon."""
    scale2 = (DRIFT_MS * (change.seconds / 60.0) ** DRIFT_POWER) ** 2 + _noise2(change)
    along, aside = change.turned
    fits = (along**2 + aside**2) / scale2 / DRIFT_DEGREES
    # A Student t of two dimensions: its constant is 1 / (2 pi) for any degrees.
    return -math.log(2.0 * math.pi * scale2) - (DRIFT_DEGREES / 2.0 + 1.0) * math.log1p(fits)


def _steered(kind: Kind, change: Change) -> float:
    """ln of the density of a change for what is steered."""
    noise2, (along, aside) = _noise2(change), change.turned
    speed = math.hypot(*change.before)
    density = 0.0
    for habit in kind.goes_on:
        bend2 = habit.aside_ms**2 + (habit.aside_part * speed) ** 2 + noise2
        density += habit.share * _normal(along, habit.along_ms**2 + noise2) * _normal(aside, bend2)
    other = 1.0 - sum(habit.share for habit in kind.goes_on)
    spread2 = (1.0 - kind.keeps**2) * kind.speed_ms**2 + noise2
    for before, after in zip(change.before, change.after, strict=True):
        other *= _normal(after - kind.keeps * before, spread2)
    density += other
    return math.log(density + 1e-300)


def _noise2(change: Change) -> float:
    """Variance of a difference of two velocities made of three places."""
    return 6.0 * (PLACE_M / change.seconds) ** 2


def _normal(off: float, variance: float) -> float:
    return math.exp(-(off**2) / (2.0 * variance)) / math.sqrt(2.0 * math.pi * variance)
