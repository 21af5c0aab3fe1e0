"""The fall rate of this flight: posterior mean of ln k and draws around it."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.flown import Flown
from groundstation.flight.settings import PlanSettings
from groundstation.physics.draws import MOST_PIECES, Draws
from groundstation.physics.fall import FallModel, FallSamples, Regression, regress, samples
from groundstation.physics.layers import MIDDLE_M, layer_of, log_thinness

Array = NDArray[np.float64]

# How far members spread is a model of its own: it holds what the mean model leaves out, and was
# set so that regions hold what they say (study of recorded flights).
SPREAD_WANDER_SD: Final = 0.08
SPREAD_WANDER_M: Final = 6_000.0
SPREAD_TREND_SD: Final = 0.12
SPREAD_NOISE: Final = 0.05
SPREAD_SCALE: Final = 0.90
# Slower than anything under a parachute alone (the slowest of 27 recorded flights: 3.9 m/s), with
# own choices of how such a fall wanders: no recorded flight shows one.
BALLOON_BELOW_MS: Final = 3.0
LET_GO: Final = 1.6
BALLOON_NOISE: Final = 0.3
BALLOON_WANDER: Final = 0.15
SLOPE_SD: Final = 0.5
RECENT_PIECES: Final = 4


@dataclass(frozen=True, slots=True)
class FallFit:
    """ln k over the asked heights: ``mean`` (n,) and deviations of members (half, n)."""

    mean: Array
    deviation: Array
    fallen_m: float


def prior_of(plan: PlanSettings) -> FallModel:
    if plan.descent_rate_ms is None:
        return FallModel()
    return FallModel.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)


def fit(plan: PlanSettings, track: Flown | None, layers: slice, d: Draws) -> FallFit:
    """Fit the descent part of ``track``, and spread the members around it.

    Members are prior draws corrected by what they would have shown in the same observations
    (Matheron's rule: Hoffman and Ribak 1991, Astrophys. J. 380), so no covariance is factored.
    """
    middle_m = MIDDLE_M[layers]
    model = prior_of(plan)
    loose = FallModel(
        level=model.level,
        level_sd=model.level_sd,
        trend_sd=SPREAD_TREND_SD,
        wander_sd=SPREAD_WANDER_SD,
        wander_m=SPREAD_WANDER_M,
        noise=SPREAD_NOISE,
    )
    mean = model.mean(middle_m)
    deviation = _prior_draws(loose, middle_m, layers, d)
    seen, fallen = _observed(track, model.noise)
    if seen is not None and _too_slow(seen):
        return _under_a_balloon(seen, middle_m, layers, d, fallen)
    if seen is not None:
        z = seen.altitude_m
        close = regress(model.covariance(z, z), seen.log_rate - model.mean(z), z, seen.variance)
        mean = mean + model.covariance(middle_m, z) @ (close.solve @ close.residual)
        deviation = _conditioned(loose, close, seen, middle_m, d, deviation)
    return FallFit(mean, SPREAD_SCALE * deviation, fallen)


def _too_slow(seen: FallSamples) -> bool:
    """As a whole or of late, and not let go meanwhile."""
    if len(seen.log_rate) < RECENT_PIECES:
        return False
    whole, late = np.median(seen.log_rate), np.median(seen.log_rate[-RECENT_PIECES:])
    slowest = math.log(BALLOON_BELOW_MS)
    return bool(min(whole, late) < slowest and late < slowest + math.log(LET_GO))


def _under_a_balloon(
    seen: FallSamples, middle_m: Array, layers: slice, d: Draws, fallen_m: float
) -> FallFit:
    """What sinks under a leaking balloon keeps its speed; what hangs on a parachute with rags on it
    keeps k. Which of them it is, the fixes tell: ln v is a line in ln of the air's thinness."""
    thin = log_thinness(seen.altitude_m) / 2.0
    speed = seen.log_rate + thin
    known = np.stack([np.ones(len(thin)), thin], axis=1)
    prior = np.array([math.log(BALLOON_BELOW_MS), 0.5])
    precision = np.diag([1.0, 1.0 / SLOPE_SD**2])
    weight = 1.0 / (BALLOON_NOISE**2 + seen.variance)
    covariance = np.linalg.inv(precision + (known * weight[:, None]).T @ known)
    line = covariance @ (precision @ prior + (known * weight[:, None]).T @ speed)
    thinner = log_thinness(middle_m) / 2.0
    there = np.stack([np.ones(len(thinner)), thinner], axis=1)
    spread = np.linalg.cholesky(covariance) @ np.stack([d.fall_level, d.fall_trend])
    deviation = (there @ spread).T + BALLOON_WANDER * d.fall_wander[:, layers]
    return FallFit(there @ line - thinner, deviation, fallen_m)


def _observed(track: Flown | None, noise: float) -> tuple[FallSamples | None, float]:
    if track is None or track.top >= len(track.time_s) - 1:
        return None, 0.0
    time_s = track.time_s[track.top :]
    altitude = track.altitude_m[track.top :]
    found = samples(time_s, altitude, float(time_s[1] - time_s[0]), noise)
    n = min(len(found.altitude_m), MOST_PIECES)
    if n == 0:
        return None, 0.0
    newest = FallSamples(found.altitude_m[-n:], found.log_rate[-n:], found.variance[-n:])
    return newest, float(altitude[0] - altitude[-1])


def _prior_draws(model: FallModel, z: Array, layers: slice, d: Draws) -> Array:
    level, trend = model.factors(z)
    return (
        np.outer(d.fall_level * model.level_sd, level)
        + np.outer(d.fall_trend * model.trend_sd, trend)
        + model.wander_sd * d.fall_wander[:, layers]
    )


def _conditioned(
    model: FallModel,
    close: Regression,
    seen: FallSamples,
    middle_m: Array,
    d: Draws,
    deviation: Array,
) -> Array:
    z = seen.altitude_m
    noise = close.variance + SPREAD_NOISE**2 - FallModel().noise ** 2
    weights = model.covariance(middle_m, z) @ np.linalg.inv(model.covariance(z, z) + np.diag(noise))
    at = layer_of(z)
    level, trend = model.factors(z)
    shown = (
        np.outer(d.fall_level * model.level_sd, level)
        + np.outer(d.fall_trend * model.trend_sd, trend)
        + model.wander_sd * d.fall_wander[:, at]
        + d.noise[0, :, : len(z)] * np.sqrt(noise)
    )
    return np.asarray(deviation - shown @ weights.T)
