"""Whether places alone show a flight, or something on the road: the odds of the two.

A flight is one of the whole flights that the plan lets expect, in the winds of the forecast or in
those that are usual. A car keeps to no wind: it begins as fast as it goes on, and stops.
"""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import steering
from groundstation.flight.priors import Beginning, Prior
from groundstation.flight.settings import FlightSettings
from groundstation.flight.track import Point
from groundstation.flight.track_arrays import ground_given_m
from groundstation.flight.windbelief import belief
from groundstation.physics.drifts import DEGREES, Drifts, Places, WindBelief
from groundstation.physics.geodesy import Plane, distance_m
from groundstation.physics.tempering import spread_normals

Array = NDArray[np.float64]

MEMBERS: Final = 400  # own choice: odds are then known to some tenths of their logarithm
SEED: Final = 20_261_127  # any number; it is fixed so that nothing jitters
MOST_LEGS: Final = 14  # own choice: by then it is known
LEG_S: Final = 480.0  # own choice: over less, a halt or a bend is much of how a car goes
# Own choices: how fast one gets on by road or rail, net over some minutes, per component: in a town
# or by bicycle, over land, on a motorway or a line; each with its share.
ROAD_MS: Final = ((4.0, 0.3), (10.0, 0.4), (18.0, 0.3))
# Own choices: from one leg to the next most roads go on as they did, with changes that grow with
# the speed, along and aside as parts of it: straight on, through bends and traffic, or with a
# halt in a part of the leg (how much is left of the way is the second figure). A third is a change
# of road, as between a town and what is around it.
ON: Final = (
    (0.25, 1.0, 0.15, 0.15),
    (0.30, 1.0, 0.35, 0.5),
    (0.05, 0.75, 0.15, 0.3),
    (0.05, 0.5, 0.15, 0.3),
    (0.05, 0.25, 0.15, 0.3),
)
LEAST_MS: Final = 0.5  # own choice: of each change
HALT: Final = 0.1  # own choice: of the time between two places a car often stands all
# Own choices: a drive that begins at the site of the launch when that is due is rare; a launch from
# elsewhere, or at quite another time, is rarer. Without winds a car may drive as the wind blows.
SITE_M: Final = 3_000.0
AT_SITE: Final = 4.0  # see SITE_M
ELSEWHERE: Final = -3.0  # see SITE_M
TIMELY_S: Final = 3.0 * 3_600.0  # own choice: launches are put off by hours
TIMELY: Final = 1.0  # see SITE_M
UNTIMELY: Final = -1.5  # see SITE_M
WINDS_UNKNOWN: Final = -2.0  # see SITE_M
UNPLANNED: Final = -3.5
"""Where nothing says that it is the day of a flight, one way in thirty is one (own choice: it
is driven to each flight and home, and carried about on other days)."""
MOST_EACH: Final = 1.5
"""Where winds are not known, no leg says more for a flight: between two of its ends a car may do
anything (own choice, as ``steering.MOST_EACH``)."""
HALT_M: Final = 150.0  # own choice: scatter of a tracker in a yard


class Odds(NamedTuple):
    """ln of the odds that it flies and does not drive: before it moved, and by how it moves."""

    before: float
    seen: float

    @property
    def both(self) -> float:
        return self.before + self.seen

    @property
    def chance(self) -> float:
        return 1.0 / (1.0 + math.exp(-self.both))


def odds_of_flight(settings: FlightSettings, points: Sequence[Point]) -> Odds | None:
    """The odds that what moves from the first of ``points`` on is a flight.

    None while the newest point is too near in time to the one before it to say anything new.
    """
    kept, turns = _legs(points), steering.log_odds(points)
    before = before_it_moved(settings, kept[0])
    if turns is not None:
        # The legs of a road say the same once more, but whether they fit the winds.
        winds = 0.0 if settings.aloft is None else log_odds(settings, kept)
        return Odds(before, turns + winds)
    if kept[-1] is not points[-1]:
        return None
    legs = log_odds(settings, kept)
    if settings.aloft is None:
        legs = min(legs, MOST_EACH * (len(kept) - 1))
    return Odds(before, legs)


def before_it_moved(settings: FlightSettings, start: Point) -> float:
    """ln of the odds of a flight from there and then, before it is seen how it moves."""
    site = settings.launch_site
    if not settings.flight_due:
        return UNPLANNED
    total = 0.0 if settings.aloft is not None else WINDS_UNKNOWN
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
    believed = belief(settings.aloft, places[0].time_utc, places[0].latitude_deg)
    return _flight(settings, Places(time_s, x, y), ground_m, believed) - _road(time_s, x, y)


def _flight(
    settings: FlightSettings, places: Places, ground_m: float, believed: WindBelief
) -> float:
    """ln of the density of the ways, over flights as they may be."""
    late = float(places.time_s[1])
    begin = Beginning(early_s=0.0, late_s=late, from_m=ground_m, ground_m=ground_m)
    prior = Prior.of(settings.plan, begin)
    normals = spread_normals(MEMBERS, prior.unknowns, np.random.default_rng(SEED))
    drifts = Drifts.of(prior.courses(normals), places, believed)
    size = 2.0 * (len(places.time_s) - 1)
    scale = math.lgamma((DEGREES + size) / 2.0) - math.lgamma(DEGREES / 2.0)
    scale -= size / 2.0 * math.log(DEGREES * math.pi)
    likely = drifts.log_likelihood
    most = float(likely.max())
    return scale + most + math.log(float(np.mean(np.exp(likely - most))))


def _road(time_s: Array, x_m: Array, y_m: Array) -> float:
    """ln of the density of the ways by road; the car sets off at some time of the first one."""
    dts, dxs, dys = (np.diff(of).tolist() for of in (time_s, x_m, y_m))
    total, before = 0.0, (0.0, 0.0)
    for n, (dt, dx, dy) in enumerate(zip(dts, dxs, dys, strict=True)):
        shares = (0.25, 0.5, 0.75, 1.0) if n == 0 else (1.0,)
        moves = sum(
            share / len(shares) * _normal(dx, dy, math.hypot(speed * moving * dt, HALT_M))
            for moving in shares
            for speed, share in ROAD_MS
        )
        speed = math.hypot(*before)
        if n > 1 and speed > LEAST_MS:  # of the first leg some was not driven yet
            along = (dx * before[0] + dy * before[1]) / dt / speed
            aside = (dy * before[0] - dx * before[1]) / dt / speed
            least = LEAST_MS + HALT_M / dt
            moves *= 1.0 - sum(share for share, *_ in ON)
            for share, left, part, bend in ON:
                sds = math.hypot(part * speed, least), math.hypot(bend * speed, least)
                fits = ((along - left * speed) / sds[0]) ** 2 + (aside / sds[1]) ** 2
                moves += share * math.exp(-fits / 2.0) / (2.0 * math.pi * sds[0] * sds[1] * dt**2)
        before = dx / dt, dy / dt
        total += math.log((1.0 - HALT) * moves + HALT * _normal(dx, dy, HALT_M) + 1e-300)
    return total


def _normal(dx: float, dy: float, sd: float) -> float:
    return math.exp(-(dx**2 + dy**2) / (2.0 * sd**2)) / (2.0 * math.pi * sd**2) + 1e-300
