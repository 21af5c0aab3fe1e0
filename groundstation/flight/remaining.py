"""What the rest of a flight may be like, from the last fix with a height on.

Like ``priors.Prior``, but begun in the air: the climb goes on as it was of late, the burst is above
the height that was reached, and what was seen of a fall has told how fast it is.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import fallfit, windfit
from groundstation.flight.heights import Level
from groundstation.flight.met_heights import Met, longer, met
from groundstation.flight.priors import student
from groundstation.flight.settings import FlightSettings
from groundstation.flight.track_arrays import TrackArrays, climb_rate_ms
from groundstation.physics.courses import COUNT, EDGE_M, MIDDLE_M, SPEED_RATIO, Courses
from groundstation.physics.draws import Draws, draws, normal_cdf, normal_quantile
from groundstation.physics.drifts import WindBelief, changes
from groundstation.physics.layers import COUNT as FINE_COUNT
from groundstation.physics.layers import MIDDLE_M as FINE_M

Array = NDArray[np.float64]

CLIMB, CLIMB_TREND, TOP, FLOAT = range(4)
FIRST_FALL: Final = 4  # the row after the four single unknowns
FALL_MODES: Final = 5  # own choice: they hold nearly all of how falls differ
UNKNOWNS: Final = FIRST_FALL + FALL_MODES
CLIMB_SD: Final = 0.12  # own choice: mean rates of what is left of an ascent
CLIMB_TREND_SD: Final = 0.12  # as priors.CLIMB_TREND_SD
CLIMB_TREND_M: Final = 15_000.0  # as priors.CLIMB_TREND_M
FALL_DEGREES: Final = 6.0  # own choice: as of the drift
FLOAT_LEFT_S: Final = 1_800.0  # own choice, spread over a factor of two: floats are rare
FLOAT_SD: Final = 0.8  # own choice: see FLOAT_LEFT_S
MET_MS: Final = 0.5  # own choice: errors of winds that fixes with heights measured
NEAR_M: Final = 50.0  # own choice: the burst is not at the very height of the last fix


# Study of recorded flights: what the ensemble of falls itself leaves out, set so that regions are
# calibrated.
TAIL_DEGREES: Final = 4.5


def draws_of(settings: FlightSettings) -> Draws:
    """The draws of the estimates of a flight: the same each time."""
    return draws(
        settings.members,
        fallfit.WANDER_M,
        windfit.CHANGE_LENGTH_M,
        windfit.SPREAD_LONG_M,
        TAIL_DEGREES,
    )


@dataclass(frozen=True, slots=True)
class Remaining:
    """The prior: ``fall_modes`` (FALL_MODES, COUNT) are the ways in which ln of the rate of fall
    may differ from ``fall_mean`` (COUNT,). ``met`` is how it went on from there, where heights
    without a place told it."""

    settings: FlightSettings
    from_m: float
    ground_m: float
    climbs: bool
    floats: bool
    climb_ms: float
    fall_mean: Array
    fall_modes: Array
    met: Met | None = None
    unknowns: int = UNKNOWNS

    @classmethod
    def of(
        cls,
        settings: FlightSettings,
        track: TrackArrays,
        d: Draws,
        ground_m: float,
        *,
        climbs: bool,
        floats: bool,
        levels: tuple[Level, ...] = (),
    ) -> "Remaining":
        """``climbs`` and ``floats`` tell of the end of ``track``; ``levels`` came after it."""
        layers = slice(0, FINE_COUNT)
        known = met(track, levels) if levels else None
        whole = longer(track, levels)
        falls = not (climbs or floats) or (known is not None and known.room_s is not None)
        fit = fallfit.fit(settings.plan, whole if falls else None, layers, d)
        off = np.concatenate([fit.deviation + fit.centre - fit.mean] * 2)
        off[d.half :] = -(fit.deviation) + fit.centre - fit.mean
        middle = off.mean(axis=0)
        mean = np.interp(MIDDLE_M, FINE_M, fit.mean + middle)
        rows = np.stack([np.interp(MIDDLE_M, FINE_M, row) for row in off - middle])
        value, vector = np.linalg.eigh(rows.T @ rows / len(rows))
        modes = (vector * np.sqrt(np.maximum(value, 0.0))).T[::-1][:FALL_MODES]
        modes = np.asarray(modes)
        if known is not None:
            fell = np.isfinite(known.fall_ms)
            mean = np.where(fell, np.log(np.where(fell, known.fall_ms, 1.0) / SPEED_RATIO), mean)
            modes = np.where(fell, 0.0, modes)
        rises = slice(0, whole.top + 1)
        climb = climb_rate_ms(settings, whole.time_s[rises], whole.altitude_m[rises])
        return cls(settings, track.anchor_m, ground_m, climbs, floats, climb, mean, modes, known)

    def courses(self, normals: Array, ground_m: Array | None = None) -> Courses:
        """The flights that a table of standard normals (n, UNKNOWNS) stands for."""
        n = len(normals)
        begin = np.zeros(n)
        climb = np.log(self.climb_ms) + CLIMB_SD * normals[:, [CLIMB]]
        reached = self.from_m if self.met is None else max(self.from_m, self.met.top_m)
        above = (MIDDLE_M - reached) / CLIMB_TREND_M
        climb = climb + CLIMB_TREND_SD * normals[:, [CLIMB_TREND]] * above
        if self.met is not None:
            rose = np.isfinite(self.met.climb_ms)
            climb = np.where(rose, np.log(np.where(rose, self.met.climb_ms, 1.0)), climb)
        fall = self.fall_mean + student(normals[:, FIRST_FALL:], FALL_DEGREES) @ self.fall_modes
        floated = begin if self.met is None else begin + self.met.floated_s
        if self.floats:
            floated = floated + FLOAT_LEFT_S * np.exp(FLOAT_SD * normals[:, FLOAT])
        return Courses.of(
            launch_s=begin,
            from_m=self.from_m,
            top_m=self._tops(normals[:, TOP]),
            float_s=floated,
            climb_ms=np.exp(np.clip(climb, -1.0, 3.0)),
            fall_rate_ms=np.exp(np.clip(fall, -0.5, 4.0)),
            ground_m=self.ground_m if ground_m is None else ground_m,
        )

    def _tops(self, normals: Array) -> Array:
        """As planned, cut off below the height that was reached; known where it fell since."""
        known = self.met
        reached_m = self.from_m if known is None else max(self.from_m, known.top_m)
        if known is not None and known.room_s is not None:
            higher = normal_cdf(normals) * known.room_s * self.climb_ms
            return np.asarray(reached_m + (0.0 if known.floated_s else higher))
        if not self.climbs:
            return np.full(len(normals), reached_m)
        plan = self.settings.plan
        beyond = (reached_m - plan.burst_altitude_m) / plan.burst_altitude_sd_m
        reached = float(normal_cdf(np.array(beyond)))
        left = max(1.0 - reached, 1e-6)
        share = np.clip(reached + left * normal_cdf(normals), 1e-9, 1.0 - 1e-7)
        top = plan.burst_altitude_m + plan.burst_altitude_sd_m * normal_quantile(share)
        return np.clip(top, reached_m + NEAR_M, float(EDGE_M[-1]) - 1.0)


def winds(settings: FlightSettings, track: TrackArrays, d: Draws, *, falls: bool) -> WindBelief:
    """What is believed of the winds that the rest meets: as measured, and above that as the fit of
    the estimate has them."""
    layers = slice(0, FINE_COUNT)
    fit = windfit.fit(track, d, layers, settings.aloft, falling=falls)
    mean = np.stack([np.interp(MIDDLE_M, FINE_M, wind) for wind in fit.mean])
    highest = fit.ascent.highest_m
    if not np.isfinite(highest):
        highest = float(MIDDLE_M[0])
    shared = windfit.unmet_covariance(MIDDLE_M, highest, settings.aloft)
    return WindBelief(mean, np.asarray(shared + changes(MET_MS) + 1e-9 * np.eye(COUNT)))
