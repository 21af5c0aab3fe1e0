"""How an estimate did at one checkpoint, and what many of them come to."""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane, distance_m
from groundstation.records import Landing, Region

SEED, DRAWS = 20_261_127, 400
FLOOR_M = 100.0
"""Errors below this count as this: how well the landing itself is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    checkpoint: str
    low: bool
    error_m: float
    careful_m: float
    in_90: bool
    in_50: bool
    area_km2: float
    eta_error_s: float
    in_eta: bool
    day: str = ""
    """Of the launch: flights of one day met the same weather, often with the same gear."""


def scored(
    landing: Landing,
    truth: tuple[float, float],
    touchdown_s: float,
    *,
    checkpoint: str,
    low: bool,
    careful_m: float = math.nan,
) -> Score:
    return Score(
        checkpoint=checkpoint,
        low=low,
        error_m=distance_m(landing.latitude_deg, landing.longitude_deg, *truth),
        careful_m=careful_m,
        in_90=holds(landing.region_90, *truth),
        in_50=holds(landing.region_50, *truth),
        area_km2=area_km2(landing.region_90),
        eta_error_s=abs(landing.eta_utc - touchdown_s),
        in_eta=landing.eta_90_utc[0] <= touchdown_s <= landing.eta_90_utc[1],
    )


def holds(region: Region, lat: float, lon: float) -> bool:
    """Whether any ring of the region surrounds the place."""
    for ring in region:
        inside = False
        for (lat1, lon1), (lat2, lon2) in itertools.pairwise(ring):
            if (lat1 > lat) != (lat2 > lat):
                inside ^= lon < (lon2 - lon1) * (lat - lat1) / (lat2 - lat1) + lon1
        if inside:
            return True
    return False


def area_km2(region: Region) -> float:
    total = 0.0
    for ring in region:
        points = np.array(ring)
        x, y = Plane(*ring[0]).to_xy(points[:, 0], points[:, 1])
        total += abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2e6
    return total


def ratio(scores: Sequence[Score]) -> float:
    """Geometric mean of the error, of the careful baseline's."""
    mine, careful = _errors(scores)
    return float(np.exp(np.mean(np.log(np.maximum(mine, FLOOR_M) / np.maximum(careful, FLOOR_M)))))


def much_worse(scores: Sequence[Score]) -> float:
    """Share with more than 1.5 times the careful error and more than 500 m beyond it."""
    mine, careful = _errors(scores)
    return float(np.mean((mine > 1.5 * careful) & (mine - careful > 500.0)))


def share(flags: Sequence[bool]) -> float:
    return float(np.mean(flags)) if flags else math.nan


def over_days(
    scores: Sequence[Score], figure: Callable[[Sequence[Score]], float]
) -> tuple[float, float]:
    """Between which values nine tenths of a figure lie when launch days are drawn anew with
    replacement (bootstrap over groups: Davison and Hinkley 1997, section 3.8)."""
    days: dict[str, list[Score]] = {}
    for one in scores:
        days.setdefault(one.day, []).append(one)
    rng = np.random.default_rng(SEED)
    names = sorted(days)
    figures = [
        figure([one for n in rng.integers(len(names), size=len(names)) for one in days[names[n]]])
        for _ in range(DRAWS)
    ]
    low, high = np.quantile(figures, (0.05, 0.95))
    return float(low), float(high)


def _errors(
    scores: Sequence[Score],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.array([one.error_m for one in scores]), np.array([one.careful_m for one in scores])
