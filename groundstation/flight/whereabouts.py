"""Where a payload should be while nothing is heard of it."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from groundstation.flight.remaining import Remaining, draws_of
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, unplaced
from groundstation.flight.track_arrays import flown
from groundstation.physics.tempering import spread_normals
from groundstation.records import Fix, Landing, Phase

MEMBERS: Final = 300  # own choice: a share of 10 % is then known to 2 %
SEED: Final = 20_260_314  # any number; it is fixed so that nothing jitters
IN_THE_AIR: Final = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """A rough place: on the line from the last fix to the landing point, by time.

    ``altitude_m`` is the middle of the heights that it may have by then and ``altitude_90_m`` holds
    nine tenths of them; None where not even that is known. ``burst`` is the chance that it has.
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None
    down: bool
    altitude_90_m: tuple[float, float] | None = None
    burst: float | None = None


def whereabouts(settings: FlightSettings, state: FlightState, now_utc: float) -> Whereabouts | None:
    """Where it should be at ``now_utc``, a time of the flight; None before the first fix.

    Where fixes have heights, it goes on as the flights that the estimate rests on; else as the
    newest estimate says.
    """
    last, landing = state.motion.last, state.landing
    if last is None:
        return None
    falling = state.motion.phase is Phase.DESCENT
    height = _height(settings, state, last, now_utc)
    middle, span, burst = (None, None, None) if height is None else height
    if landing is None:
        return Whereabouts(
            last.latitude_deg, last.longitude_deg, middle, False, altitude_90_m=span, burst=burst
        )
    down_utc = landing.eta_utc if falling else landing.eta_90_utc[1]
    share = _share(last, landing, now_utc)
    return Whereabouts(
        last.latitude_deg + share * (landing.latitude_deg - last.latitude_deg),
        last.longitude_deg + share * (landing.longitude_deg - last.longitude_deg),
        middle,
        down=state.motion.phase is not Phase.FLOAT and now_utc > down_utc,
        altitude_90_m=span,
        burst=burst,
    )


def _height(
    settings: FlightSettings, state: FlightState, last: Fix, now_utc: float
) -> tuple[float, tuple[float, float], float] | None:
    """Height, the span that holds nine tenths, and the chance of a burst."""
    motion, landing = state.motion, state.landing
    track = flown(state)
    if (
        track is None
        or last.altitude_m is None
        or motion.phase not in IN_THE_AIR
        or unplaced(state)
    ):
        known = None if landing is None else landing.progress
        if known is None or known.height_m is None or known.height_90_m is None:
            return None
        return known.height_m, known.height_90_m, known.chance.burst
    launch = motion.launch
    ground = launch.altitude_m if launch is not None else None
    ground_m = settings.ground_m if settings.ground_m is not None else ground
    if landing is not None:
        ground_m = landing.ground_m
    floats = motion.phase is Phase.FLOAT
    rest = Remaining.of(
        settings,
        track,
        draws_of(settings),
        min(ground_m or 0.0, track.anchor_m - 1.0),
        climbs=motion.phase is Phase.ASCENT,
        floats=floats,
    )
    normals = spread_normals(MEMBERS, rest.unknowns, np.random.default_rng(SEED))
    courses = rest.courses(normals)
    since = np.array([max(now_utc - track.anchor_utc, 0.0)])
    low, middle, high = np.quantile(courses.height_m(since)[:, 0], (0.05, 0.5, 0.95))
    falls = float((courses.fall_s <= since[0]).mean())
    return float(middle), (float(low), float(high)), falls


def _share(last: Fix, landing: Landing, now_utc: float) -> float:
    whole = max(landing.eta_utc - last.time_utc, 1.0)
    return min(max((now_utc - last.time_utc) / whole, 0.0), 1.0)
