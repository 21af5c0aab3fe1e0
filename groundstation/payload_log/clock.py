"""Where a payload's log lies in time: its clock's offset and drift, found by the heights.

The heights that the log holds, by its GPS or by its pressure, are laid over those that were heard
by radio. Where both are of one flight they fit but for the clock, which is off by an offset and a
drift, and for the height, which is off by a constant (GPS: another datum) or by a smooth function
of height (pressure: the air is not the standard one). All are found at once by least squares with
priors, robust against single wrong fixes (Huber weights).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError
from groundstation.payload_log.reading import SensorLog
from groundstation.physics.atmosphere import pressure_altitude_m

Array = NDArray[np.float64]

SCAN_S: Final = 5.0  # own choice: the search after it is finer
SCANNED: Final = 400
"""Fixes that the first search looks at."""
LOST_M: Final = 2_000.0
"""What a fix counts that the log does not reach."""
LEAST_FIXES: Final = 8  # own choice: fewer fit anywhere
LEAST_SPAN_M: Final = 3_000.0  # own choice: over less height, an ascent fits anywhere
DRIFT_SD: Final = 15.0 / 3_600.0  # own choice: a cheap crystal in the cold
MOST_DRIFT: Final = 30.0 / 3_600.0
"""A quartz is off by less than a second an hour, a bare oscillator by up to half a minute: common
practice, no source."""
LOOSE_M: Final = 20.0  # own choice: errors of a pressure sensor
TIGHTEST_M: Final = 3.0
"""Noise of a height, at first and at least: judgement. In between it is taken from what is left."""
LEAST_SHARE: Final = 0.8  # own choice: a log that fits worse is of another flight
NEAR_M: Final = {"gps": 80.0, "pressure": 150.0}
"""So near must ``LEAST_SHARE`` of the fixes come for the log to be of this flight: judgement."""
MOST_BEND_SD: Final = 4.0
"""Further from what air can do than this, the heights are of another flight."""
APART_M: Final = 1_500.0
"""Median distance above which the places in the log are those of another flight."""

_SD_M: Final = {"gps": (60.0,), "pressure": (250.0, 300.0, 200.0, 100.0, 50.0)}
"""One standard deviation of the coefficients of the height's error, per power of height / 10 km:
pressure heights are off by some hundreds of metres on days far from the standard (common
practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockMatch:
    """``utc = middle_utc + (log - middle_log) / (1 + drift)``.

    ``drift`` is how many seconds the log's clock gains in one, ``offset_sd_s`` one standard
    deviation of the time in the middle. ``bend`` are the coefficients of what is added to the log's
    height in metres, by powers of height / 10 km. ``by`` is "gps" or "pressure"; ``off_m`` the
    median of what is left, over ``fixes`` fixes of which ``reached`` lie within the log.
    """

    middle_utc: float
    middle_log_s: float
    drift: float
    offset_sd_s: float
    bend: tuple[float, ...]
    by: str
    off_m: float
    fixes: int
    reached: int

    def utc(self, log_s: Array) -> Array:
        return self.middle_utc + (log_s - self.middle_log_s) / (1.0 + self.drift)

    def log_s(self, utc: Array) -> Array:
        return self.middle_log_s + (utc - self.middle_utc) * (1.0 + self.drift)

    def altitude_m(self, height_m: Array) -> Array:
        """Above mean sea level, as the radio has it."""
        return np.asarray(height_m + _powers(height_m, len(self.bend)) @ np.array(self.bend))

    @property
    def offset_s(self) -> float:
        """How far the log's clock is ahead in the middle; without meaning where it counts from
        another beginning."""
        return self.middle_log_s - self.middle_utc


def heights(log: SensorLog) -> tuple[Array, Array, str]:
    """(time, height, "gps" or "pressure") of the rows that have one; GPS where there is any."""
    for name, by in (("altitude_m", "gps"), ("pressure_hpa", "pressure")):
        if name not in log.values:
            continue
        values = log.values[name]
        height = values if by == "gps" else pressure_altitude_m(100.0 * values)
        known = np.isfinite(height) & (height > -500.0) & (height < 60_000.0)
        if by == "gps" and {"lat", "lon"} <= set(log.values):
            # Receivers write zeros before their first fix.
            known &= (log.values["lat"] != 0.0) | (log.values["lon"] != 0.0)
        if known.sum() >= 20 and np.ptp(height[known]) >= LEAST_SPAN_M:
            return log.time_s[known], height[known], by
    raise InputFileError(
        f"the log's heights span less than {LEAST_SPAN_M / 1000.0:.0f} km: there is no flight in"
        " it, or its columns or units are others than the map of columns says"
    )


def match(log: SensorLog, utc: Array, altitude_m: Array) -> ClockMatch:
    """Find the log's clock by the fixes, of shape (n,).

    Raises ``InputFileError`` where the log is not of this flight, or can't be told to be.
    """
    time, height, by = heights(log)
    if len(utc) < LEAST_FIXES or np.ptp(altitude_m) < LEAST_SPAN_M:
        raise InputFileError("too little of the flight was heard to lay a log beside it")
    best: _Fit | None = None
    for start in _starts(time, height, utc, altitude_m):
        found = _refined(time, height, by, utc, altitude_m, start)
        if found is not None and (best is None or found.cost < best.cost):
            best = found
    if best is None or best.share < LEAST_SHARE:
        raise InputFileError(
            "the log is of another flight: wherever it is laid beside this one, the heights do not"
            " fit"
        )
    if abs(best.match.drift) > MOST_DRIFT:
        raise InputFileError(
            f"the log fits only with a clock that is wrong by {3600.0 * best.match.drift:.0f}"
            " seconds an hour; look at time_format, or it is of another flight"
        )
    return best.match


def apart_m(
    log: SensorLog, found: ClockMatch, utc: Array, lat: Array, lon: Array
) -> float | None:  # fmt: skip
    """Median distance of the places in the log from those of the fixes; None where it has none."""
    if not {"lat", "lon"} <= set(log.values):
        return None
    known = np.isfinite(log.values["lat"]) & np.isfinite(log.values["lon"])
    known &= (log.values["lat"] != 0.0) | (log.values["lon"] != 0.0)
    at = found.log_s(utc)
    time = log.time_s[known]
    if len(time) < 2:
        return None
    within = (at >= time[0]) & (at <= time[-1])
    if not within.any():
        return None
    north = np.interp(at[within], time, log.values["lat"][known]) - lat[within]
    east = np.interp(at[within], time, log.values["lon"][known]) - lon[within]
    return float(np.median(np.hypot(north, east * np.cos(np.radians(lat[within])))) * 111_195.0)


@dataclass(frozen=True, slots=True)
class _Fit:
    match: ClockMatch
    cost: float
    share: float


def _starts(time: Array, height: Array, utc: Array, altitude_m: Array) -> list[float]:
    """Where in the log's time the middle of the flight may lie: the best of all places, a few that
    stand apart."""
    step = max(1, len(utc) // SCANNED)
    at, z = utc[::step] - _middle(utc), altitude_m[::step]
    tries = np.arange(time[0] - at[-1], time[-1] - at[0], SCAN_S)
    costs = np.array([_cost(time, height, at + shift, z) for shift in tries])
    found: list[float] = []
    for n in np.argsort(costs):
        if all(abs(tries[n] - other) > 120.0 for other in found):
            found.append(float(tries[n]))
        if len(found) == 4:
            break
    return found


def _cost(time: Array, height: Array, at: Array, z: Array) -> float:
    off = np.abs(np.interp(at, time, height, left=np.nan, right=np.nan) - z)
    return float(np.minimum(np.where(np.isfinite(off), off, LOST_M), LOST_M).mean())


def _refined(
    time: Array, height: Array, by: str, utc: Array, altitude_m: Array, start: float
) -> _Fit | None:
    middle = _middle(utc)
    since = utc - middle
    sd = np.array([120.0, DRIFT_SD, *_SD_M[by]])
    unknown = np.zeros(len(sd))
    noise = LOOSE_M
    for turn in range(40):
        at = start + unknown[0] + since * (1.0 + unknown[1])
        within = (at >= time[0]) & (at <= time[-1])
        if within.sum() < LEAST_FIXES or np.ptp(altitude_m[within]) < LEAST_SPAN_M:
            return None
        read = np.interp(at[within], time, height)
        powers = _powers(read, len(sd) - 2)
        bent = read + powers @ unknown[2:]
        left = altitude_m[within] - bent
        # Over a few seconds, as a fast log's own steps are mostly noise.
        slope = (
            np.interp(at[within] + 4.0, time, height) - np.interp(at[within] - 4.0, time, height)
        ) / 8.0
        jacobian = np.column_stack([slope, slope * since[within], powers])
        spread = np.hypot(noise, np.abs(slope) * 0.5)
        weights = np.minimum(1.0, 2.0 * spread / np.maximum(np.abs(left), 1e-9)) / spread**2
        normal = (jacobian * weights[:, None]).T @ jacobian + np.diag(sd**-2)
        step = np.linalg.solve(normal, (jacobian * weights[:, None]).T @ left - unknown / sd**2)
        unknown = unknown + np.clip(step, -4.0 * sd, 4.0 * sd)
        if turn >= 8:
            noise = float(np.clip(1.5 * np.median(np.abs(left)), TIGHTEST_M, LOOSE_M))
    near = np.abs(left) <= NEAR_M[by]
    bend = tuple(float(number) for number in unknown[2:])
    bent_sd = float(np.hypot.reduce(unknown[2:] / sd[2:]))
    found = ClockMatch(
        middle_utc=middle,
        middle_log_s=start + float(unknown[0]),
        drift=float(unknown[1]),
        offset_sd_s=float(np.sqrt(np.linalg.inv(normal)[0, 0])),
        bend=bend,
        by=by,
        off_m=float(np.median(np.abs(left))),
        fixes=len(utc),
        reached=int(within.sum()),
    )
    # A fix that the log does not reach tells neither for it nor against it, unless most are such.
    share = float(near.mean()) * min(1.0, 2.0 * within.mean())
    missed = (LOST_M * (~within).sum() + np.minimum(np.abs(left), LOST_M).sum()) / len(utc)
    return _Fit(found, float(missed), share if bent_sd <= MOST_BEND_SD else 0.0)


def _powers(height_m: Array, count: int) -> Array:
    return np.asarray((height_m[:, None] / 10_000.0) ** np.arange(count))


def _middle(utc: Array) -> float:
    return float((utc[0] + utc[-1]) / 2.0)
