"""Whether a payload's sensors told the truth: what looks wrong, in words."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.language.catalogue import _
from groundstation.language.numbers import marked, number
from groundstation.payload_log.reading import SensorLog
from groundstation.physics.atmosphere import pressure_altitude_m

Array = NDArray[np.float64]

POSSIBLE: Final[Mapping[str, tuple[float, float]]] = {
    "pressure_hpa": (0.5, 1_085.0),
    "temperature_c": (-95.0, 60.0),
    "humidity": (0.0, 105.0),
    "altitude_m": (-450.0, 50_000.0),
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 180.0),
}
"""What the air over the Earth can show: the records of WMO's archive of extremes at the ground
(1,083.8 hPa, -89.2 to 56.7 degrees), lower temperatures aloft, and the height of this program's
flights; from memory."""

DRY_PCT: Final = 10.0  # own choice: drier is rare near the ground
FROZEN_S: Final = 300.0  # own choice, with FROZEN_CLIMB_M: air changes over that
FROZEN_CLIMB_M: Final = 1_000.0  # see FROZEN_S
MISSING_SHARE: Final = 0.02  # own choice: fewer rows are lost in any log
GROUND_M: Final = 60.0  # own choice: as high as a house on a hill
GROUND_S: Final = 20.0  # own choice: sensors have settled by then
OFF_GROUND_M: Final = 400.0
"""Weather alone moves a pressure height by up to about so much (common practice)."""
LAGS_S: Final = np.arange(0.0, 121.0, 1.0)
LEAST_LAG_S: Final = 4.0  # own choice: less is not told from the time between rows
LEAST_FALL_M: Final = 5_000.0  # own choice: both ways through the same air
SPREAD_STEP_M: Final = 250.0  # own choice: finer than inversions matter here


def _plain(value: float) -> str:
    return marked(f"{value:g}")


def in_metres(height_m: float) -> str:
    return f"{number(height_m)} m"


def findings(
    log: SensorLog, altitude_m: Array, written: Callable[[float], str] = in_metres
) -> Iterator[str]:
    """What looks wrong, a sentence each; ``altitude_m`` (rows,) is where it was at each row, NaN
    where that is not known. ``written`` puts heights in metres into the person's units."""
    for name, values in log.values.items():
        known = np.isfinite(values)
        missing = 1.0 - known.mean()
        if not known.any():
            yield _("{name} holds nothing that can be read.", name=name)
            continue
        if missing > MISSING_SHARE:
            percent = f"{100.0 * missing:.0f}"
            yield _("{name} is missing in {percent} % of the rows.", name=name, percent=percent)
        if name in POSSIBLE:
            low, high = POSSIBLE[name]
            beyond = known & ((values < low) | (values > high))
            if beyond.any():
                yield _(
                    "{name} is out of range in {rows} rows, such as {value}; possible are {low} to"
                    " {high}.",
                    name=name,
                    rows=number(int(beyond.sum())),
                    value=_plain(values[beyond][0]),
                    low=_plain(low),
                    high=_plain(high),
                )
        # Above the weather it stays dry for long, and sensors tell whole per cents.
        least = DRY_PCT if name == "humidity" else -np.inf
        still = _frozen(log.time_s[known], values[known], altitude_m[known], least)
        # A wind along a parallel or a meridian leaves one of them as it is.
        if still is not None and name not in ("lat", "lon"):
            lasted, climbed, value = still
            yield _(
                "{name} is frozen: {value} for {minutes} min, while the height changed by"
                " {height}.",
                name=name,
                value=_plain(value),
                minutes=round(lasted / 60.0),
                height=written(climbed),
            )
    yield from _at_ground(log, altitude_m, written)
    for name in ("temperature_c", "humidity"):
        lag = lag_s(log, name, altitude_m)
        if lag is not None and lag >= LEAST_LAG_S:
            yield _(
                "{name} lags by about {seconds} s: so much later it shows on the way down what it"
                " showed on the way up.",
                name=name,
                seconds=round(lag),
            )


def lag_s(log: SensorLog, name: str, altitude_m: Array) -> float | None:
    """By how much a value comes late: that which makes it most alike at equal heights going up and
    coming down. None where the log has not both ways, or the value hardly changes."""
    if name not in log.values:
        return None
    known = np.isfinite(log.values[name]) & np.isfinite(altitude_m)
    time, value, height = log.time_s[known], log.values[name][known], altitude_m[known]
    if len(time) < 50:
        return None
    top = int(height.argmax())
    floor = max(height[0], height[-1]) + 500.0
    if height[top] - floor < LEAST_FALL_M or np.ptp(value) < 1e-6:
        return None
    levels = np.arange(floor, height[top] - 500.0, SPREAD_STEP_M)
    apart = []
    for lag in LAGS_S:
        early = np.interp(time + lag, time, value)
        up = _over(levels, height[: top + 1], early[: top + 1])
        down = _over(levels, height[top:][::-1], early[top:][::-1])
        apart.append(float(np.median(np.abs(up - down))))
    best = int(np.argmin(apart))
    return float(LAGS_S[best]) if apart[best] < 0.7 * apart[0] else 0.0


def ground_off_m(log: SensorLog, altitude_m: Array) -> float | None:
    """By how much the pressure height is above the true one before the launch."""
    if "pressure_hpa" not in log.values:
        return None
    by_pressure = pressure_altitude_m(100.0 * log.values["pressure_hpa"])
    known = np.isfinite(by_pressure) & np.isfinite(altitude_m)
    if not known.any():
        return None
    low = known & (altitude_m < altitude_m[known][0] + GROUND_M)
    first = np.nonzero(low)[0]
    until = first[: int(np.argmax(np.diff(first) > 1)) + 1] if (np.diff(first) > 1).any() else first
    if log.time_s[until[-1]] - log.time_s[until[0]] < GROUND_S:
        # It was begun in the air.
        return None
    return float(np.median(by_pressure[until] - altitude_m[until]))


def _at_ground(log: SensorLog, altitude_m: Array, written: Callable[[float], str]) -> Iterator[str]:
    off = ground_off_m(log, altitude_m)
    if off is not None and abs(off) > OFF_GROUND_M:
        apart = written(abs(off))
        yield (
            _(
                "{name} is off at the ground: it stands for a height {apart} above the true one,"
                " more than weather does.",
                name="pressure_hpa",
                apart=apart,
            )
            if off > 0.0
            else _(
                "{name} is off at the ground: it stands for a height {apart} below the true one,"
                " more than weather does.",
                name="pressure_hpa",
                apart=apart,
            )
        )


def _frozen(
    time: Array, value: Array, altitude_m: Array, least: float
) -> tuple[float, float, float] | None:
    """The longest stand-still in flight, of a value above ``least``: (how long, over how many
    metres, the value)."""
    if len(value) < 2:
        return None
    begins = np.concatenate([[0], np.nonzero(np.diff(value) != 0.0)[0] + 1])
    ends = np.concatenate([begins[1:], [len(value)]]) - 1
    worst: tuple[float, float, float] | None = None
    for begin, end in zip(begins, ends, strict=True):
        lasted = float(time[end] - time[begin])
        if lasted < FROZEN_S or value[begin] <= least or (worst is not None and lasted <= worst[0]):
            continue
        heights = altitude_m[begin : end + 1]
        heights = heights[np.isfinite(heights)]
        climbed = float(np.ptp(heights)) if len(heights) else 0.0
        if climbed >= FROZEN_CLIMB_M:
            worst = (lasted, climbed, float(value[begin]))
    return worst


def _over(levels: Array, height: Array, value: Array) -> Array:
    """The value at these heights, where the height is nearly always rising."""
    rising = np.maximum.accumulate(height)
    _rows, once = np.unique(rising, return_index=True)
    return np.asarray(np.interp(levels, rising[once], value[once]))
