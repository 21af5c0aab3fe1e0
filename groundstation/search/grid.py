"""Where it may lie: a probability for each square of a grid, and what looks make of it.

A look that finds nothing makes the places that it covered less likely by Bayes' rule, and all
others more: p' = p (1 - d) / (1 - sum p d), with d how likely it would have been found there
(Koopman 1946; IAMSAR Manual, Volume II).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.search.looks import Look, LookKind

Array = NDArray[np.float64]

SIDE: Final = 48  # own choice: squares that a person can walk to
REST: Final = 0.02
"""That it lies somewhere else in the frame, against all estimates (fouled, carried off): spread
evenly. Judgement."""

SMALLEST_M: Final = 20.0  # own choice: what one sees from a place at a glance
FINE: Final = 120  # own choice: to a hundredth of a look's width
FINEST: Final = 8  # own choice, so that a small look takes no longer


@dataclass(frozen=True, slots=True)
class Grid:
    """``chance`` of shape (SIDE, SIDE), from south to north and west to east, sums to 1. The middle
    of square [0, 0] is at ``x0_m``, ``y0_m`` in ``plane``; squares are ``size_m`` wide."""

    plane: Plane
    x0_m: float
    y0_m: float
    size_m: float
    chance: Array

    def places(self) -> tuple[Array, Array]:
        """The middles of all squares, metres east and north, of the shape of ``chance``."""
        steps = self.size_m * np.arange(SIDE)
        x, y = np.meshgrid(self.x0_m + steps, self.y0_m + steps)
        return x, y

    def after(self, looks: Iterable[Look]) -> "Grid":
        """The grid as these looks have made it; their order does not matter."""
        chance = self.chance
        for look in looks:
            found = self.detection(look)
            left = chance * (found if look.kind is LookKind.HEARD else 1.0 - found)
            total = float(left.sum())
            # What is out of all reach by numbers alone says nothing.
            if total > 1e-12:
                chance = left / total
        return replace(self, chance=chance)

    def detection(self, look: Look) -> Array:
        """How likely ``look`` finds what lies somewhere in each square: the mean over it."""
        if look.kind is LookKind.SEARCHED:
            lat, lon = np.array(look.shape).T
            px, py = self.plane.to_xy(lat, lon)
            west, south = px.min() - look.reach_m, py.min() - look.reach_m
            wide, high = px.max() + look.reach_m - west, py.max() + look.reach_m - south
            if max(wide, high) < FINE * self.size_m / 3.0:
                return self._covered(look, float(west), float(south), float(wide), float(high))
        fine = int(np.clip(math.ceil(2.0 * self.size_m / look.reach_m), 1, FINEST))
        x, y = self.places()
        total = np.zeros_like(x)
        offsets = self.size_m * ((np.arange(fine) + 0.5) / fine - 0.5)
        for dx in offsets:
            for dy in offsets:
                total += look.detection(self.plane, x + dx, y + dy)
        return total / fine**2

    def _covered(self, look: Look, west: float, south: float, wide: float, high: float) -> Array:
        """Of a look smaller than many squares, added up from a fine raster over it alone."""
        steps = (np.arange(FINE) + 0.5) / FINE
        x, y = np.meshgrid(west + wide * steps, south + high * steps)
        found = look.detection(self.plane, x, y) * (wide / FINE) * (high / FINE)
        column = np.rint((x - self.x0_m) / self.size_m).astype(int)
        row = np.rint((y - self.y0_m) / self.size_m).astype(int)
        on = (column >= 0) & (column < SIDE) & (row >= 0) & (row < SIDE)
        total = np.zeros_like(self.chance)
        np.add.at(total, (row[on], column[on]), found[on])
        return np.minimum(total / self.size_m**2, look.chance)


def grid_of(plane: Plane, x_m: Array, y_m: Array, around: Iterable[Look] = ()) -> Grid:
    """From an ensemble of landing points. ``around`` are looks whose places must be on it too,
    where they are not far off.

    A Gaussian kernel estimate with Scott's width (Scott 1992, Multivariate Density Estimation).
    """
    low = np.array([x_m.min(), y_m.min()])
    high = np.array([x_m.max(), y_m.max()])
    wide = np.maximum(high - low, 10.0 * SMALLEST_M)
    for look in around:
        lat, lon = np.array(look.shape).T
        for px, py in zip(*plane.to_xy(lat, lon), strict=True):
            place = np.array([px, py])
            if np.all(place > low - wide) and np.all(place < high + wide):
                low, high = np.minimum(low, place), np.maximum(high, place)
    middle = (low + high) / 2.0
    size = max(float((high - low).max()) * 1.25 / SIDE, SMALLEST_M)
    x0, y0 = middle - size * (SIDE - 1) / 2.0
    steps = size * np.arange(SIDE)
    kernels = []
    for first, points in ((x0, x_m), (y0, y_m)):
        width = max(float(points.std()) * len(points) ** (-1.0 / 6.0), 0.6 * size)
        off = (first + steps)[:, None] - points[None, :]
        kernels.append(np.exp(-0.5 * (off / width) ** 2))
    mass = kernels[1] @ kernels[0].T
    chance = (1.0 - REST) * mass / mass.sum() + REST / mass.size
    return Grid(plane, float(x0), float(y0), size, chance)


@dataclass(frozen=True, slots=True)
class NextPlace:
    """A place to look at, and how likely it lies within ``within_m`` of it."""

    latitude_deg: float
    longitude_deg: float
    chance: float
    within_m: float


def next_places(grid: Grid, reach_m: float, most: int = 3) -> tuple[NextPlace, ...]:
    """The places with most of the chance within ``reach_m`` (or a square, where those are larger),
    the best first, each without what the ones before it cover."""
    x, y = grid.places()
    reach = max(reach_m, 0.7 * grid.size_m)
    squares = int(reach // grid.size_m) + 1
    steps = grid.size_m * np.arange(-squares, squares + 1)
    disc = (steps[:, None] ** 2 + steps[None, :] ** 2 <= reach * reach).astype(float)
    left = grid.chance.copy()
    found = []
    for _ in range(most):
        within = _within(left, disc)
        at = np.unravel_index(int(within.argmax()), within.shape)
        lat, lon = grid.plane.to_latlon(x[at], y[at])
        found.append(NextPlace(float(lat), float(lon), float(within[at]), reach))
        left[np.hypot(x - x[at], y - y[at]) <= reach] = 0.0
    return tuple(found)


def _within(chance: Array, disc: Array) -> Array:
    """The chance within the disc around each square."""
    half = disc.shape[0] // 2
    padded = np.pad(chance, half)
    windows = np.lib.stride_tricks.sliding_window_view(padded, disc.shape)
    return np.asarray(np.einsum("ijkl,kl->ij", windows, disc))


def shares(chance: Array) -> Array:
    """For each square, how much of the chance lies in it and in all that are likelier."""
    order = np.argsort(-chance, axis=None)
    held = np.empty(chance.size)
    held[order] = np.cumsum(chance.reshape(-1)[order])
    return held.reshape(chance.shape)
