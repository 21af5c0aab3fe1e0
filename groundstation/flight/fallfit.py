"""The fall rate of this flight: what the members take it to be, each by its kind of fall."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import PlanSettings
from groundstation.flight.track_arrays import TrackArrays
from groundstation.physics.draws import MOST_PIECES, Draws
from groundstation.physics.fall import (
    KINDS,
    STEADY,
    USUAL_CLIMB_MS,
    FallModel,
    FallSamples,
    Regression,
    regress,
    samples,
)
from groundstation.physics.layers import MIDDLE_M, layer_of

Array = NDArray[np.float64]

WANDER_M: Final = STEADY.wander_m
CLIMB_S: Final = 600.0  # own choice, as for the rate of a climb
# What the first piece and two kilometres more say of the kind is what the burst left behind; then
# it counts first a little, and wholly from 4 km on (own choice).
TELLING_FROM_M, TELLING_TO_M = 2_000.0, 4_000.0


@dataclass(frozen=True, slots=True)
class FallFit:
    """ln k over the asked heights: ``mean`` (n,) over all, that of each member's own kind
    ``centre`` (half, n) and how far the member is from it, ``deviation`` (half, n)."""

    mean: Array
    centre: Array
    deviation: Array
    fallen_m: float


def kinds_of(plan: PlanSettings) -> list[tuple[FallModel, float]]:
    """The kinds of fall, around the planned rate where there is one, each with its share."""
    rate_ms = plan.descent_rate_ms
    if rate_ms is None:
        return list(KINDS)
    return [(kind.planned(rate_ms, plan.descent_rate_sd_ms), share) for kind, share in KINDS]


def fit(plan: PlanSettings, track: TrackArrays | None, layers: slice, d: Draws) -> FallFit:
    """Fit the descent part of ``track`` by each kind of fall, and deal the members out to them.

    Members are prior draws corrected by what they would have shown in the same observations
    (Matheron's rule: Hoffman and Ribak 1991, Astrophys. J. 380), so no covariance is factored.
    """
    middle_m = MIDDLE_M[layers]
    seen, fallen = _observed(track, STEADY.noise)
    clear = 0.0 if seen is None else float(seen.altitude_m[0] - seen.altitude_m[-1])
    telling = min(max(clear - TELLING_FROM_M, 0.0) / (TELLING_TO_M - TELLING_FROM_M), 1.0)
    kinds = kinds_of(plan)
    fitted = [_fitted(kind, seen, middle_m) for kind, _ in kinds]
    weight = np.array([math.log(share) for _, share in kinds])
    weight += telling * np.array([close.log_evidence if close else 0.0 for _, close in fitted])
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    of = np.minimum(np.searchsorted(np.cumsum(weight), d.kind), len(kinds) - 1)
    means = np.stack([mean for mean, _ in fitted])
    deviation = np.empty((d.half, len(middle_m)))
    for n, ((kind, _), (_, close)) in enumerate(zip(kinds, fitted, strict=True)):
        who = of == n
        deviation[who] = _draws(kind, middle_m, layers, d, who)
        if close is not None:
            deviation[who] -= _shown(kind, close, d, who) @ _carried(kind, close, middle_m).T
    return FallFit(weight @ means, means[of], deviation, fallen)


def _observed(track: TrackArrays | None, noise: float) -> tuple[FallSamples | None, float]:
    if track is None or track.top >= len(track.time_s) - 1:
        return None, 0.0
    time_s = track.time_s[track.top :]
    altitude = track.altitude_m[track.top :]
    found = samples(time_s, altitude, float(time_s[1] - time_s[0]), noise, _climb_ms(track))
    n = min(len(found.altitude_m), MOST_PIECES)
    if n == 0:
        return None, 0.0
    newest = FallSamples(found.altitude_m[-n:], found.log_rate[-n:], found.variance[-n:])
    return newest, float(altitude[0] - altitude[-1])


def _climb_ms(track: TrackArrays) -> float:
    """Of the last ten minutes before the highest fix, or since the last one before it."""
    top = track.top
    since = min(int(np.searchsorted(track.time_s, track.time_s[top] - CLIMB_S)), top - 1)
    if since < 0:
        return USUAL_CLIMB_MS
    gained = float(track.altitude_m[top] - track.altitude_m[since])
    return gained / max(float(track.time_s[top] - track.time_s[since]), 1.0)


def _fitted(
    kind: FallModel, seen: FallSamples | None, middle_m: Array
) -> tuple[Array, Regression | None]:
    """The posterior mean of ln k by one kind of fall."""
    mean = kind.mean(middle_m)
    if seen is None:
        return mean, None
    z = seen.altitude_m
    close = regress(kind.covariance(z, z), seen.log_rate - kind.mean(z), z, seen.variance)
    return mean + kind.covariance(middle_m, z) @ (close.solve @ close.residual), close


def _draws(
    kind: FallModel, z: Array, layers: slice | NDArray[np.int64], d: Draws, who: NDArray[np.bool_]
) -> Array:
    level, trend = kind.factors(z)
    return np.asarray(
        np.outer(d.fall_level[who] * kind.level_sd, level)
        + np.outer(d.fall_trend[who] * kind.trend_sd, trend)
        + kind.wander_sd * d.fall_wander[who][:, layers]
    )


def _shown(kind: FallModel, close: Regression, d: Draws, who: NDArray[np.bool_]) -> Array:
    """What the members' own draws would have shown in the observations."""
    z = close.altitude_m
    noise = d.noise[0][who][:, : len(z)] * np.sqrt(close.variance)
    return np.asarray(_draws(kind, z, layer_of(z), d, who) + noise)


def _carried(kind: FallModel, close: Regression, middle_m: Array) -> Array:
    return np.asarray(kind.covariance(middle_m, close.altitude_m) @ close.solve)
