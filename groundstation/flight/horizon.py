"""Where base will lose the signal: line of sight over the curved earth and the terrain.

Radio bends with the air about as if the earth's radius were 4/3 of what it is (ITU-R P.310:
effective earth radius, k = 4/3 in a standard atmosphere). Trees, houses and the tracker's own power
are left out, so this is the best that can be expected.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from groundstation.flight.settings import FlightSettings, TrackerKind
from groundstation.physics.geodesy import EFFECTIVE_RADIUS_M, distance_m
from groundstation.physics.layers import fall_path_m, speed_ratio
from groundstation.records import Landing

ANTENNA_M: Final = 2.0
"""Least height of the antenna above base; its altitude is often that of the ground. Own choice."""

SAMPLES: Final = 120  # own choice: a kilometre or two apart on a path to the horizon
MATTERS_M: Final = 20.0  # own choice: less is within the errors of terrain and mast


@dataclass(frozen=True, slots=True)
class Loss:
    """Base loses sight of the payload at this height, at about this time."""

    altitude_m: float
    agl_m: float
    time_utc: float


def hidden_below_m(
    settings: FlightSettings, latitude_deg: float, longitude_deg: float, ground_m: float
) -> float | None:
    """The height above mean sea level down to which base sees a payload above a place.

    None without a base. ``ground_m`` stands for all ground whose height is not known.
    """
    base = settings.base
    if base is None:
        return None
    away = distance_m(base.latitude_deg, base.longitude_deg, latitude_deg, longitude_deg)
    antenna = base.altitude_m + ANTENNA_M
    if away < 1.0:
        return ground_m
    share = np.arange(1, SAMPLES) / SAMPLES
    lat = base.latitude_deg + share * (latitude_deg - base.latitude_deg)
    lon = base.longitude_deg + share * (longitude_deg - base.longitude_deg)
    height = np.full(len(share), min(ground_m, base.altitude_m))
    if settings.terrain is not None:
        known = settings.terrain.heights_m(lat, lon)
        height = np.where(np.isfinite(known), known, height)
    # Heights above the level plane at base; a ray is straight there.
    drop = (share * away) ** 2 / (2.0 * EFFECTIVE_RADIUS_M)
    needed = antenna + (height - drop - antenna) / share
    return max(float(needed.max()) + away**2 / (2.0 * EFFECTIVE_RADIUS_M), ground_m)


def signal_loss(settings: FlightSettings, landing: Landing) -> Loss | None:
    """Where and when on the way to ``landing`` that will be; None where base sees the ground, and
    where nothing is sent by radio."""
    if not any(tracker.kind is TrackerKind.RADIO for tracker in settings.trackers):
        return None
    hidden = hidden_below_m(settings, landing.latitude_deg, landing.longitude_deg, landing.ground_m)
    if hidden is None or hidden < landing.ground_m + MATTERS_M:
        return None
    path = float(fall_path_m(hidden) - fall_path_m(landing.ground_m))
    rate = landing.descent_rate_ms / float(speed_ratio(landing.ground_m))
    return Loss(hidden, hidden - landing.ground_m, landing.eta_utc - path / rate)
