"""Where a payload should be while nothing is heard of it."""

from dataclasses import dataclass

import numpy as np

from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.layers import EDGE_M, fall_path_m, speed_ratio
from groundstation.records import Fix, Landing, Phase

RECENT_S = 600.0  # own choice: a rate over ten minutes is steady
LEAST_S = 300.0  # own choice: over less, two fixes may be off by a tenth


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """A rough place: on the line from the last fix to the landing point, by time.

    Where the fixes have no heights ``altitude_m`` is what the estimate makes of it, if anything.
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None
    down: bool


def whereabouts(settings: FlightSettings, state: FlightState, now_utc: float) -> Whereabouts | None:
    """Where it should be at ``now_utc``, a time of the flight; None before the first fix.

    As long as no burst was seen, it is taken to climb on, until the latest landing that the
    estimate allows speaks against it.
    """
    last, landing = state.motion.last, state.landing
    if last is None:
        return None
    falling = state.motion.phase is Phase.DESCENT
    altitude = last.altitude_m
    if altitude is not None and state.motion.phase is Phase.ASCENT:
        altitude += _climb_ms(settings, state) * max(now_utc - last.time_utc, 0.0)
    if landing is None:
        return Whereabouts(last.latitude_deg, last.longitude_deg, altitude, down=False)
    if altitude is None and landing.progress is not None:
        altitude = landing.progress.height_m
    down_utc = landing.eta_utc if falling else landing.eta_90_utc[1]
    if altitude is not None and state.motion.phase is not Phase.FLOAT:
        altitude = min(altitude, _before_landing_m(landing, down_utc - now_utc))
    share = _share(last, landing, now_utc)
    return Whereabouts(
        last.latitude_deg + share * (landing.latitude_deg - last.latitude_deg),
        last.longitude_deg + share * (landing.longitude_deg - last.longitude_deg),
        altitude,
        down=state.motion.phase is not Phase.FLOAT and now_utc > down_utc,
    )


def _share(last: Fix, landing: Landing, now_utc: float) -> float:
    whole = max(landing.eta_utc - last.time_utc, 1.0)
    return min(max((now_utc - last.time_utc) / whole, 0.0), 1.0)


def _before_landing_m(landing: Landing, left_s: float) -> float:
    """The height from which it takes ``left_s`` to fall to the ground."""
    at_sea_level = landing.descent_rate_ms / float(speed_ratio(landing.ground_m))
    path = float(fall_path_m(landing.ground_m)) + at_sea_level * max(left_s, 0.0)
    return float(np.interp(path, fall_path_m(EDGE_M), EDGE_M))


def _climb_ms(settings: FlightSettings, state: FlightState) -> float:
    """The climb of the last minutes; the plan's just after the launch."""
    window, launch = state.motion.window, state.motion.launch
    if window and launch is not None:
        newest = window[-1]
        begin = max(newest.time_utc - RECENT_S, launch.time_utc)
        older = next((f for f in window if f.time_utc >= begin), newest)
        since = newest.time_utc - older.time_utc
        if since >= LEAST_S:
            gained = (newest.altitude_m or 0.0) - (older.altitude_m or 0.0)
            return max(gained / since, 0.0)
    return settings.plan.ascent_rate_ms
