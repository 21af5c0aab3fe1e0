"""The estimate of what has landed, and regions as the records hold them."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import progress
from groundstation.flight.phases import at_rest
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, Motion
from groundstation.flight.touchdown import Touchdown, touchdown
from groundstation.physics.fall import STEADY
from groundstation.physics.geodesy import Plane, distance_m
from groundstation.records import Fix, Landing, Region

Array = NDArray[np.float64]

RESTING_SD_M: Final = 12.0
"""Of a receiver under an open sky that lies still: 95 % of its places are within 20 to 30 m, more
than the 7.8 m that the signal itself allows, as it lies in grass and on its side. Common practice,
no source."""

FEW_SD_M: Final = 20.0
"""What one or two fixes may be off as well, each way. On seven recorded balloons that were heard
from the ground the first fix was 0 to 20 m from where they lay (root mean square 6.5 m each way, in
a notation of 18 m); three times that, since seven are few and none of them lay under trees."""

LEAST_POINTS: Final = 5
"""Fewer do not show a fall."""


def resting(settings: FlightSettings, state: FlightState, last: Fix) -> Landing:
    """Where it lies: the last fix, as sure as its receiver and the scatter of its fixes allow."""
    sd = math.hypot(RESTING_SD_M, last.uncertainty_m, _scatter_m(state.motion))
    sd = math.hypot(sd, _wandered_m(state.motion, last) / 2.0)
    plane = Plane(last.latitude_deg, last.longitude_deg)
    turn = np.linspace(0.0, 2.0 * np.pi, 25)
    # Radii of a round normal distribution: sqrt(-2 ln(1 - p)).
    radius_50, radius_90 = sd * 1.17741, sd * 2.14597
    rings = [
        region_of([np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1)], plane)
        for r in (radius_50, radius_90)
    ]
    made = state.landing
    rate = made.descent_rate_ms if made is not None else math.exp(STEADY.level)
    ground, sd_m = last.altitude_m, progress.HEIGHT_SD_M
    if ground is None:
        ground, sd_m = settings.ground_m, settings.ground_sd_m
        if ground is None and made is not None:
            ground = made.ground_m
    when = _came_down(state, last)
    return Landing(
        payload=state.payload,
        time_utc=state.now_utc,
        evidence_utc=last.time_utc,
        phase=state.motion.phase,
        latitude_deg=last.latitude_deg,
        longitude_deg=last.longitude_deg,
        ground_m=ground if ground is not None else 0.0,
        eta_utc=state.motion.since_utc if when is None else when.time_utc,
        eta_90_utc=(state.motion.since_utc, state.motion.since_utc)
        if when is None
        else when.span_utc,
        descent_rate_ms=rate,
        region_50=rings[0],
        region_90=rings[1],
        radius_50_m=radius_50,
        radius_90_m=radius_90,
        basis="at rest where it was last heard",
        progress=progress.resting(ground, sd_m),
    )


def _scatter_m(motion: Motion) -> float:
    """One standard deviation, each way, of the newest fixes that lie still. They wander together
    while satellites come and go, so their mean is no surer than one of them; and a few show less
    of it than many."""
    count, within_m = at_rest(motion)
    return math.hypot(within_m / 2.0, FEW_SD_M / max(count, 1))


def _wandered_m(motion: Motion, last: Fix) -> float:
    """How far its fixes have gone since it came to rest: carried, dragged, or wrong now or then, so
    half of that is what either place may be off."""
    rest = motion.rest
    if rest is None:
        return 0.0
    return distance_m(rest.latitude_deg, rest.longitude_deg, last.latitude_deg, last.longitude_deg)


def _came_down(state: FlightState, last: Fix) -> Touchdown | None:
    """When: heard from the ground it may long have lain there."""
    points = [point for point in state.motion.track.points if point.altitude_m is not None]
    if len(points) < LEAST_POINTS or last.altitude_m is None:
        return None
    time, height = np.array([(point.time_utc, point.altitude_m) for point in points], dtype=float).T
    top = int(height.argmax())
    return touchdown(time[top:], height[top:], last.altitude_m, RESTING_SD_M, lay=True)


def region_of(loops: list[Array], plane: Plane) -> Region:
    """Closed lines in metres of ``plane`` as rings of degrees."""
    rings = []
    for loop in loops:
        lat, lon = plane.to_latlon(loop[:, 0], loop[:, 1])
        ring = [(round(float(a), 6), round(float(b), 6)) for a, b in zip(lat, lon, strict=True)]
        rings.append((*ring[:-1], ring[0]))
    return tuple(rings)
