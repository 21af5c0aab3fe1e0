"""The landing of a flight of which only places are known: an ensemble of whole flights.

Each member is a flight from launch to touchdown. All that is known of the flight is a factor of
how likely a member is: the plan, the places seen and when, the forecast, messages that did not
come. What a member has not flown yet it flies on, through winds drawn given the places.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import missed_messages
from groundstation.flight.flown import ground_given_m
from groundstation.flight.ground import terrain_m
from groundstation.flight.priors import UNKNOWNS, Beginning, Prior
from groundstation.flight.settings import FlightSettings
from groundstation.flight.sightings import (
    AnySighting,
    launch_seen,
    log_likelihood_of_places,
    log_likelihood_of_times,
    speaks_of_place,
)
from groundstation.flight.silence import interval_s, tracker_settings
from groundstation.flight.state import FlightState
from groundstation.flight.track import Point
from groundstation.flight.windbelief import belief
from groundstation.physics.courses import Courses, layer_of
from groundstation.physics.drifts import Drifts, Places, Winds, onward
from groundstation.physics.geodesy import Plane
from groundstation.physics.tempering import spread_normals, tempered
from groundstation.records import Landing, PhaseChances, Progress

Array = NDArray[np.float64]

MEMBERS: Final = 600  # own choice: a share of 10 % is then known to 1 %
SEED: Final = 20_260_313  # any number; it is fixed so that nothing jitters
MOST_PLACES: Final = 16  # own choice: more cost time and add little
APART_S: Final = 240.0  # own choice: nearer in time, places say the same
SURELY: Final = 0.99  # own choice: then the clock alone says nothing new
LEAST_S: Final = 120.0  # own choice: what is newer by less says little more
LONGEST_S: Final = 12 * 3_600.0  # own choice: nothing of latex flies as long
LANDING_NOISE_M: Final = 100.0  # own choice: what no wind explains near the ground
WINDS_EACH: Final = 5  # own choice: a bearing keeps about a fifth of the members
FAR_S: Final = 30 * 86_400.0  # a moment after which all lie
TERRAIN_ROUNDS: Final = 2  # own choice: the ground under a point that hardly moves is known


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that is known of a flight without heights. Times are seconds after ``zero_utc``."""

    plane: Plane
    zero_utc: float
    places: Places
    due: missed_messages.Due
    ceiling_m: float | None
    begin: Beginning
    now_s: float
    sightings: tuple[AnySighting, ...] = ()

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


def only_places(state: FlightState) -> bool:
    """Whether the fixes of this flight have no heights."""
    return state.highest is None or state.highest.altitude_m is None


def estimate_due(settings: FlightSettings, state: FlightState, made: Landing) -> bool:
    """Whether there is a newer place, or enough time went by without one to say something new."""
    last, progress = state.last, made.progress
    if last is None or progress is None:
        return last is not None
    if last.time_utc - made.evidence_utc >= LEAST_S:
        return True
    if progress.chance.landed >= SURELY or state.now_utc - last.received_utc > LONGEST_S:
        return False
    every = max(interval_s(settings, state.hearing, last.tracker) / 2.0, LEAST_S)
    return state.now_utc - made.time_utc >= every


def evidence(settings: FlightSettings, state: FlightState) -> Evidence | None:
    """What the flight's places say; None before the launch."""
    last, launch = state.last, state.launch
    if last is None or launch is None:
        return None
    begun = Point(launch.time_utc, launch.latitude_deg, launch.longitude_deg, None)
    after = [p for p in state.track.points if launch.time_utc < p.time_utc <= last.time_utc]
    word = launch_seen(state.sightings)
    if not after and word is None:
        return None
    points = [begun, *after]
    kept = _thinned(points)
    zero = begun.time_utc
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = plane.to_xy(
        np.array([p.latitude_deg for p in kept]), np.array([p.longitude_deg for p in kept])
    )
    times = np.array([p.time_utc for p in kept]) - zero
    tracker = tracker_settings(settings, last.tracker)
    every = max(interval_s(settings, state.hearing, last.tracker), 60.0)
    heard = np.array([p.time_utc for p in points]) - zero
    now = state.now_utc - last.received_utc + last.time_utc - zero
    late = heard[1] if after else max(now, every)
    ground = ground_given_m(settings)
    return Evidence(
        plane,
        zero,
        Places(times, x, y),
        missed_messages.Due.of(heard, every, now),
        tracker.ceiling_m,
        Beginning(early_s=0.0, late_s=float(late), from_m=ground, ground_m=ground),
        now,
        state.sightings,
    )


def fly(settings: FlightSettings, seen: Evidence) -> Ensemble:
    """Draw whole flights that fit what was seen, and land them."""
    rng = np.random.default_rng(SEED)
    prior = Prior.of(settings.plan, seen.begin)
    winds = belief(settings.aloft)

    def likely(normals: Array) -> Array:
        courses = prior.courses(normals)
        drift = Drifts.of(courses, seen.places, winds).log_likelihood
        fits = drift + missed_messages.log_likelihood(courses, seen.due, seen.ceiling_m)
        return np.asarray(fits + log_likelihood_of_times(seen.sightings, Times(courses, seen)))

    members = tempered(spread_normals(MEMBERS, UNKNOWNS, rng), likely, rng)
    if any(speaks_of_place(one) for one in seen.sightings):
        # Where each is hangs on the winds too: several draws of those for each, then the best.
        members = np.repeat(members, WINDS_EACH, axis=0)
    courses = prior.courses(members)
    drifts = Drifts.of(courses, seen.places, winds)
    up, down = onward(drifts, seen.places, winds, rng)
    if len(members) > MEMBERS:
        placed = PlacedCourses(courses, seen, up, down)
        fits = log_likelihood_of_places(seen.sightings, placed)
        best = dealt(np.exp(fits - fits.max()), MEMBERS)
        members, courses, up, down = members[best], courses.picked(best), up[best], down[best]
    ground = seen.begin.ground_m + settings.ground_sd_m * rng.standard_normal(MEMBERS)
    noise = LANDING_NOISE_M * rng.standard_normal((2, MEMBERS))
    rounds = 1 if settings.terrain is None else TERRAIN_ROUNDS
    x, y = _landed(courses, seen, up, down)
    for _ in range(rounds):
        if settings.terrain is not None:
            ground = terrain_m(settings.terrain, seen.plane, x, y, seen.begin.ground_m)
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
    )


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


def _thinned(points: list[Point]) -> list[Point]:
    """The first, and of the others the newest, apart by as much as keeps them few."""
    span = points[-1].time_utc - points[0].time_utc
    apart = max(APART_S, span / MOST_PLACES)
    kept = [points[-1]]
    if len(points) < 2:
        return kept
    for point in reversed(points[1:-1]):
        if kept[-1].time_utc - point.time_utc >= apart and point.time_utc > points[0].time_utc:
            kept.append(point)
    return [points[0], *kept[::-1]]


def progress(flights: Ensemble) -> Progress:
    """How far the flight is: the shares of the members in each phase, and their heights."""
    courses, now, zero_utc = flights.courses, flights.now_s, flights.zero_utc
    down = now >= courses.touchdown_s
    falls = (now >= courses.fall_s) & ~down
    floats = (now >= courses.burst_s) & ~falls & ~down
    low, middle, high = np.quantile(courses.height_m(np.array([now]))[:, 0], (0.05, 0.5, 0.95))
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


def basis(settings: FlightSettings) -> str:
    """What it rests on, in words."""
    words = ["heights by the clock and the drift"]
    words.append("burst and descent as planned" if settings.plan.made else "no plan")
    words.append("no forecast" if settings.aloft is None else settings.aloft.name)
    return ", ".join(words)
