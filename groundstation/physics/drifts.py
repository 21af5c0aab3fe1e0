"""How well the drift of whole flights fits places that were seen, and where it goes on to.

Given the seconds in each layer, a way between two places is linear in the wind. The wind is what is
expected plus a Gaussian process over height, so ways are jointly normal, and the wind needs no
drawing to judge a flight. How large the error of the winds is nobody knows: one common scale, which
makes it a joint Student t.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.courses import COUNT, MIDDLE_M, Courses

Array = NDArray[np.float64]

DEGREES: Final = 6.0  # own choice: tails for a drift that is off by far
# Study of recorded flights: winds change by some 2 m/s a component between ascent and descent,
# alike within a kilometre of height. A forecast is made for the launch: the climb meets less of it.
RISING_MS: Final = 1.0
FALLING_MS: Final = 2.2  # study: change of wind between ascent and descent
CHANGE_LENGTH_M: Final = 1_000.0  # study of recorded flights
PLACE_M: Final = 60.0  # own choice: errors of place of a messenger


@dataclass(frozen=True, slots=True)
class WindBelief:
    """East and north wind in the layers of ``courses``: ``mean`` (2, COUNT), and the covariance of
    what is the same in climb and fall, ``shared`` (COUNT, COUNT), of each component."""

    mean: Array
    shared: Array


def changes(sd_ms: float) -> Array:
    """Covariance of the winds' change between one pass and the other; (COUNT, COUNT)."""
    apart = np.abs(MIDDLE_M[:, None] - MIDDLE_M[None, :])
    return np.asarray(sd_ms**2 * np.exp(-apart / CHANGE_LENGTH_M))


_RISING = changes(RISING_MS)
_FALLING = changes(FALLING_MS)
_FALLING_ROOT = np.linalg.cholesky(_FALLING + 1e-9 * np.eye(COUNT))
_RISING_ROOT = np.linalg.cholesky(_RISING + 1e-9 * np.eye(COUNT))


@dataclass(frozen=True, slots=True)
class Places:
    """Where it was seen: seconds, metres east and north, shapes (k,)."""

    time_s: Array
    x_m: Array
    y_m: Array

    @property
    def noise(self) -> Array:
        """Covariance (k - 1, k - 1) of the ways between places that are each a little off."""
        ways = len(self.time_s) - 1
        near = np.eye(ways, k=1) + np.eye(ways, k=-1)
        return np.asarray(PLACE_M**2 * (2.0 * np.eye(ways) - near))


@dataclass(frozen=True, slots=True)
class Drifts:
    """Of ``n`` flights: the seconds climbing and falling between the places (n, k - 1, COUNT), the
    covariance of the ways (n, k - 1, k - 1), what they are off (n, k - 1, 2), and ``fits`` (n,),
    the squared length of that in standard deviations."""

    rising_s: Array
    falling_s: Array
    root: Array
    off_m: Array
    fits: Array

    @classmethod
    def of(cls, courses: Courses, places: Places, belief: WindBelief) -> "Drifts":
        since, until = places.time_s[:-1], places.time_s[1:]
        rising, falling = courses.rising_s(since, until), courses.falling_s(since, until)
        both = rising + falling
        covariance = (
            _of_ways(both, belief.shared)
            + _of_ways(rising, _RISING)
            + _of_ways(falling, _FALLING)
            + np.repeat(places.noise[None], len(both), axis=0)
        )
        root = np.asarray(np.linalg.cholesky(covariance), dtype=float)
        seen = np.stack([np.diff(places.x_m), np.diff(places.y_m)], axis=1)
        off = seen[None] - both @ belief.mean.T
        white = np.linalg.solve(root, off)
        return cls(rising, falling, root, off, (white**2).sum(axis=(1, 2)))

    @property
    def log_likelihood(self) -> Array:
        """Of the places seen, for each flight, up to a constant; (n,)."""
        ways = self.off_m.shape[1]
        size = 2.0 * np.log(np.diagonal(self.root, axis1=1, axis2=2)).sum(axis=1)
        power = (DEGREES + 2.0 * ways) / 2.0
        return np.asarray(-size - power * np.log1p(self.fits / DEGREES))


def _of_ways(seconds: Array, of_winds: Array) -> Array | float:
    """Covariance (n, k, k) of ways of so many seconds in each layer (n, k, COUNT). Before the burst
    nobody falls, and after it nobody climbs."""
    if not seconds.any():
        return 0.0
    return np.asarray((seconds @ of_winds) @ seconds.transpose(0, 2, 1))


def onward(
    drifts: Drifts,
    places: Places,
    belief: WindBelief,
    rng: np.random.Generator,
) -> tuple["Winds", "Winds"]:
    """Draw the winds of the rest of each flight, given the places.

    A draw from the prior is corrected by what it would have shown in the same places (Matheron's
    rule: Hoffman and Ribak 1991, Astrophys. J. 380); its scale is that of the Student t.
    """
    count, ways = drifts.off_m.shape[:2]
    scale = np.sqrt((DEGREES + drifts.fits) / rng.chisquare(DEGREES + 2.0 * ways, count))
    both = drifts.rising_s + drifts.falling_s
    shared_root = np.linalg.cholesky(belief.shared + 1e-6 * np.eye(COUNT))
    noise_root = np.linalg.cholesky(places.noise)
    shared_by = belief.shared @ both.transpose(0, 2, 1)
    rising_by = _RISING @ drifts.rising_s.transpose(0, 2, 1)
    falling_by = _FALLING @ drifts.falling_s.transpose(0, 2, 1)

    def along(axis: int) -> tuple[Array, Array]:
        shared = rng.standard_normal((count, COUNT)) @ shared_root.T
        rising = rng.standard_normal((count, COUNT)) @ _RISING_ROOT.T
        falling = rng.standard_normal((count, COUNT)) @ _FALLING_ROOT.T
        shown = (
            np.einsum("nkl,nl->nk", both, shared)
            + np.einsum("nkl,nl->nk", drifts.rising_s, rising)
            + np.einsum("nkl,nl->nk", drifts.falling_s, falling)
            + rng.standard_normal((count, ways)) @ noise_root.T
        )
        missing = drifts.off_m[:, :, axis] - scale[:, None] * shown
        half = np.linalg.solve(drifts.root, missing[..., None])
        given = np.linalg.solve(drifts.root.transpose(0, 2, 1), half)
        common = belief.mean[axis] + scale[:, None] * shared + (shared_by @ given)[..., 0]
        up = common + scale[:, None] * rising + (rising_by @ given)[..., 0]
        down = common + scale[:, None] * falling + (falling_by @ given)[..., 0]
        return up, down

    (u_up, u_down), (v_up, v_down) = along(0), along(1)
    return Winds(u_up, v_up), Winds(u_down, v_down)


@dataclass(frozen=True, slots=True)
class Winds:
    """East and north wind in each layer, for each flight: (n, COUNT)."""

    u_ms: Array
    v_ms: Array

    def __getitem__(self, which: NDArray[np.int64]) -> "Winds":
        """Those of the flights of these indices."""
        return Winds(self.u_ms[which], self.v_ms[which])
