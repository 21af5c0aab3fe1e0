"""How fast a thing under a parachute falls, as a distribution over height.

With k(z) = v(z) sqrt(rho(z) / rho0), the rate reduced to sea level, a clean parachute would keep k
constant. Recorded flights do not: k differs between flights by a factor of six, and within a flight
it has a trend and wanders. So ln k is a Gaussian process over height: a level, a trend with the
logarithm of the density (the drag coefficient as a power of the Reynolds number, which goes with
the root of the density all the way down), and a slow wander. It is linear in its unknowns, so the
fit of one is one regression.

How strong trend and wander are differs with what hangs there, by more than one number can say, and
is not known before. So there are several kinds of fall, and what was seen of this one says how much
each counts.

What the numbers rest on stands in DEVELOPERS.md.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.layers import MIDDLE_M, fall_path_m, log_density_ratio

Array = NDArray[np.float64]

MIDDLE_LOG: Final = 0.6
"""ln(rho0/rho) at about 5.5 km: half of the time of a fall is spent below, half above."""

_LOG_THINNESS: Final = log_density_ratio(MIDDLE_M)


@dataclass(frozen=True, slots=True, kw_only=True)
class FallModel:
    """Prior of ln k (k in m/s) of one kind of fall.

    The level holds where ln(rho0/rho) is ``level_at``; ``trend`` is that with it. ``slope`` and
    ``pivot_ms``: how the trend depends on the level; recorded fast fallers get faster on the way
    down, slow ones slower.
    """

    level: float = 2.05
    level_sd: float = 0.34
    level_at: float = MIDDLE_LOG
    trend: float = 0.0
    slope: float = 0.10
    pivot_ms: float = 6.75
    trend_sd: float = 0.025
    wander_sd: float = 0.05
    wander_m: float = 6_000.0
    noise: float = 0.03

    def mean(self, altitude_m: Array) -> Array:
        pull = self.slope * (self.level - math.log(self.pivot_ms))
        return np.asarray(self.level + (self.trend - pull) * self._above(altitude_m))

    def covariance(self, a_m: Array, b_m: Array) -> Array:
        """Prior covariance of ln k between heights; shape (len(a), len(b))."""
        (level_a, trend_a), (level_b, trend_b) = self.factors(a_m), self.factors(b_m)
        level = np.outer(level_a, level_b) * self.level_sd**2
        trend = np.outer(trend_a, trend_b) * self.trend_sd**2
        apart = np.abs(a_m[:, None] - b_m[None, :])
        return level + trend + self.wander_sd**2 * np.exp(-apart / self.wander_m)

    def factors(self, altitude_m: Array) -> tuple[Array, Array]:
        """How much of the level and of the free trend goes into ln k at these heights."""
        above = self._above(altitude_m)
        return 1.0 - self.slope * above, above

    def _above(self, altitude_m: Array) -> Array:
        return np.asarray(np.interp(altitude_m, MIDDLE_M, _LOG_THINNESS) - self.level_at)

    def planned(self, rate_ms: float, sd_ms: float) -> "FallModel":
        """The prior around a planned sea-level descent rate, in m/s."""
        return replace(self, level=math.log(rate_ms), level_sd=sd_ms / rate_ms, level_at=0.0)


STEADY: Final = FallModel()
BENDING: Final = FallModel(trend_sd=0.10)
WANDERING: Final = FallModel(trend_sd=0.20, wander_sd=0.15)
HANGING: Final = FallModel(
    level=1.1, level_sd=1.0, trend=-0.25, slope=0.0, trend_sd=0.25, wander_sd=0.15
)
"""Under a balloon that leaks or did not burst: what sinks so keeps its speed (trend -0.5), and what
hangs on a parachute with much of the balloon on it keeps k (trend 0). Own choices; one recorded
radiosonde is as slow."""

KINDS: Final = ((STEADY, 0.54), (BENDING, 0.27), (WANDERING, 0.14), (HANGING, 0.05))
"""The kinds of fall, each with its share before anything was seen: of the first three each half as
usual as the one before it (own choice; with equal shares the recorded flights come out alike)."""


@dataclass(frozen=True, slots=True)
class FallSamples:
    """What the fixes say: ln k over pieces of the fall, with a variance. Shapes (pieces,)."""

    altitude_m: Array
    log_rate: Array
    variance: Array


USUAL_CLIMB_MS: Final = 5.0  # common practice, no source
NOTHING_SD: Final = 5.0  # own choice: of ln k, wide beside any prior
PIECE_M: Final = 300.0  # own choice: heights good to 10 m give the rate to 5 %


def pieces(altitude_m: Array) -> list[tuple[int, int]]:
    """Cut a fall, given as heights in order of time, into pieces of at least ``PIECE_M``.

    Returns (from, to) indices; a last short piece is joined to the one before it.
    """
    cuts = [0]
    for i in range(1, len(altitude_m)):
        if altitude_m[cuts[-1]] - altitude_m[i] >= PIECE_M:
            cuts.append(i)
    if len(altitude_m) > 1 and cuts[-1] != len(altitude_m) - 1:
        if len(cuts) > 1:
            cuts[-1] = len(altitude_m) - 1
        else:
            cuts.append(len(altitude_m) - 1)
    return list(pairwise(cuts))


def samples(
    time_s: Array,
    altitude_m: Array,
    interval_s: float,
    noise: float,
    climb_ms: float = USUAL_CLIMB_MS,
) -> FallSamples:
    """Reduce a fall, from the highest fix on, to samples of ln k.

    The first piece holds the burst: up to one interval of still rising, and the time it takes to
    get up to speed; it reads too slow, so it is corrected and trusted less. Where a fix is rare it
    falls for a share f of the interval that may be anything from a tenth (a later burst would leave
    the next fix the highest) to all of it: -ln f is 0.75 with a spread of 0.6. One fix that is
    lower by less than a climb at ``climb_ms`` would have gained tells only that it burst late: with
    the burst as likely at any moment, all rates fit it nearly alike. The two kilometres after it
    read too slow likewise, less and less (study of recorded flights).
    """
    rows = []
    top = float(altitude_m[0])
    path_m = fall_path_m(altitude_m)
    for n, (i, j) in enumerate(pieces(altitude_m)):
        fallen = float(altitude_m[i] - altitude_m[j])
        dt = float(time_s[j] - time_s[i])
        if dt <= 0 or fallen < 20.0:
            continue
        y = np.log(float(path_m[i] - path_m[j]) / dt)
        variance = noise**2 * 300.0 / max(fallen, 100.0)
        variance += 2.0 * (15.0 / fallen) ** 2 + (1.0 / dt) ** 2
        middle = float(altitude_m[i] + altitude_m[j]) / 2.0
        if n == 0:
            rising = min(interval_s / dt, 1.0) * min(interval_s / 30.0, 1.0)
            y += 0.10 + 0.75 * rising
            variance += 0.3**2 + (0.6 * rising) ** 2
            if j == i + 1 and fallen < climb_ms * dt:
                variance += NOTHING_SD**2
            first_end = float(altitude_m[j])
        else:
            near = min(max(1.0 - (first_end - middle) / 2_000.0, 0.0), 1.0)
            y += 0.03 * near
            variance += (0.15 * near) ** 2
        rows.append((min(middle, top), y, variance))
    table = np.array(rows, dtype=float).reshape(-1, 3)
    return FallSamples(table[:, 0], table[:, 1], table[:, 2])


@dataclass(frozen=True, slots=True)
class Regression:
    """A Gaussian process seen at some heights: the weights that carry residuals elsewhere.

    ``residual`` (obs,) is observation minus prior mean; ``solve`` (obs, obs) inverts the covariance
    of the observations with their noise; ``variance`` (obs,) is the noise after down-weighting.
    """

    altitude_m: Array
    residual: Array
    variance: Array
    solve: Array

    @property
    def log_evidence(self) -> float:
        """ln of the density that the model gave to what was seen, but for a constant."""
        _, log_precision = np.linalg.slogdet(self.solve)
        return 0.5 * float(log_precision - self.residual @ self.solve @ self.residual)


def regress(prior: Array, residual: Array, altitude_m: Array, variance: Array) -> Regression:
    """Regress with outliers down-weighted.

    An observation whose leave-one-out residual exceeds three standard deviations gets its variance
    multiplied by the square of the excess, twice over.
    """
    noise = variance.copy()
    solve = np.linalg.inv(prior + np.diag(noise))
    for _ in range(2):
        left_out = np.abs(solve @ residual) / np.sqrt(np.diag(solve))
        if left_out.size == 0 or left_out.max() <= 3.0:
            break
        noise = noise * np.maximum(left_out / 3.0, 1.0) ** 2
        solve = np.linalg.inv(prior + np.diag(noise))
    return Regression(altitude_m, residual, noise, np.asarray(solve, dtype=float))


def resting_m(altitude_m: Array) -> float:
    """The height at which something lay in the end: the median of the last five heights where those
    are alike, else the lowest of all, shape (n,)."""
    last = altitude_m[-5:]
    return float(np.median(last)) if np.ptp(last) < 150.0 else float(altitude_m.min())
