"""The landing estimate: an ensemble of falls from where the payload is now to the ground.

Each member draws its own fall rate, wind change and, where it has not burst yet, burst height. The
point is the median of the members, the regions are the smallest areas that hold 50 % and 90 % of
them. Pure: the same state gives the same estimate, live, replayed or restarted.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import fallfit, whole, windfit
from groundstation.flight.bursts import burst_heights, mirrored
from groundstation.flight.ground import terrain_m
from groundstation.flight.landed import RESTING_SD_M, region_of, resting
from groundstation.flight.phases import looks_falling
from groundstation.flight.progress import from_fix
from groundstation.flight.remaining import draws_of
from groundstation.flight.settings import FlightSettings, KeepOut, PlanSettings
from groundstation.flight.state import FlightState, unplaced
from groundstation.flight.track_arrays import TrackArrays, climb_rate_ms, flown
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import SPEED_RATIO, layer_of, shares_m
from groundstation.physics.region import highest_density, inside, within
from groundstation.records import Fix, Landing, Phase, Progress

Array = NDArray[np.float64]

POINT_NOISE_M: Final = 85.0  # study: set so that regions hold what they say near the ground
LOW_STRETCH: Final = 1.15  # study: set so that regions hold what they say near the ground
LOW_FROM_M, LOW_TO_M = 6_000.0, 4_000.0  # study: where LOW_STRETCH begins and is whole
TOUCHDOWN_NOISE_M: Final = 150.0  # own choice: the last fix is that high, or trees are
TOUCHDOWN_NOISE_S: Final = 12.0  # own choice: clocks, and the time between fixes
FLOAT_LEFT_S: Final = 1_800.0  # own choice, spread over a factor of two: floats are rare
CLIMB_SD: Final = 0.12  # own choice: mean rates of what is left of an ascent
CLIMB_FIXES: Final = 3  # own choice: two may be one bad fix
LEAST_SHARE: Final = 0.01  # own choice: less is not told of a keep-out
# SRTM is good to some metres in open country (90 % within 16 m by its specification, much better
# on plains): the rest is trees, roofs and where exactly.
TERRAIN_SD_M: Final = 10.0
TERRAIN_ROUNDS: Final = 3  # own choice: the ground under a point that hardly moves is known
NOTHING_SAID_M: Final = 100_000.0
"""Radius of the 90 % region beyond which nobody would drive by it (own choice)."""
LOWEST_GROUND_M: Final = -430.0  # the Dead Sea's shore, the lowest there is


@dataclass(frozen=True, slots=True)
class Scatter:
    """Points in metres east and north in ``plane``."""

    plane: Plane
    x_m: Array
    y_m: Array


def estimate_due(settings: FlightSettings, state: FlightState) -> bool:
    """Whether a new estimate would say something new: a newer fix, and enough time since."""
    if state.motion.last is None or _on_the_ground(state):
        return False
    made = state.landing
    if made is None or made.phase is not state.motion.phase:
        return True
    if state.sighted_utc > made.time_utc:
        return True
    if state.waiting and state.motion.last.time_utc > made.evidence_utc:
        return True
    if whole.serves(state) and state.motion.phase is not Phase.LANDED:
        return whole.estimate_due(settings, state, made)
    falling = state.motion.phase is Phase.LANDED or looks_falling(state.motion)
    every_s = settings.estimate_every_s if falling else settings.climbing_every_s
    return state.motion.last.time_utc - made.evidence_utc >= every_s


def _on_the_ground(state: FlightState) -> bool:
    """Whether it was not launched, and does not look as if."""
    return state.motion.phase is Phase.PRELAUNCH and state.motion.maybe is None


def estimate(settings: FlightSettings, state: FlightState) -> Landing | None:
    """Estimate the landing from ``state``; None before the launch, with too few fixes,
    and where it could be anywhere."""
    last = state.motion.last
    if last is None or _on_the_ground(state):
        return None
    if state.motion.phase is Phase.LANDED:
        return resting(settings, state, last)
    fall = _fall(settings, state)
    if fall is None:
        return None
    landing = fall.landing(state, last, settings.keep_outs)
    return landing if _says_something(settings, state, landing) else None


def _says_something(settings: FlightSettings, state: FlightState, landing: Landing) -> bool:
    """Without a forecast the winds above are hardly known early in the climb."""
    early = state.motion.phase is Phase.ASCENT and not looks_falling(state.motion)
    if settings.aloft is not None or not early or whole.only_places(state):
        return True
    return landing.radius_90_m < NOTHING_SAID_M


def estimate_and_points(
    settings: FlightSettings, state: FlightState
) -> tuple[Landing, Scatter] | None:
    """Both of a flight that is in the air, flown once; None with too few fixes."""
    last, fall = state.motion.last, _fall(settings, state)
    if last is None or fall is None:
        return None
    scatter = Scatter(fall.plane, fall.x_m, fall.y_m)
    return fall.landing(state, last, settings.keep_outs), scatter


def landing_points(settings: FlightSettings, state: FlightState) -> Scatter | None:
    """Where it may lie or come down: the ensemble behind ``estimate``. None where that has none."""
    last = state.motion.last
    if last is None or _on_the_ground(state):
        return None
    if state.motion.phase is Phase.LANDED:
        sd = math.hypot(RESTING_SD_M, last.uncertainty_m)
        d = draws_of(settings)
        here = Plane(last.latitude_deg, last.longitude_deg)
        return Scatter(here, sd * _both(d.point_east), sd * _both(d.point_north))
    fall = _fall(settings, state)
    return None if fall is None else Scatter(fall.plane, fall.x_m, fall.y_m)


def _fall(settings: FlightSettings, state: FlightState) -> "_Ensemble | None":
    """The ensemble: of whole flights where only places are known, else of falls from here."""
    last, track = state.motion.last, flown(state)
    if last is None:
        return None
    if track is None:
        seen = whole.evidence(settings, state)
        return (
            None if seen is None else _Ensemble.of_whole(settings, state, whole.fly(settings, seen))
        )
    if whole.lost_heights(state) or whole.seen_since(state) or unplaced(state):
        ground_m = _ground(settings, state, track)
        if unplaced(state):  # it is above the ground as long as it is heard to fall
            ground_m = min(ground_m, state.heights.levels[-1].altitude_m - 1.0)
        seen = whole.evidence_since(settings, state, track, ground_m, draws_of(settings))
        return _Ensemble.of_whole(settings, state, whole.fly(settings, seen))
    return _Ensemble.of(settings, state, track, last)


def _ground(settings: FlightSettings, state: FlightState, track: TrackArrays) -> float:
    """Height of the landing ground: as given, else that of the launch."""
    if settings.ground_m is not None:
        return settings.ground_m
    first = state.motion.launch or state.motion.first
    height = float(track.altitude_m[0])
    if first is not None and first.altitude_m is not None:
        height = first.altitude_m
    return min(height, track.anchor_m - 1.0)


@dataclass(frozen=True, slots=True)
class _Ensemble:
    """An ensemble: where (metres in ``plane``) and when (seconds from now) each member lands."""

    plane: Plane
    ground_m: float
    x_m: Array
    y_m: Array
    wait_s: Array
    rate_ms: float
    rate_90_ms: tuple[float, float]
    basis: str
    progress: Progress

    @classmethod
    def of(
        cls, settings: FlightSettings, state: FlightState, track: TrackArrays, last: Fix
    ) -> "_Ensemble":
        d = draws_of(settings)
        ground_m = _ground(settings, state, track)
        falling = looks_falling(state.motion)
        anchor_m = track.anchor_m
        top_m = np.full(1, anchor_m) if falling else burst_heights(settings, anchor_m, d)
        lowest = ground_m if settings.terrain is None else LOWEST_GROUND_M
        layers = slice(int(layer_of(lowest)), int(layer_of(top_m.max())) + 1)
        fall = fallfit.fit(settings.plan, track if falling else None, layers, d)
        wind = windfit.fit(track, d, layers, settings.aloft, falling=falling)
        slow = np.exp(-np.concatenate([fall.centre + fall.deviation, fall.centre - fall.deviation]))
        slow /= SPEED_RATIO[layers]
        if not falling:
            top_m = np.concatenate([top_m, mirrored(top_m)])
        climb_ms = climb_rate_ms(settings, track.time_s, track.altitude_m)
        planned = settings.plan.ascent_rate_sd_ms / settings.plan.ascent_rate_ms
        climb_sd = planned if len(track.time_s) < CLIMB_FIXES else CLIMB_SD
        climb = climb_ms * np.exp(climb_sd * _both(d.climb))
        known = from_fix(state, last)
        above = [wind.mean[k, layers] + _both(wind.unmet[k]) for k in range(2)]
        around = [above[k] + _both(wind.change[k]) for k in range(2)]
        changed = None if settings.aloft is None or falling else settings.aloft.changed_ms
        if changed is not None:
            around = [around[k] + changed[k][layers] for k in range(2)]
        if state.motion.phase is Phase.FLOAT:
            before_s = FLOAT_LEFT_S * np.exp(0.8 * _both(d.float_time))
            at = int(layer_of(anchor_m)) - layers.start
            drift = (d.float_east, d.float_north)
            ways = [before_s * (above[k][:, at] + 2.0 * _both(drift[k])) for k in range(2)]
        elif falling:
            before_s = np.zeros(2 * d.half)
            ways = [before_s, before_s]
        else:
            climbing = shares_m(np.full(1, anchor_m), top_m, layers) / climb[:, None]
            before_s = climbing.sum(axis=1)
            ways = [np.einsum("ij,ij->i", climbing, above[k]) for k in range(2)]

        def landed(ground: Array) -> tuple[Array, Array, Array]:
            down = shares_m(ground, np.maximum(top_m, ground), layers) * slow
            x, y = (ways[k] + np.einsum("ij,ij->i", down, around[k]) for k in range(2))
            return x, y, before_s + down.sum(axis=1)

        ground = np.full(1, ground_m)
        x, y, wait = landed(ground)
        ground_sd_m = settings.ground_sd_m
        if settings.terrain is not None:
            ground_sd_m = TERRAIN_SD_M
            for _ in range(TERRAIN_ROUNDS):
                ground = terrain_m(settings.terrain, track.plane, x, y, ground_m)
                x, y, wait = landed(ground)
            ground_m = float(np.median(ground))
        at_ground = int(layer_of(ground_m)) - layers.start
        speed = math.exp(float(fall.mean[at_ground])) * float(SPEED_RATIO[layers][at_ground])
        blur_m = POINT_NOISE_M
        if state.apart.disagree:
            blur_m = math.hypot(POINT_NOISE_M, state.apart.by_m / 2.0)
        off = ground_sd_m * _both(d.ground) / speed
        x = x - off * wind.mean[0, layers][at_ground] + blur_m * _both(d.point_east)
        y = y - off * wind.mean[1, layers][at_ground] + blur_m * _both(d.point_north)
        wait = wait + TOUCHDOWN_NOISE_M / speed * _both(d.touchdown_way)
        wait = wait + TOUCHDOWN_NOISE_S * _both(d.touchdown_time)
        agl = anchor_m - ground_m
        low = float(np.clip((LOW_FROM_M - agl) / (LOW_FROM_M - LOW_TO_M), 0.0, 1.0))
        stretch = np.tile(d.stretch, 2) * (1.0 + (LOW_STRETCH - 1.0) * low)
        x, y, wait = (_stretched(a, stretch) for a in (x, y, wait))
        return cls(
            track.plane,
            ground_m,
            x,
            y,
            np.maximum(wait, 0.0),
            speed,
            _ninety(1.0 / slow[:, at_ground], stretch),
            _basis(settings, state, track, wind, fall, falling),
            known,
        )

    @classmethod
    def of_whole(
        cls, settings: FlightSettings, state: FlightState, flights: whole.Ensemble
    ) -> "_Ensemble":
        early, middle, late = np.quantile(flights.rate_ms, (0.05, 0.5, 0.95))
        return cls(
            flights.plane,
            flights.ground_m,
            flights.x_m,
            flights.y_m,
            flights.wait_s,
            float(middle),
            (float(early), float(late)),
            whole.basis(settings, state),
            whole.progress(flights),
        )

    def landing(self, state: FlightState, last: Fix, keep_outs: Sequence[KeepOut]) -> Landing:
        point = (float(np.median(self.x_m)), float(np.median(self.y_m)))
        lat, lon = self.plane.to_latlon(*point)
        away = np.hypot(self.x_m - point[0], self.y_m - point[1])
        early, middle, late = np.quantile(self.wait_s, (0.05, 0.5, 0.95))
        half, most = highest_density(np.stack([self.x_m, self.y_m], axis=1), (0.5, 0.9))
        evidence = float(last.time_utc)
        return Landing(
            payload=state.payload,
            time_utc=state.now_utc,
            evidence_utc=evidence,
            phase=state.motion.phase,
            latitude_deg=float(lat),
            longitude_deg=float(lon),
            ground_m=self.ground_m,
            eta_utc=evidence + float(middle),
            eta_90_utc=(evidence + float(early), evidence + float(late)),
            descent_rate_ms=self.rate_ms,
            region_50=region_of(half, self.plane),
            region_90=region_of(most, self.plane),
            radius_50_m=float(np.quantile(away, 0.5)),
            radius_90_m=float(np.quantile(away, 0.9)),
            basis=self.basis,
            descent_rate_90_ms=self.rate_90_ms,
            inside=tuple(self._inside(keep_outs)),
            progress=self.progress,
        )

    def _inside(self, keep_outs: Sequence[KeepOut]) -> Iterator[tuple[str, float]]:
        for keep_out in keep_outs:
            rings = [self.plane.to_xy(*np.array(ring).T) for ring in keep_out.rings]
            hit = (
                within(self.x_m, self.y_m, rings, keep_out.half_width_m)
                if keep_out.half_width_m > 0.0
                else inside(self.x_m, self.y_m, rings)
            )
            share = float(hit.mean())
            if share >= LEAST_SHARE:
                yield keep_out.name, round(share, 3)


def _stretched(values: Array, by: Array) -> Array:
    middle = np.median(values)
    return np.asarray(middle + (values - middle) * by)


def _ninety(rates_ms: Array, stretch: Array) -> tuple[float, float]:
    slowest, fastest = np.quantile(np.exp(_stretched(np.log(rates_ms), stretch)), (0.05, 0.95))
    return float(slowest), float(fastest)


def _both(values: Array) -> Array:
    """The members, then their mirror images."""
    return np.concatenate([values, -values])


def _as_planned(plan: PlanSettings) -> str:
    if not plan.made:
        return "no plan"
    if plan.descent_rate_ms is None:
        return "burst as planned, no planned descent rate"
    return "burst and descent as planned"


def _basis(
    settings: FlightSettings,
    state: FlightState,
    track: TrackArrays,
    wind: windfit.WindFit,
    fall: fallfit.FallFit,
    falling: bool,
) -> str:
    measured = wind.ascent.highest_m
    plan = settings.plan
    words = [
        f"ascent winds to {measured / 1000:.1f} km" if math.isfinite(measured) else "no winds met"
    ]
    if falling:
        words.append(f"descent fit over {fall.fallen_m / 1000:.1f} km")
        if plan.descent_rate_ms is None:
            words.append("no planned descent rate")
    elif state.motion.phase is Phase.FLOAT:
        words.append("floating: the end of the float is not known")
    elif track.anchor_m > plan.burst_altitude_m + 2.0 * plan.burst_altitude_sd_m:
        words.append("climbing past the planned burst")
    else:
        words.append(_as_planned(plan))
    words.append("no forecast" if settings.aloft is None else settings.aloft.name)
    if settings.terrain is not None:
        words.append("terrain")
    return ", ".join(words)
