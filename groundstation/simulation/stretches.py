"""The pieces a tracker's day is made of: at rest, indoors, on the road, on a tether, in the air.

Each piece tells where the tracker was in each second, and what really happened in it.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.simulation.flight import fly
from groundstation.simulation.randomness import wandering
from groundstation.simulation.settings import Manner, SimulationSettings, Site

Array = NDArray[np.float64]
Generator = np.random.Generator

NOISE_M: Final = 4.0  # see NOISE_UP_M
NOISE_UP_M: Final = 7.0
"""A receiver in the open (common practice, no source)."""
INDOORS_M: Final = 60.0  # see INDOORS_UP_M
INDOORS_UP_M: Final = 90.0
"""Behind walls, by what reflections reach it (common practice, no source)."""
STEEPEST_ROAD: Final = 0.10
"""A grade that mountain roads seldom exceed (common practice in road design, no source)."""


class Happening(StrEnum):
    """What really happened, as the alerts name it."""

    LAUNCHED = "launched"
    BURST = "burst"
    LANDED = "landed"
    CARRIED = "moved-after-landing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One value a second, shape (seconds,), in the order of time; ``happened`` are pairs of what
    and when. ``heard`` is False while the tracker is switched off or out of hearing."""

    time_utc: Array
    latitude_deg: Array
    longitude_deg: Array
    altitude_m: Array
    happened: tuple[tuple[Happening, float], ...] = ()
    heard: bool = True

    @property
    def end(self) -> tuple[float, Site]:
        """When and where the next piece goes on."""
        where = Site(
            latitude_deg=float(self.latitude_deg[-1]),
            longitude_deg=float(self.longitude_deg[-1]),
            ground_m=float(self.altitude_m[-1]),
        )
        return float(self.time_utc[-1]) + 1.0, where


def _stretch(rng: Generator, begin_utc: float, at: Site, x: Array, y: Array, z: Array) -> Stretch:
    plane = Plane(at.latitude_deg, at.longitude_deg)
    east, north = (wandering(rng, x.size, 1.0, 60.0, NOISE_M) for _ in range(2))
    lat, lon = plane.to_latlon(x + east, y + north)
    up = wandering(rng, x.size, 1.0, 60.0, NOISE_UP_M)
    return Stretch(
        time_utc=begin_utc + np.arange(x.size, dtype=np.float64),
        latitude_deg=lat,
        longitude_deg=lon,
        altitude_m=z + up,
    )


def rest(rng: Generator, begin_utc: float, at: Site, seconds: float) -> Stretch:
    """Lying still in the open."""
    still = np.zeros(int(seconds))
    return _stretch(rng, begin_utc, at, still, still, still + at.ground_m)


def silence(begin_utc: float, at: Site, seconds: float) -> Stretch:
    """Switched off, or nowhere to be heard."""
    still = np.zeros(int(seconds))
    return Stretch(
        time_utc=begin_utc + np.arange(still.size, dtype=np.float64),
        latitude_deg=still + at.latitude_deg,
        longitude_deg=still + at.longitude_deg,
        altitude_m=still + at.ground_m,
        heard=False,
    )


def indoors(rng: Generator, begin_utc: float, at: Site, seconds: float) -> Stretch:
    """On a table behind walls: places and heights wander far."""
    size = int(seconds)
    east, north = (wandering(rng, size, 1.0, 90.0, INDOORS_M) for _ in range(2))
    up = wandering(rng, size, 1.0, 90.0, INDOORS_UP_M)
    return _stretch(rng, begin_utc, at, east, north, at.ground_m + up)


def glitch(rng: Generator, begin_utc: float, at: Site, seconds: float, up_m: float) -> Stretch:
    """At rest, with some minutes in the middle in which all heights are ``up_m`` too high."""
    still = rest(rng, begin_utc, at, seconds)
    high = np.zeros(still.time_utc.size)
    middle = high.size // 2
    high[middle : middle + 180] = up_m
    return replace(still, altitude_m=still.altitude_m + high)


def drive(
    rng: Generator,
    begin_utc: float,
    at: Site,
    to: Site,
    *,
    speed_ms: float = 19.0,
    hills_m: float = 0.0,
) -> Stretch:
    """A road between two places, over hills that are ``hills_m`` high, no steeper than roads are;
    it bends, and stops now and then."""
    plane = Plane(at.latitude_deg, at.longitude_deg)
    end_x, end_y = (float(v) for v in plane.to_xy(np.array(to.latitude_deg), to.longitude_deg))
    direct_m = max(float(np.hypot(end_x, end_y)), 1.0)
    seconds = max(int(1.35 * direct_m / speed_ms), 300)
    pace = np.clip(1.0 + wandering(rng, seconds, 1.0, 40.0, 0.35), 0.0, 1.6)
    for stop in rng.uniform(0.0, seconds, max(seconds // 400, 1)).astype(int).tolist():
        pace[stop : stop + 45] = 0.0
    share = np.concatenate(([0.0], np.cumsum(pace)[:-1] / np.sum(pace)))
    aside = 0.06 * direct_m * np.sin(2.0 * np.pi * share) * float(rng.choice([-1.0, 1.0]))
    x = end_x * share - aside * end_y / direct_m
    y = end_y * share + aside * end_x / direct_m
    along = direct_m * share
    hill_length = max(hills_m / STEEPEST_ROAD * np.pi, 4_000.0)
    turns = max(round(direct_m / hill_length), 1)
    hills = 0.5 * hills_m * (1.0 - np.cos(2.0 * np.pi * turns * along / direct_m))
    z = at.ground_m + (to.ground_m - at.ground_m) * share + hills
    return _stretch(rng, begin_utc, at, x, y, z)


def train(rng: Generator, begin_utc: float, at: Site, seconds: float) -> Stretch:
    """A way by rail: fast, even, and level."""
    size = int(seconds)
    pace = 38.0 * np.clip(np.arange(size) / 120.0, 0.0, 1.0)
    along = np.cumsum(pace)
    turn = np.radians(60.0 + 10.0 * np.sin(np.arange(size) / 600.0))
    flat = np.full(size, at.ground_m)
    return _stretch(rng, begin_utc, at, along * np.sin(turn), along * np.cos(turn), flat)


def tether(rng: Generator, begin_utc: float, at: Site, seconds: float, up_m: float) -> Stretch:
    """Up on a line, held for a while, and wound in again."""
    size = int(seconds)
    t = np.arange(size)
    rate = 1.8
    z = np.minimum(np.minimum(rate * t, up_m), rate * (size - 1 - t))
    sway = wandering(rng, size, 1.0, 30.0, 0.15 * up_m)
    return _stretch(rng, begin_utc, at, sway, 0.4 * sway, at.ground_m + z)


def flight(
    rng: Generator,
    begin_utc: float,
    at: Site,
    *,
    seed: int,
    manner: Manner = Manner.NORMAL,
    wave_m: float = 0.0,
    wave_s: float = 900.0,
) -> Stretch:
    """A whole flight of ``simulation.flight`` from ``at``, and five minutes on the ground.

    While it floats a wave of ``wave_m`` to either side and of period ``wave_s`` is laid on it.
    """
    settings = SimulationSettings(
        seed=seed,
        manner=manner,
        start_utc=begin_utc + 120.0,
        site=at,
        before_s=120.0,
        after_s=300.0,
    )
    truth = fly(settings)
    z = truth.altitude_m.copy()
    if truth.float_utc is not None and wave_m:
        since, until = truth.float_utc
        inside = (truth.time_utc >= since) & (truth.time_utc < until)
        t = truth.time_utc[inside] - since
        edge = np.minimum(np.minimum(t, until - since - t) / 120.0, 1.0)
        z[inside] += wave_m * edge * np.sin(2.0 * np.pi * t / wave_s)
    size = z.size
    east, north = (wandering(rng, size, 1.0, 60.0, NOISE_M) for _ in range(2))
    plane = Plane(at.latitude_deg, at.longitude_deg)
    x, y = plane.to_xy(truth.latitude_deg, truth.longitude_deg)
    lat, lon = plane.to_latlon(x + east, y + north)
    return Stretch(
        time_utc=truth.time_utc,
        latitude_deg=lat,
        longitude_deg=lon,
        altitude_m=z + wandering(rng, size, 1.0, 60.0, NOISE_UP_M),
        happened=(
            (Happening.LAUNCHED, truth.launch_utc),
            (Happening.BURST, truth.top_utc),
            (Happening.LANDED, truth.touchdown_utc),
        ),
    )
