"""Whether places alone show a flight, or something on the road: the odds of the two.

A flight is one of the whole flights that the plan lets expect, in the winds of the forecast or in
those that are usual. A car keeps to no wind: it begins as fast as it goes on, and stops.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.priors import Beginning, Prior
from groundstation.flight.settings import FlightSettings
from groundstation.flight.track import Point
from groundstation.flight.track_arrays import ground_given_m
from groundstation.flight.windbelief import belief
from groundstation.physics.drifts import DEGREES, Drifts, Places
from groundstation.physics.geodesy import Plane, distance_m
from groundstation.physics.tempering import spread_normals

Array = NDArray[np.float64]

MEMBERS: Final = 400  # own choice: odds are then known to some tenths of their logarithm
SEED: Final = 20_261_127  # any number; it is fixed so that nothing jitters
MOST_LEGS: Final = 14  # own choice: by then it is known
LEG_S: Final = 480.0  # own choice: over less, a halt or a bend is much of how a car goes
# Own choices: how fast one gets on by road, net over some minutes, per component: in a town, over
# land, on a motorway; each with its share. And how often a leg is a halt.
ROAD_MS: Final = ((4.0, 0.2), (10.0, 0.5), (18.0, 0.3))
STEADY: Final = 0.7  # own choice: most roads go on as they did, in direction and speed
DRIVING_MS: Final = 7.0  # own choice: nobody drives slower than that on and on
STEADY_MS: Final = 4.0  # own choice: by how much they change, per component
HALT: Final = 0.15  # own choice: of the time between two places a car often stands
# Own choices: a drive that begins at the site of the launch when that is due is rare; a launch from
# elsewhere, or at quite another time, is rarer. Without winds a car may drive as the wind blows.
SITE_M: Final = 3_000.0
AT_SITE: Final = 4.0  # see SITE_M
ELSEWHERE: Final = -3.0  # see SITE_M
TIMELY_S: Final = 3.0 * 3_600.0  # own choice: launches are put off by hours
TIMELY: Final = 1.0  # see SITE_M
UNTIMELY: Final = -1.5  # see SITE_M
WINDS_UNKNOWN: Final = -2.0  # see SITE_M
HALT_M: Final = 150.0  # own choice: scatter of a tracker in a yard


def odds_of_flight(settings: FlightSettings, points: Sequence[Point]) -> float | None:
    """ln of the odds that what moves from the first of ``points`` on flies and does not drive.

    None while the newest point is too near in time to the one before it to say anything new.
    """
    kept = _legs(points)
    if kept[-1] is not points[-1]:
        return None
    return before_it_moved(settings, kept[0]) + log_odds(settings, kept)


def before_it_moved(settings: FlightSettings, start: Point) -> float:
    """ln of the odds of a flight from there and then, before it is seen how it moves."""
    total = 0.0 if settings.aloft is not None else WINDS_UNKNOWN
    site = settings.launch_site
    if site is not None:
        away = distance_m(
            site.latitude_deg, site.longitude_deg, start.latitude_deg, start.longitude_deg
        )
        total += AT_SITE if away < SITE_M else ELSEWHERE
    if settings.launch_utc is not None:
        off = abs(start.time_utc - settings.launch_utc)
        total += TIMELY if off < TIMELY_S else UNTIMELY
    return total


def _legs(points: Sequence[Point]) -> list[Point]:
    kept = [points[0]]
    for point in points[1:]:
        if point.time_utc - kept[-1].time_utc >= LEG_S and len(kept) <= MOST_LEGS:
            kept.append(point)
    return kept


def log_odds(settings: FlightSettings, places: Sequence[Point]) -> float:
    """ln of how much likelier the ways between ``places`` are for a flight that was launched at the
    first of them, after it was heard there, than for a car that set off."""
    if len(places) < 2:
        return 0.0
    time_s = np.array([p.time_utc for p in places]) - places[0].time_utc
    plane = Plane(places[0].latitude_deg, places[0].longitude_deg)
    x, y = plane.to_xy(
        np.array([p.latitude_deg for p in places]), np.array([p.longitude_deg for p in places])
    )
    ground_m = ground_given_m(settings)
    return _flight(settings, Places(time_s, x, y), ground_m) - _road(time_s, x, y)


def _flight(settings: FlightSettings, places: Places, ground_m: float) -> float:
    """ln of the density of the ways, over flights as they may be."""
    late = float(places.time_s[1])
    begin = Beginning(early_s=0.0, late_s=late, from_m=ground_m, ground_m=ground_m)
    prior = Prior.of(settings.plan, begin)
    normals = spread_normals(MEMBERS, prior.unknowns, np.random.default_rng(SEED))
    drifts = Drifts.of(prior.courses(normals), places, belief(settings.aloft))
    size = 2.0 * (len(places.time_s) - 1)
    scale = math.lgamma((DEGREES + size) / 2.0) - math.lgamma(DEGREES / 2.0)
    scale -= size / 2.0 * math.log(DEGREES * math.pi)
    likely = drifts.log_likelihood
    most = float(likely.max())
    return scale + most + math.log(float(np.mean(np.exp(likely - most))))


def _road(time_s: Array, x_m: Array, y_m: Array) -> float:
    """ln of the density of the ways by road; the car sets off at some time of the first one."""
    total, before = 0.0, (0.0, 0.0)
    for n, (dt, dx, dy) in enumerate(zip(np.diff(time_s), np.diff(x_m), np.diff(y_m), strict=True)):
        shares = (0.25, 0.5, 0.75, 1.0) if n == 0 else (1.0,)
        drives, on = 0.0, STEADY if math.hypot(*before) > DRIVING_MS else 0.0
        for moving in shares:
            for speed, share in ROAD_MS:
                sd = math.hypot(speed * moving * float(dt), HALT_M)
                drives += share / len(shares) * _normal(float(dx), float(dy), sd)
        goes_on = _normal(dx - before[0] * dt, dy - before[1] * dt, STEADY_MS * dt)
        moves = (1.0 - on) * drives + on * goes_on
        before = (dx / dt, dy / dt)
        total += math.log((1.0 - HALT) * moves + HALT * _normal(float(dx), float(dy), HALT_M))
    return total


def _normal(dx: float, dy: float, sd: float) -> float:
    return math.exp(-(dx**2 + dy**2) / (2.0 * sd**2)) / (2.0 * math.pi * sd**2) + 1e-300
