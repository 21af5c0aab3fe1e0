"""The smallest areas that hold a given share of an ensemble of points."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Loop = Array
"""A closed line, shape (n + 1, 2), counter-clockwise."""

GRID: Final = 56  # own choice: finer than the kernel that smooths it
MOST_CORNERS: Final = 40  # own choice: smooth on a map, small in a message
WIDER: Final = (1.0, 1.4, 2.0)
"""Widths of the kernel that are tried until no ring is a stray one."""
STRAY: Final = 0.1
"""A ring with less than this share of the region's area is a few members that chance put together,
not a second place (own choice)."""


def highest_density(points: Array, shares: tuple[float, ...]) -> list[list[Loop]]:
    """Highest-density regions of a point cloud, shape (n, 2), for each share of its mass.

    A Gaussian kernel density estimate in whitened coordinates, with the points drawn in so that
    smoothing does not widen the cloud (West 1993, J. R. Statist. Soc. B 55), cut at the level above
    which the share lies (Hyndman 1996, Am. Statist. 50). Holes are filled. Where it would split off
    small rings the kernel is widened; what then is still one is left out.
    """
    n = len(points)
    centre = points.mean(axis=0)
    root = np.linalg.cholesky(np.cov(points.T) + 1e-6 * np.eye(2))
    white = np.linalg.solve(root, (points - centre).T).T
    regions: list[list[Loop]] = []
    for wider in WIDER:
        regions = _regions(white, shares, wider * 0.9 * n ** (-1.0 / 6.0))
        kept = [_without_stray(loops) for loops in regions]
        whole = all(len(a) == len(b) for a, b in zip(kept, regions, strict=True))
        regions = kept
        if whole:
            break
    return [[_thinned((loop @ root.T) + centre) for loop in loops] for loops in regions]


def _regions(white: Array, shares: tuple[float, ...], width: float) -> list[list[Loop]]:
    drawn_in = white / np.sqrt(1.0 + width**2)
    axes = []
    kernels = []
    for k in range(2):
        low, high = np.percentile(drawn_in[:, k], (0.5, 99.5))
        axis = np.linspace(low - 4.0 * width, high + 4.0 * width, GRID)
        axes.append(axis)
        kernels.append(np.exp(-0.5 * ((axis[:, None] - drawn_in[None, :, k]) / width) ** 2))
    mass = kernels[0] @ kernels[1].T
    mass[0, :] = mass[-1, :] = mass[:, 0] = mass[:, -1] = 0.0
    ordered = np.sort(mass, axis=None)[::-1]
    held = np.cumsum(ordered)
    levels = [float(ordered[np.searchsorted(held, share * held[-1])]) for share in shares]
    return [
        [loop for loop in _contours(mass, axes[0], axes[1], level) if _signed_area(loop) > 0.0]
        for level in levels
    ]


def _without_stray(loops: list[Loop]) -> list[Loop]:
    areas = [_signed_area(loop) for loop in loops]
    return [loop for loop, area in zip(loops, areas, strict=True) if area >= STRAY * sum(areas)]


def inside(x: Array, y: Array, rings: Sequence[tuple[Array, Array]]) -> NDArray[np.bool_]:
    """Which of the points lie within closed rings of (x, y), holes among them (even-odd rule)."""
    found = np.zeros(x.shape, dtype=bool)
    for rx, ry in rings:
        for ax, ay, bx, by in zip(rx[:-1], ry[:-1], rx[1:], ry[1:], strict=True):
            if ay != by:
                crosses = (ay > y) != (by > y)
                found ^= crosses & (x < ax + (y - ay) * (bx - ax) / (by - ay))
    return found


def within(
    x: Array, y: Array, lines: Sequence[tuple[Array, Array]], reach: float
) -> NDArray[np.bool_]:
    """Which of the points are no farther than ``reach`` from one of the lines, each given as (x, y)
    of its corners; a line of one corner is a point."""
    found = np.zeros(x.shape, dtype=bool)
    for lx, ly in lines:
        ends = zip(lx[:-1], ly[:-1], lx[1:], ly[1:], strict=True)
        for ax, ay, bx, by in [(lx[0], ly[0], lx[0], ly[0])] if len(lx) == 1 else ends:
            sx, sy = bx - ax, by - ay
            share = ((x - ax) * sx + (y - ay) * sy) / max(sx * sx + sy * sy, 1e-9)
            share = np.clip(share, 0.0, 1.0)
            found |= np.hypot(x - ax - share * sx, y - ay - share * sy) <= reach
    return found


def away_m(x: float, y: float, rings: Sequence[tuple[Array, Array]]) -> float:
    """How far a point is from what lies within closed rings of (x, y): 0 inside, infinite where
    there are no rings."""
    if inside(np.array([x]), np.array([y]), rings)[0]:
        return 0.0
    nearest = np.inf
    for rx, ry in rings:
        sx, sy, tx, ty = np.diff(rx), np.diff(ry), x - rx[:-1], y - ry[:-1]
        share = np.clip((tx * sx + ty * sy) / np.maximum(sx**2 + sy**2, 1e-9), 0.0, 1.0)
        nearest = min(nearest, float(np.hypot(tx - share * sx, ty - share * sy).min()))
    return nearest


def _contours(field: Array, xs: Array, ys: Array, level: float) -> list[Loop]:
    """Closed lines at ``level``, the higher side on the left (marching squares)."""
    above = field > level
    corner = (
        above[:-1, :-1] * 1 + above[1:, :-1] * 2 + above[1:, 1:] * 4 + above[:-1, 1:] * 8
    ).astype(int)
    links: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for i, j in zip(*np.nonzero((corner > 0) & (corner < 15)), strict=True):
        for enters, leaves in _TURNS[corner[i, j]]:
            links[_side(int(i), int(j), enters)] = _side(int(i), int(j), leaves)
    loops = []
    mass, across, along = field.tolist(), xs.tolist(), ys.tolist()
    while links:
        start, at = next(iter(links.items()))
        del links[start]
        line = [start, at]
        while at != start:
            at = links.pop(at)
            line.append(at)
        loops.append(np.array([_crossing(mass, across, along, level, side) for side in line]))
    return loops


# Sides of a cell: 0 bottom (between corners 1 and 2), 1 right (2, 4), 2 top (4, 8), 3 left (8, 1);
# x runs with the first index, y with the second. Each turn keeps the higher side on the left.
_TURNS: Final[dict[int, tuple[tuple[int, int], ...]]] = {
    1: ((0, 3),),
    2: ((1, 0),),
    3: ((1, 3),),
    4: ((2, 1),),
    5: ((0, 3), (2, 1)),
    6: ((2, 0),),
    7: ((2, 3),),
    8: ((3, 2),),
    9: ((0, 2),),
    10: ((1, 0), (3, 2)),
    11: ((1, 2),),
    12: ((3, 1),),
    13: ((0, 1),),
    14: ((3, 0),),
}


def _side(i: int, j: int, side: int) -> tuple[int, int, int]:
    """Name a cell's side so that both cells that share it agree: (i, j, 0 along x / 1 along y)."""
    return ((i, j, 0), (i + 1, j, 1), (i, j + 1, 0), (i, j, 1))[side]


def _crossing(
    field: list[list[float]],
    xs: list[float],
    ys: list[float],
    level: float,
    side: tuple[int, int, int],
) -> tuple[float, float]:
    i, j, along_y = side
    a = field[i][j]
    b = field[i][j + 1] if along_y else field[i + 1][j]
    t = (level - a) / (b - a)
    if along_y:
        return xs[i], ys[j] + t * (ys[j + 1] - ys[j])
    return xs[i] + t * (xs[i + 1] - xs[i]), ys[j]


def _thinned(loop: Loop) -> Loop:
    keep = np.unique(np.linspace(0, len(loop) - 1, min(len(loop), MOST_CORNERS + 1)).astype(int))
    return np.asarray(loop[keep])


def _signed_area(loop: Loop) -> float:
    x, y = loop[:, 0], loop[:, 1]
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2.0)
