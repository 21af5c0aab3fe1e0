"""The landing where fixes have no heights: an ensemble of whole flights.

Each member is a flight from launch to touchdown, or from the last height that was heard. All that
is known is a factor of how likely a member is: the plan, the places seen and when, heights, the
forecast, messages that did not come, heights that stood still, what a person saw. What is missing
is a missing factor. What a member has not flown yet it flies on, through winds drawn given the
places.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import missed_messages
from groundstation.flight.ground import terrain_m
from groundstation.flight.priors import Beginning, Prior
from groundstation.flight.progress import HEIGHT_SD_M
from groundstation.flight.remaining import Remaining, winds
from groundstation.flight.settings import FlightSettings
from groundstation.flight.sightings import (
    AnySighting,
    Looked,
    launch_seen,
    log_likelihood_of_places,
    log_likelihood_of_times,
    speaks_of_place,
)
from groundstation.flight.silence import interval_s, tracker_settings
from groundstation.flight.state import FlightState, unplaced
from groundstation.flight.told_heights import Told, few, log_likelihood
from groundstation.flight.track import Point, few_places
from groundstation.flight.track_arrays import TrackArrays, ground_given_m
from groundstation.flight.windbelief import belief
from groundstation.physics.courses import Courses, layer_of
from groundstation.physics.draws import Draws, normal_quantile
from groundstation.physics.drifts import Drifts, Places, WindBelief, Winds, onward
from groundstation.physics.geodesy import Plane
from groundstation.physics.tempering import spread_normals, tempered
from groundstation.records import Fix, Landing, Phase, PhaseChances, Progress

Array = NDArray[np.float64]

MEMBERS: Final = 600  # own choice: a share of 10 % is then known to 1 %
SEED: Final = 20_260_313  # any number; it is fixed so that nothing jitters
SURELY: Final = 0.99  # own choice: then the clock alone says nothing new
LEAST_S: Final = 120.0  # own choice: what is newer by less says little more
LONGEST_S: Final = 12 * 3_600.0  # own choice: nothing of latex flies as long
LANDING_NOISE_M: Final = 100.0  # own choice: what no wind explains near the ground
WINDS_EACH: Final = 5  # own choice: a bearing keeps about a fifth of the members
FAR_S: Final = 30 * 86_400.0  # a moment after which all lie
LOST_S: Final = 120.0  # own choice: what is between two heights needs no telling
STUCK_ROOM_M: Final = 300.0  # own choice: where a receiver comes back varies
STUCK_BELOW: Final = 0.1  # own choice: receivers whose heights stay as they were for good
TERRAIN_ROUNDS: Final = 2  # own choice: the ground under a point that hardly moves is known


class Flying(Protocol):
    """What flights may be like before the evidence: ``priors.Prior`` or ``remaining.Remaining``."""

    @property
    def unknowns(self) -> int: ...

    @property
    def ground_m(self) -> float: ...

    def courses(self, normals: Array, ground_m: Array | None = None) -> Courses: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All that is known of a flight. Times are seconds after ``zero_utc``, the first place's.

    ``heights`` are those that were told with few of the places, or without one. ``stuck_m`` is the
    height at which the heights of the places stood still, where they did.
    """

    plane: Plane
    zero_utc: float
    prior: Flying
    winds: WindBelief
    places: Places
    due: missed_messages.Due
    ceiling_m: float | None
    now_s: float
    heights: tuple[Told, ...] = ()
    stuck_m: float | None = None
    sightings: tuple[AnySighting | Looked, ...] = ()

    @property
    def newest_s(self) -> float:
        return float(self.places.time_s[-1])


@dataclass(frozen=True, slots=True)
class Ensemble:
    """Where (metres in ``plane``) and when (seconds from the last place) each member lands."""

    plane: Plane
    x_m: Array
    y_m: Array
    wait_s: Array
    ground_m: float
    rate_ms: Array
    courses: Courses
    now_s: float
    zero_utc: float
    height_sd_m: float


def only_places(state: FlightState) -> bool:
    """Whether the fixes of this flight have no heights, or hardly any."""
    return not state.motion.tells_height


def lost_heights(state: FlightState) -> bool:
    """Whether the newest fixes have no heights, after others that had."""
    last = state.motion.last
    if last is None or last.altitude_m is not None or only_places(state):
        return False
    known = next((p for p in reversed(state.motion.track.points) if p.altitude_m is not None), None)
    return known is not None and last.time_utc - known.time_utc >= LOST_S


def seen_since(state: FlightState) -> bool:
    """Whether a person saw or looked for something of the flight after the newest fix."""
    last, seen = state.motion.last, (*state.sightings, *state.looks)
    return last is not None and any(sighting.at_utc > last.time_utc for sighting in seen)


def serves(state: FlightState) -> bool:
    """Whether the estimate is one of whole flights, which the time that goes by moves too."""
    return only_places(state) or lost_heights(state) or unplaced(state)


def estimate_due(settings: FlightSettings, state: FlightState, made: Landing) -> bool:
    """Whether there is a newer place, or enough time went by without one to say something new."""
    last, progress = state.motion.last, made.progress
    if last is None or progress is None:
        return last is not None
    height = state.heights.newest
    heard_utc = -math.inf if height is None else height.received_utc
    if max(last.time_utc - made.evidence_utc, heard_utc - made.time_utc) >= LEAST_S:
        return True
    if progress.chance.landed >= SURELY or state.now_utc - last.received_utc > LONGEST_S:
        return False
    every = max(interval_s(settings, state.hearing, last.tracker) / 2.0, LEAST_S)
    return state.now_utc - made.time_utc >= every


def evidence(settings: FlightSettings, state: FlightState) -> Evidence | None:
    """What is known from the launch on; None before it. What may have been launched is taken to be
    a flight."""
    last, launch = state.motion.last, state.motion.launch or state.motion.maybe
    if last is None or launch is None:
        return None
    begun = Point(launch.time_utc, launch.latitude_deg, launch.longitude_deg, None)
    after = [p for p in state.motion.track.points if launch.time_utc < p.time_utc <= last.time_utc]
    if not after and launch_seen(state.sightings) is None:
        return None
    every = _every_s(settings, state, last)
    late = after[0].time_utc - begun.time_utc if after else max(_now_s(state, last, begun), every)
    ground = ground_given_m(settings)
    begin = Beginning(early_s=0.0, late_s=late, from_m=ground, ground_m=ground)
    prior = Prior.of(settings.plan, begin)
    heights = [Told(p.time_utc, p.altitude_m, 0.0) for p in after if p.altitude_m is not None]
    heights += [
        Told(*level[:3]) for level in state.heights.levels if level.time_utc > begun.time_utc
    ]
    believed = belief(settings.aloft, begun.time_utc, begun.latitude_deg)
    return _evidence(settings, state, last, [begun, *after], prior, believed, heights)


def evidence_since(
    settings: FlightSettings, state: FlightState, track: TrackArrays, ground_m: float, d: Draws
) -> Evidence:
    """What is known from the last height on."""
    last = state.motion.last
    assert last is not None
    at = track.anchor_utc
    points = [p for p in state.motion.track.points if at <= p.time_utc <= last.time_utc]
    levels = tuple(level for level in state.heights.levels if level.time_utc > at)
    burst = state.motion.burst
    falls = state.motion.phase is Phase.DESCENT if burst is None else burst.time_utc <= at
    floats = state.motion.phase is Phase.FLOAT
    climbs = not (falls or floats)
    prior = Remaining.of(settings, track, d, ground_m, climbs=climbs, floats=floats, levels=levels)
    believed = winds(settings, track, d, falls=falls)
    heights = [Told(*level[:3]) for level in levels]
    return _evidence(settings, state, last, points, prior, believed, heights)


def _evidence(
    settings: FlightSettings,
    state: FlightState,
    last: Fix,
    points: list[Point],
    prior: Flying,
    believed: WindBelief,
    heights: Sequence[Told] = (),
) -> Evidence:
    kept = few_places(points)
    zero = points[0].time_utc
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = plane.to_xy(
        np.array([p.latitude_deg for p in kept]), np.array([p.longitude_deg for p in kept])
    )
    now = _now_s(state, last, points[0])
    heard = np.array([p.time_utc for p in points]) - zero
    # While it tells its height alone, that no place comes says nothing.
    silent = unplaced(state) and state.heights.levels[-1].tracker == last.tracker
    due_to = last.time_utc - zero if silent else now
    return Evidence(
        plane=plane,
        zero_utc=zero,
        prior=prior,
        winds=believed,
        places=Places(np.array([p.time_utc for p in kept]) - zero, x, y),
        due=missed_messages.Due.of(heard, _every_s(settings, state, last), due_to),
        ceiling_m=tracker_settings(settings, last.tracker).ceiling_m,
        now_s=now,
        heights=tuple(height._replace(at_s=height.at_s - zero) for height in few(heights)),
        stuck_m=state.motion.frozen_m,
        sightings=(*state.sightings, *state.looks),
    )


def _now_s(state: FlightState, last: Fix, begun: Point) -> float:
    """Now, by the tracker's clock, since the first place."""
    return state.now_utc - last.received_utc + last.time_utc - begun.time_utc


def _every_s(settings: FlightSettings, state: FlightState, last: Fix) -> float:
    return max(interval_s(settings, state.hearing, last.tracker), 60.0)


def fly(settings: FlightSettings, seen: Evidence) -> Ensemble:
    """Draw whole flights that fit what was seen, and land them."""
    rng = np.random.default_rng(SEED)
    prior = seen.prior

    def likely(normals: Array) -> Array:
        courses = prior.courses(normals)
        fits = missed_messages.log_likelihood(courses, seen.due, seen.ceiling_m)
        fits = fits + Drifts.of(courses, seen.places, seen.winds).log_likelihood
        fits = fits + _fits_heights(courses, seen)
        return np.asarray(fits + log_likelihood_of_times(seen.sightings, Times(courses, seen)))

    members = tempered(spread_normals(MEMBERS, prior.unknowns, rng), likely, rng)
    if any(speaks_of_place(sighting) for sighting in seen.sightings):
        # Where each is hangs on the winds too: several draws of those for each, then the best.
        members = np.repeat(members, WINDS_EACH, axis=0)
    courses = prior.courses(members)
    drifts = Drifts.of(courses, seen.places, seen.winds)
    up, down = onward(drifts, seen.places, seen.winds, rng)
    if len(members) > MEMBERS:
        placed = PlacedCourses(courses, seen, up, down)
        fits = log_likelihood_of_places(seen.sightings, placed)
        best = dealt(np.exp(fits - fits.max()), MEMBERS)
        members, courses, up, down = members[best], courses.picked(best), up[best], down[best]
    ground = prior.ground_m + settings.ground_sd_m * rng.standard_normal(MEMBERS)
    noise = LANDING_NOISE_M * rng.standard_normal((2, MEMBERS))
    rounds = 1 if settings.terrain is None else TERRAIN_ROUNDS
    x, y = _landed(courses, seen, up, down)
    for _ in range(rounds):
        if settings.terrain is not None:
            ground = terrain_m(settings.terrain, seen.plane, x, y, prior.ground_m)
        courses = prior.courses(members, ground)
        x, y = _landed(courses, seen, up, down)
    return Ensemble(
        seen.plane,
        x + noise[0],
        y + noise[1],
        courses.touchdown_s - seen.newest_s,
        float(np.median(ground)),
        courses.fall_ms[:, int(layer_of(float(np.median(ground))))],
        courses,
        seen.now_s,
        seen.zero_utc,
        math.hypot(seen.heights[-1].sd_m, HEIGHT_SD_M) if seen.heights else 0.0,
    )


def _fits_heights(courses: Courses, seen: Evidence) -> Array:
    """Of heights that were told, and of those that stood still: a receiver does so above the
    height at which it stopped, and tells others once it is below."""
    total = np.zeros(len(courses.top_m))
    if seen.heights:
        total = log_likelihood(courses, seen.heights)
    if seen.stuck_m is not None:
        above = courses.height_m(np.array([seen.newest_s]))[:, 0] > seen.stuck_m - STUCK_ROOM_M
        total = total + np.where(above, 0.0, math.log(STUCK_BELOW))
    return np.asarray(total)


@dataclass(frozen=True, slots=True)
class Times:
    """When members were launched, burst and came down, as sightings ask it."""

    courses: Courses
    seen: Evidence

    @property
    def launch_utc(self) -> Array:
        return self.seen.zero_utc + self.courses.launch_s

    @property
    def burst_utc(self) -> Array:
        return self.seen.zero_utc + self.courses.burst_s

    @property
    def touchdown_utc(self) -> Array:
        return self.seen.zero_utc + self.courses.touchdown_s


@dataclass(frozen=True, slots=True)
class PlacedCourses(Times):
    """And where each is at a moment: between places on the straight way, then with its winds."""

    up: Winds
    down: Winds

    @property
    def plane(self) -> Plane:
        return self.seen.plane

    def at(self, moment_utc: float) -> tuple[Array, Array, Array]:
        """East, north and height of each, (n,)."""
        places, moment = self.seen.places, moment_utc - self.seen.zero_utc
        height = self.courses.height_m(np.array([min(moment, FAR_S)]))[:, 0]
        if moment <= self.seen.newest_s:
            east, north = (
                np.interp(moment, places.time_s, way) for way in (places.x_m, places.y_m)
            )
            return np.full(len(height), east), np.full(len(height), north), height
        return *_landed(self.courses, self.seen, self.up, self.down, moment), height


def dealt(weight: Array, count: int) -> NDArray[np.int64]:
    """Indices of as many as ``count``, each as often as its weight asks, with no chance in it."""
    total = np.cumsum(weight)
    marks = (np.arange(count) + 0.5) / count * total[-1]
    return np.asarray(np.minimum(np.searchsorted(total, marks), len(weight) - 1))


def _landed(
    courses: Courses, seen: Evidence, up: Winds, down: Winds, until_s: float = np.inf
) -> tuple[Array, Array]:
    """Where each comes down, or is at a moment, from the last place on."""
    last, end = np.array([seen.newest_s]), np.array([until_s])
    rising, falling = courses.rising_s(last, end)[:, 0], courses.falling_s(last, end)[:, 0]
    east = (rising * up.u_ms + falling * down.u_ms).sum(axis=1)
    north = (rising * up.v_ms + falling * down.v_ms).sum(axis=1)
    return seen.places.x_m[-1] + east, seen.places.y_m[-1] + north


def progress(flights: Ensemble) -> Progress:
    """How far the flight is: the shares of the members in each phase, and their heights."""
    courses, now, zero_utc = flights.courses, flights.now_s, flights.zero_utc
    down = now >= courses.touchdown_s
    falls = (now >= courses.fall_s) & ~down
    floats = (now >= courses.burst_s) & ~falls & ~down
    heights = courses.height_m(np.array([now]))[:, 0]
    if flights.height_sd_m:  # what is drawn goes by heights that are off
        off = normal_quantile((np.arange(len(heights)) + 0.5) / len(heights))
        heights = heights + flights.height_sd_m * np.random.default_rng(SEED).permutation(off)
    low, middle, high = np.quantile(heights, (0.05, 0.5, 0.95))
    early, late = np.quantile(courses.fall_s, (0.05, 0.95))
    shares = [float(which.mean()) for which in (floats, falls, down)]
    return Progress(
        chance=PhaseChances(
            ascent=1.0 - sum(shares), floating=shares[0], descent=shares[1], landed=shares[2]
        ),
        height_m=float(middle),
        height_90_m=(float(low), float(high)),
        launch_utc=zero_utc + float(np.median(courses.launch_s)),
        burst_90_utc=(zero_utc + float(early), zero_utc + float(late)),
    )


def basis(settings: FlightSettings, state: FlightState) -> str:
    """What it rests on, in words."""
    words = ["if it flies"] if state.motion.phase is Phase.PRELAUNCH else []
    words.append("heights by the clock and the drift")
    words.append("burst and descent as planned" if settings.plan.made else "no plan")
    words.append("no forecast" if settings.aloft is None else settings.aloft.name)
    return ", ".join(words)
