"""Whole flights, many at once: launch, climb, perhaps a float, burst, fall, touchdown.

A flight follows from a few numbers, so its height at every moment is known, and with it the seconds
that it spends in each layer between any two moments. Those are all that its drift depends on.
"""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundstation.physics.layers import speed_ratio

Array = NDArray[np.float64]

STEP_M: Final = 500.0  # own choice: half the length over which winds change
EDGE_M: Final = np.arange(-500.0, 45_000.0 + STEP_M, STEP_M)
MIDDLE_M: Final = (EDGE_M[1:] + EDGE_M[:-1]) / 2.0
COUNT: Final = len(MIDDLE_M)
SPEED_RATIO: Final = speed_ratio(MIDDLE_M)
LEAST_CLIMB_MS: Final = 0.5  # own choice: slower is a float


@dataclass(frozen=True, slots=True)
class Courses:
    """``n`` flights. Times are seconds on one clock, heights metres above sea level.

    ``launch_s``, ``burst_s``, ``fall_s`` (when the fall begins: after the burst, or when it has
    stopped to float), ``touchdown_s``, ``top_m`` are of shape (n,); ``up_s`` and ``down_s``
    (n, COUNT + 1) are when each passes each edge of the layers, kept within its climb and its fall;
    ``climb_ms`` and ``fall_ms`` (n, COUNT) how fast it passes through.
    """

    launch_s: Array
    burst_s: Array
    fall_s: Array
    touchdown_s: Array
    top_m: Array
    from_m: Array
    up_s: Array
    down_s: Array
    climb_ms: Array
    fall_ms: Array

    @classmethod
    def of(
        cls,
        *,
        launch_s: Array,
        from_m: float,
        top_m: Array,
        float_s: Array,
        climb_ms: Array,
        fall_rate_ms: Array,
        ground_m: float | Array,
    ) -> "Courses":
        """From the launch at ``from_m`` down to ``ground_m``, one height or one for each;
        ``fall_rate_ms`` (n, COUNT) is reduced to sea level."""
        climb = np.maximum(climb_ms, LEAST_CLIMB_MS)
        fall = fall_rate_ms * SPEED_RATIO
        up = _passing(1.0 / climb)
        down = _passing(1.0 / fall)
        start = np.full(len(top_m), from_m)
        ground = np.minimum(np.full(len(top_m), ground_m), top_m)
        risen = _at(up, start)
        burst_s = launch_s + _at(up, top_m) - risen
        fall_s = burst_s + float_s
        highest = _at(down, top_m)
        touchdown_s = fall_s + highest - _at(down, ground)
        up_s = launch_s[:, None] + up - risen[:, None]
        down_s = fall_s[:, None] + highest[:, None] - down
        return cls(
            launch_s,
            burst_s,
            fall_s,
            touchdown_s,
            top_m,
            start,
            np.clip(up_s, launch_s[:, None], burst_s[:, None]),
            np.clip(down_s, fall_s[:, None], touchdown_s[:, None]),
            climb,
            fall,
        )

    def picked(self, which: NDArray[np.int64]) -> "Courses":
        """Those of these indices, each as often as it stands there."""
        return Courses(*(getattr(self, field.name)[which] for field in fields(self)))

    def rising_s(self, since_s: Array, until_s: Array) -> Array:
        """Seconds in each layer while climbing or floating, (n, k, COUNT), between moments of shape
        (n, k) or (k,)."""
        since, until = (np.atleast_2d(at)[..., None] for at in (since_s, until_s))
        enter, leave = self.up_s[:, None, :-1], self.up_s[:, None, 1:]
        spent = _between(enter, leave, since, until)
        floats = self.fall_s > self.burst_s
        if floats.any():
            at = layer_of(self.top_m)
            begin, end = self.burst_s[:, None], self.fall_s[:, None]
            still = np.minimum(until[..., 0], end) - np.maximum(since[..., 0], begin)
            rows = np.nonzero(floats)[0]
            spent[rows, :, at[rows]] += np.maximum(still[rows], 0.0)
        return spent

    def falling_s(self, since_s: Array, until_s: Array) -> Array:
        """Seconds in each layer while falling, (n, k, COUNT), as ``rising_s``."""
        since, until = (np.atleast_2d(at)[..., None] for at in (since_s, until_s))
        enter, leave = self.down_s[:, None, 1:], self.down_s[:, None, :-1]
        return _between(enter, leave, since, until)

    def height_m(self, moment_s: Array) -> Array:
        """Height of each at moments (k,), shape (n, k); at rest before launch and after it fell."""
        climbed_m = _passed_m(np.diff(self.up_s), self.climb_ms)
        fallen_m = _passed_m(self.down_s[:, :-1] - self.down_s[:, 1:], self.fall_ms)
        rows = []
        for moment in np.atleast_1d(moment_s):
            up = np.clip(moment, self.launch_s, self.burst_s)
            down = np.clip(moment, self.fall_s, self.touchdown_s)
            risen = _reached_m(up, self.up_s, climbed_m, self.climb_ms)
            # A fall passes the highest edge first, and what lies below it is still to be fallen.
            left = _reached_m(-down, -self.down_s, fallen_m, self.fall_ms)
            rows.append(self.from_m + risen - (fallen_m[:, -1] - left))
        return np.stack(rows, axis=1)


def _passed_m(lasts_s: Array, speed_ms: Array) -> Array:
    """Metres up to each edge of layers that take so long; shape (n, COUNT + 1)."""
    begin = np.zeros((len(lasts_s), 1))
    return np.concatenate([begin, np.cumsum(lasts_s * speed_ms, axis=1)], axis=1)


def _reached_m(moment: Array, edge_s: Array, passed_m: Array, speed_ms: Array) -> Array:
    """Metres passed at a moment (n,) by those who reach each edge at ``edge_s``, which rises."""
    row = np.arange(len(moment))
    layer = np.maximum((edge_s[:, :-1] <= moment[:, None]).sum(axis=1) - 1, 0)
    within = (moment - edge_s[row, layer]) * speed_ms[row, layer]
    return np.asarray(np.minimum(passed_m[row, layer] + within, passed_m[row, layer + 1]))


def _between(enter: Array, leave: Array, since: Array, until: Array) -> Array:
    """How much of the time from ``enter`` to ``leave`` lies between the others."""
    spent = np.minimum(until, leave)
    spent -= np.maximum(since, enter)
    return np.maximum(spent, 0.0, out=spent)


def _passing(seconds_per_m: Array) -> Array:
    """Seconds from the lowest edge up to each; shape (n, COUNT + 1)."""
    begin = np.zeros((len(seconds_per_m), 1))
    return np.concatenate([begin, np.cumsum(seconds_per_m * STEP_M, axis=1)], axis=1)


def layer_of(height_m: ArrayLike) -> NDArray[np.int64]:
    """Index of the layer that holds each height; the outermost ones hold all beyond them."""
    layer = (np.asarray(height_m, dtype=float) - EDGE_M[0]) // STEP_M
    return np.asarray(np.clip(layer, 0, COUNT - 1).astype(np.int64))


def _at(passing_s: Array, height_m: Array) -> Array:
    """``passing_s`` at one height of each row."""
    layer = layer_of(height_m)
    row = np.arange(len(height_m))
    share = (height_m - EDGE_M[layer]) / STEP_M
    below = passing_s[row, layer]
    return np.asarray(below + share * (passing_s[row, layer + 1] - below))
