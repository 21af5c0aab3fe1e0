"""What a simulated flight can be told: where, how it flies, how it is heard.

The scenario is invented: club, names and callsigns belong to nobody (no ITU prefix starts with Q).
The distributions are this simulator's own and on purpose not those the landing estimate assumes;
they lie within what 27 recorded flights showed (the project's study of real flights).
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

LAUNCH_UTC: Final = 1_778_920_200.0
"""2026-05-16T08:30:00Z, the launch of the invented scenario."""


class Manner(StrEnum):
    """How the flight goes."""

    NORMAL = "normal"
    FLOAT = "float"
    FOULED = "fouled"
    SLOW = "slow"
    LEAK = "leak"
    NO_BURST = "no-burst"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A place and its ground height; the default is the base of the invented club."""

    latitude_deg: float = 47.10
    longitude_deg: float = 20.30
    ground_m: float = 85.0


HOME: Final = Site(latitude_deg=47.1800, longitude_deg=20.1900, ground_m=88.0)
"""Where the invented club keeps its things, chosen freely."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Receiver:
    """A station on the ground that hears the tracker. ``via`` is the relay in the path, if any.

    ``antenna_m`` is the height of its antenna above smooth ground.
    """

    callsign: str
    latitude_deg: float
    longitude_deg: float
    antenna_m: float = 8.0
    via: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackerModel:
    """One transmitter, its faults, and the way to the receivers.

    Shares are probabilities for each transmission. ``jitter_s`` is the standard deviation of the
    moment of sending. ``outage_share`` of the time each receiver is deaf, ``outage_s`` at a
    stretch. ``late_share`` is that of a fix held back on all ways, and again of one copy on its
    way. ``noise_m`` and ``noise_up_m`` are standard deviations of the receiver's position error.
    Above ``ceiling_m`` it has no fix. Below ``silent_below_agl_m`` in the descent, and on the
    ground, it is not heard until ``found_after_s`` after touchdown, when a chase vehicle is near;
    with None it is heard from the ground as from elsewhere, unless it lies ``face_down``. What it
    sends ``by_satellite`` comes from anywhere, once, by its service. ``heights`` says whether it
    sends them.
    """

    callsign: str = "Q0HAB-11"
    interval_s: float = 30.0
    jitter_s: float = 0.7
    lost_share: float = 0.03
    outage_share: float = 0.03
    outage_s: float = 120.0
    late_share: float = 0.004
    late_s: float = 90.0
    wrong_share: float = 0.0
    noise_m: float = 4.0
    noise_up_m: float = 6.5
    ceiling_m: float | None = None
    silent_below_agl_m: float = 0.0
    found_after_s: float | None = None
    face_down: bool = False
    by_satellite: bool = False
    heights: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class WindStatistics:
    """How the wind of a day is drawn. Speeds in m/s, heights and lengths in m.

    ``change_ms`` is the median standard deviation, per component, of what changes between ascent
    and descent at the same height; ``change_spread`` is the sd of its logarithm from flight to
    flight (recorded flights: 1.4 to 5.7 m/s, sd of ln 0.25); ``change_length_m`` its range of
    e-folding heights. The change builds up with ``change_memory_s``. Jet, shear and surface
    values are common mid-latitude ones (no source).
    """

    surface_ms: float = 4.0
    jet_ms: float = 22.0
    jet_m: float = 10_800.0
    jet_spread: float = 0.4
    stratosphere_ms: float = 11.0
    layers_ms: float = 2.4
    layers_length_m: float = 1_600.0
    fine_ms: float = 0.7
    fine_length_m: float = 220.0
    change_ms: float = 2.6
    change_spread: float = 0.25
    change_length_m: tuple[float, float] = (400.0, 1_000.0)
    change_low_factor: float = 1.15
    change_memory_s: float = 1_500.0
    gust_ms: float = 0.9
    swing_ms: float = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightStatistics:
    """How balloon and parachute of a day are drawn.

    ``descent_modes`` are (weight, median sea-level rate in m/s, sd of ln): three kinds of gear,
    since recorded rates bunch around 4.3, 7.5 and 12.5 m/s. ``descent_slope`` (mean, sd) makes fast
    gear slow down less on the way than slow ones; ``descent_trend`` is a free trend, both per
    unit of ln(rho0/rho) as on recorded flights (slope 0.15). ``descent_wander`` are (sd of ln,
    length in m). ``opening`` is the range of how much slower, in ln, it falls right after burst,
    over ``opening_m``. ``thermals_ms`` is vertical air motion in the lowest two kilometres.
    """

    ascent_ms: float = 5.1
    ascent_spread_ms: float = 0.55
    ascent_trend: float = 0.03
    ascent_trend_sd: float = 0.08
    ascent_wander: float = 0.05
    ascent_wander_m: float = 1_800.0
    burst_m: float = 29_500.0
    burst_spread_m: float = 2_600.0
    descent_modes: tuple[tuple[float, float, float], ...] = (
        (0.33, 4.4, 0.10),
        (0.52, 7.3, 0.15),
        (0.15, 12.0, 0.12),
    )
    descent_slope: tuple[float, float] = (0.13, 0.04)
    descent_pivot_ms: float = 7.0
    descent_trend: float = 0.03
    descent_wander: tuple[tuple[float, float], ...] = ((0.06, 2_200.0), (0.05, 450.0))
    opening: tuple[float, float] = (0.05, 0.35)
    opening_m: tuple[float, float] = (400.0, 1_200.0)
    thermals_ms: float = 0.6
    ground_spread_m: float = 15.0


RECEIVERS: Final = (
    Receiver(callsign="Q0PSZ-1", latitude_deg=47.10, longitude_deg=20.30, antenna_m=9.0),
    Receiver(callsign="Q0PSZ-10", latitude_deg=47.31, longitude_deg=20.98, antenna_m=28.0),
    Receiver(
        callsign="Q0KUN-2", latitude_deg=46.78, longitude_deg=20.71, antenna_m=22.0, via="Q0TAR-3"
    ),
)
"""The invented club's base, a mast to the east, and a neighbour behind a relay."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationSettings:
    """One simulated flight. What is None is drawn.

    ``descent_rate_ms`` is the sea-level rate under the parachute, ``before_s`` and ``after_s``
    the time on the ground that belongs to the recording. With ``home`` it is switched on there,
    ``home_s`` before it is driven to the site, and is at the site for ``before_s``.
    """

    seed: int = 1
    manner: Manner = Manner.NORMAL
    start_utc: float = LAUNCH_UTC
    payload: str = "kanalas-1"
    site: Site = field(default_factory=Site)
    ascent_rate_ms: float | None = None
    burst_altitude_m: float | None = None
    descent_rate_ms: float | None = None
    float_s: float | None = None
    before_s: float = 600.0
    after_s: float = 1_200.0
    home: Site | None = None
    home_s: float = 900.0
    wind: WindStatistics = field(default_factory=WindStatistics)
    flight: FlightStatistics = field(default_factory=FlightStatistics)
    tracker: TrackerModel = field(default_factory=TrackerModel)
    receivers: tuple[Receiver, ...] = RECEIVERS
