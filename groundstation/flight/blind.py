"""Where the members are when fixes come without an altitude.

Each member flies on by the flight's own clock: the rest of its climb, its burst, its fall. Those
whose drift fits what was seen count more, and are drawn more often (a particle filter in one step;
Gordon, Salmond and Smith 1993, IEE Proceedings F 140).
"""

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.layers import COUNT, EDGE_M, STEP_M, shares_m

Array = NDArray[np.float64]

GROUP_S: Final = 60.0  # own choice: fixes closer in time say the same of the wind
MOST_GROUPS: Final = 40  # own choice, for the time it takes
DRIFT_MS: Final = 3.0
"""Scale of how far the drift over a minute is from the winds of the ascent; a Student t of
``DRIFT_DEGREES`` (study of recorded flights: displacement against the ascent's winds)."""

DRIFT_DEGREES: Final = 4.0  # own choice: tails for a drift that is off by far
NEW_WIND_MS: Final = 6.5  # as UNMET_MS of the study: winds that were not met yet
NEW_WIND_M: Final = 6_000.0
"""How far winds above all that was met are from those below, and the height in which that grows."""

SHARE_KEPT: Final = 0.4
"""Of the likelihood's logarithm: neighbouring minutes meet the same wrong wind."""


DEALING: Final = 7_919
"""A prime beyond any number of members."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Members after the blind stretch, in the order in which they were drawn; shapes (n,).

    ``member`` tells which one each is, ``height_m`` how high it is now, ``top_m`` where it bursts
    (its height now, where it has burst).
    """

    member: NDArray[np.int64]
    height_m: Array
    top_m: Array


def place(
    *,
    anchor_m: float,
    since_s: Array,
    x_m: Array,
    y_m: Array,
    climb_ms: Array,
    top_m: Array,
    slow: Array,
    wind: Array,
    layers: slice,
    ground_m: float,
    met: Array | None,
) -> Placed:
    """Fly ``n`` members from the anchor through the blind stretch.

    ``since_s``, ``x_m``, ``y_m`` (k,): times since the anchor and places seen, of which the first
    is the anchor's own. ``climb_ms``, ``top_m`` (n,): how each climbs and where it bursts; a member
    that is falling already has ``top_m`` equal to ``anchor_m``. ``slow`` (n, layers): seconds a
    metre of fall. ``wind`` (2, layers): the mean wind expected in the fall. ``met`` (2, COUNT):
    that expected from what was met below the anchor only; None where nothing was, and then the
    drift says nothing of who still climbs.
    """
    metres = shares_m(np.full(len(top_m), ground_m), top_m)[:, layers]
    # From the burst downwards: time, way east, way north, all at the lower edge of each layer.
    down_s = np.cumsum((metres * slow)[:, ::-1], axis=1)
    ways = [np.cumsum((metres * slow * w)[:, ::-1], axis=1) for w in wind]
    fallen_m = np.cumsum(metres[:, ::-1], axis=1)
    burst_s = (top_m - anchor_m) / climb_ms

    climbed = _integrals(np.zeros((2, COUNT)) if met is None else met)

    def at(moment_s: float) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
        """Height and way since the anchor at ``moment_s``, and whether it falls."""
        falling_s = moment_s - burst_s
        found = [_crossed(down_s, rows, falling_s) for rows in (fallen_m, *ways)]
        peak = np.minimum(anchor_m + climb_ms * max(moment_s, 0.0), top_m)
        height = np.where(falling_s > 0.0, top_m - found[0], peak)
        up = [
            (np.interp(peak, EDGE_M, rows) - np.interp(anchor_m, EDGE_M, rows)) / climb_ms
            for rows in climbed
        ]
        return np.maximum(height, ground_m), found[1] + up[0], found[2] + up[1], falling_s > 0.0

    picked = _groups(since_s)
    score = np.zeros(len(top_m))
    _, was_x, was_y, _ = at(float(since_s[picked[0]]))
    power = -(DRIFT_DEGREES + 2.0) / 2.0
    usual = power * np.log1p(1.0 / DRIFT_DEGREES)
    for i, j in itertools.pairwise(picked):
        dt = float(since_s[j] - since_s[i])
        height, x, y, falling = at(float(since_s[j]))
        off = np.hypot(x - was_x - (x_m[j] - x_m[i]), y - was_y - (y_m[j] - y_m[i])) / dt
        # While a member climbs the winds it meets are new, and known the less the higher it is.
        above = np.maximum(height - anchor_m, 0.0)
        newer = NEW_WIND_MS**2 * (1.0 - np.exp(-2.0 * above / NEW_WIND_M))
        scale = np.where(falling, DRIFT_MS, np.sqrt(DRIFT_MS**2 + newer))
        fits = power * np.log1p((off / scale) ** 2 / DRIFT_DEGREES)
        fits -= 2.0 * np.log(scale / DRIFT_MS)
        score += fits if met is not None else np.where(falling, fits, usual)
        was_x, was_y = x, y
    height, _, _, falling = at(float(since_s[-1]))
    weight = np.exp(SHARE_KEPT * (score - score.max()))
    member = _drawn(weight, np.argsort(height, kind="stable"))
    now_top = np.where(falling, height, top_m)
    return Placed(member, height[member], np.maximum(now_top, height)[member])


def _integrals(wind: Array) -> Array:
    """The wind summed over height up to each edge of the layers; shape (2, COUNT + 1)."""
    return np.concatenate([np.zeros((2, 1)), np.cumsum(wind * STEP_M, axis=1)], axis=1)


def _crossed(down_s: Array, rows: Array, moment_s: Array) -> Array:
    """``rows``, known at the times ``down_s`` (both (n, layers)), at one moment for each row."""
    inside = np.clip(moment_s, 0.0, down_s[:, -1])
    after = np.minimum((down_s < inside[:, None]).sum(axis=1), down_s.shape[1] - 1)
    at = np.arange(len(inside))
    before = after - 1
    t0 = np.where(before >= 0, down_s[at, before], 0.0)
    r0 = np.where(before >= 0, rows[at, before], 0.0)
    span = down_s[at, after] - t0
    share = np.where(span > 0.0, (inside - t0) / np.where(span > 0.0, span, 1.0), 0.0)
    return np.asarray(r0 + np.clip(share, 0.0, 1.0) * (rows[at, after] - r0))


def _groups(since_s: Array) -> list[int]:
    """Indices at least ``GROUP_S`` apart, counted from the newest back."""
    picked = [len(since_s) - 1]
    for n in range(len(since_s) - 2, -1, -1):
        if since_s[picked[-1]] - since_s[n] >= GROUP_S and len(picked) <= MOST_GROUPS:
            picked.append(n)
    return picked[::-1]


def _drawn(weight: Array, order: NDArray[np.int64]) -> NDArray[np.int64]:
    """As many members as there are, by weight, evenly along ``order``: no chance in it."""
    total = np.cumsum(weight[order])
    count = len(weight)
    marks = (np.arange(count) + 0.5) / count * total[-1]
    # Dealt out so that height has nothing to do with the number, on which the winds hang.
    dealt = (np.arange(count) * DEALING) % count
    return np.asarray(order[np.searchsorted(total, marks)])[dealt]
