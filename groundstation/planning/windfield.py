"""Winds aloft over time and place: between the hours and the columns that files give.

A flight of two hours and a half meets other winds coming down than going up. So the winds are asked
for along the way: linear in time; linear in place where the columns make a grid, else weighed by
the square of their nearness (Shepard 1968).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import OutOfModelRangeError
from groundstation.physics.geodesy import distance_m
from groundstation.physics.wind import WindsAloft

Array = NDArray[np.float64]
Place = tuple[float, float]
"""Latitude and longitude in degrees."""

NEAREST_M: Final = 1_000.0  # own choice: nearer columns are one, and nothing is divided by 0
OLDEST_S: Final = 24 * 3600.0  # own choice: a day later the wind is another
SD_GROWS_MS: Final = 0.25
"""Per hour between the winds and the launch, in quadrature with what they are off at first:
judgement."""

SD_UNKNOWN_MS: Final = 3.0  # common practice, no source
SD_FRESH_MS: Final = 2.2  # what recorded flights meet beside any smooth field
SD_BY_LEAD_MS: Final = 0.07
"""How far a forecast is off per component, without and for each hour of its lead time, added in
quadrature: 2.8 m/s after a day, 4.0 after two, 5.5 after three. Own choice, from memory of the
vector errors that weather centres publish for upper winds, and 2.2 m/s of what recorded flights
meet beside any smooth field. Where the lead time is not known, 3 m/s: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Winds:
    """Winds aloft at one time and place; None where the file does not say."""

    time_utc: float | None
    place: Place | None = None
    aloft: WindsAloft


@dataclass(frozen=True, slots=True)
class WindField:
    """Those of all hours and columns, at least one."""

    winds: tuple[Winds, ...]

    @classmethod
    def steady(cls, aloft: WindsAloft) -> "WindField":
        """The same everywhere and ever."""
        return cls((Winds(time_utc=None, aloft=aloft),))

    @property
    def changes(self) -> bool:
        """Whether it holds more than one hour or column."""
        return len({(wind.time_utc, wind.place) for wind in self.winds}) > 1

    def at(self, time_utc: float, place: Place) -> WindsAloft:
        """Raises ``OutOfModelRangeError`` where none is near in time."""
        return winds_at(self.winds, time_utc, place)


def forecast_sd_ms(lead_s: float | None, spread_ms: float | None = None) -> float:
    """How far a forecast's wind is off, per component, so long after it was made. Where it is an
    ensemble its spread tells that, beside what no smooth field knows."""
    if spread_ms is not None:
        return math.hypot(SD_FRESH_MS, spread_ms)
    if lead_s is None:
        return SD_UNKNOWN_MS
    return math.hypot(SD_FRESH_MS, SD_BY_LEAD_MS * max(lead_s, 0.0) / 3600.0)


def winds_at(winds: Sequence[Winds], time_utc: float, near: Place | None = None) -> WindsAloft:
    """Between those around in time and place. Wider by their age. Raises ``OutOfModelRangeError``
    where none is near in time."""
    places = sorted({wind.place for wind in winds if wind.place is not None})
    if len(places) < 2 or near is None:
        return _at_time(winds, time_utc)
    weights = _grid_weights(places, near) or _near_weights(places, near)
    each = [
        (weight, _at_time([wind for wind in winds if wind.place == place], time_utc))
        for place, weight in zip(places, weights, strict=True)
        if weight > 0.0
    ]
    first = each[0][1]
    return replace(
        first,
        u_ms=np.sum([w * wind.u_ms for w, wind in each], axis=0),
        v_ms=np.sum([w * wind.v_ms for w, wind in each], axis=0),
        lowest_m=max(wind.lowest_m for _, wind in each),
        highest_m=min(wind.highest_m for _, wind in each),
        sd_ms=float(sum(w * wind.sd_ms for w, wind in each)),
    )


def _grid_weights(places: Sequence[Place], near: Place) -> list[float] | None:
    """Bilinear, where the places are every crossing of some parallels and meridians; what lies
    outside takes the edge's. None where they are not."""
    lats, lons = ([*dict.fromkeys(sorted(axis))] for axis in zip(*places, strict=True))
    if len(lats) * len(lons) != len(places):
        return None
    up, right = _share(lats, near[0]), _share(lons, near[1])
    return [up.get(lat, 0.0) * right.get(lon, 0.0) for lat, lon in places]


def _share(values: Sequence[float], at: float) -> dict[float, float]:
    """How much of each of the two values around ``at``, linear between them."""
    after = int(np.searchsorted(values, at))
    if after == 0 or after == len(values):
        return {values[min(after, len(values) - 1)]: 1.0}
    low, high = values[after - 1], values[after]
    share = (at - low) / (high - low)
    return {low: 1.0 - share, high: share}


def _near_weights(places: Sequence[Place], near: Place) -> list[float]:
    away = np.array([distance_m(*near, *place) for place in places])
    weights = 1.0 / np.maximum(away, NEAREST_M) ** 2
    return list((weights / weights.sum()).tolist())


def _at_time(winds: Sequence[Winds], time_utc: float) -> WindsAloft:
    """Between two of them in time, or the nearest."""
    undated = [wind for wind in winds if wind.time_utc is None]
    if undated:
        return undated[-1].aloft
    dated = sorted((wind.time_utc or 0.0, n) for n, wind in enumerate(winds))
    before = max((entry for entry in dated if entry[0] <= time_utc), default=None)
    after = min((entry for entry in dated if entry[0] >= time_utc), default=None)
    near_s = min(abs(at - time_utc) for at, _ in dated)
    if near_s > OLDEST_S:
        raise OutOfModelRangeError(
            f"the winds are {near_s / 3600.0:.0f} hours from the launch; get some of that day"
        )
    if before is None or after is None or before[0] == after[0]:
        _, nearest = min((abs(at - time_utc), n) for at, n in dated)
        return _aged(winds[nearest].aloft, near_s)
    share = (time_utc - before[0]) / (after[0] - before[0])
    first, second = winds[before[1]].aloft, winds[after[1]].aloft
    mixed = replace(
        first,
        u_ms=(1.0 - share) * first.u_ms + share * second.u_ms,
        v_ms=(1.0 - share) * first.v_ms + share * second.v_ms,
        lowest_m=max(first.lowest_m, second.lowest_m),
        highest_m=min(first.highest_m, second.highest_m),
        sd_ms=(1.0 - share) * first.sd_ms + share * second.sd_ms,
    )
    # Between two that are known it is off less than beyond them.
    return _aged(mixed, near_s / 2.0)


def _aged(aloft: WindsAloft, age_s: float) -> WindsAloft:
    return replace(aloft, sd_ms=math.hypot(aloft.sd_ms, SD_GROWS_MS * age_s / 3600.0))
