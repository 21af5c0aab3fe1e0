"""The truth of a simulated flight: where the payload was in each second."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.simulation.randomness import Stream, about, stream, wandering
from groundstation.simulation.settings import Manner, SimulationSettings, WindStatistics
from groundstation.simulation.vertical import Curve, climb, descend, draw_descent_rate, hover, sink
from groundstation.simulation.wind import WindColumn, draw_wind

Array = NDArray[np.float64]

LOWEST_BURST_M: Final = 8_000.0  # own choice: lower is a failed launch
HIGHEST_BURST_M: Final = 39_000.0  # own choice: latex seldom goes higher


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What really happened; arrays have one value a second, shape (seconds,).

    ``top_utc`` is when the descent began; ``float_utc`` begin and end of a float, or None.
    """

    time_utc: Array
    latitude_deg: Array
    longitude_deg: Array
    altitude_m: Array
    launch_utc: float
    top_utc: float
    top_m: float
    float_utc: tuple[float, float] | None
    touchdown_utc: float
    ground_m: float
    descent_rate_ms: float
    wind: WindColumn

    @property
    def landing(self) -> tuple[float, float]:
        """Latitude and longitude of the touchdown in degrees."""
        return float(self.latitude_deg[-1]), float(self.longitude_deg[-1])


def fly(settings: SimulationSettings) -> Truth:
    """Fly the balloon of ``settings``: same settings, same flight. Pure."""
    site = settings.site
    up, level, down, rate = _parts(settings)
    parts = [part for part in (up, level, down) if part is not None]
    begins = np.cumsum([0.0] + [part.duration_s for part in parts])
    flown_s = float(begins[-1])
    knots_s = np.concatenate([b + p.time_s for b, p in zip(begins[:-1], parts, strict=True)])
    knots_m = np.concatenate([p.altitude_m for p in parts])
    t = np.arange(-np.ceil(settings.before_s), np.ceil(flown_s + settings.after_s) + 1.0)
    z = np.interp(t, knots_s, knots_m)
    wind = draw_wind(stream(settings.seed, Stream.WIND), settings.wind, site.ground_m)
    since = np.maximum(t - np.interp(z, up.altitude_m, up.time_s), 0.0)
    airborne = (t >= 0.0) & (t < flown_s)
    u, v = _payload_speed(settings, wind, z, since, z - site.ground_m)
    plane = Plane(site.latitude_deg, site.longitude_deg)
    x = np.concatenate(([0.0], np.cumsum((u * airborne)[:-1])))
    y = np.concatenate(([0.0], np.cumsum((v * airborne)[:-1])))
    lat, lon = plane.to_latlon(x, y)
    begin = settings.start_utc
    fallen_s = float(begins[-2])
    return Truth(
        time_utc=begin + t,
        latitude_deg=lat,
        longitude_deg=lon,
        altitude_m=z,
        launch_utc=begin,
        top_utc=begin + fallen_s,
        top_m=float(np.max(knots_m)),
        float_utc=None if level is None else (begin + up.duration_s, begin + fallen_s),
        touchdown_utc=begin + flown_s,
        ground_m=float(down.altitude_m[-1]),
        descent_rate_ms=rate,
        wind=wind,
    )


def _parts(settings: SimulationSettings) -> tuple[Curve, Curve | None, Curve, float]:
    """Ascent, float if any, descent, and the sea-level rate of the descent."""
    numbers = settings.flight
    plan = stream(settings.seed, Stream.PLAN)
    rate = float(plan.normal(numbers.ascent_ms, numbers.ascent_spread_ms))
    burst = float(plan.normal(numbers.burst_m, numbers.burst_spread_m))
    descent_rate = draw_descent_rate(plan, numbers)
    ground = settings.site.ground_m + float(plan.normal(0.0, numbers.ground_spread_m))
    levelling, float_s, leaking = 0.0, 0.0, False
    match settings.manner:
        case Manner.FLOAT:
            levelling, float_s = 400.0, float(plan.uniform(900.0, 3_000.0))
            burst = burst - float(plan.uniform(500.0, 3_500.0))
        case Manner.FOULED:
            descent_rate = about(plan, 18.0, 0.15)
        case Manner.SLOW:
            descent_rate = about(plan, 2.4, 0.12)
        case Manner.LEAK:
            levelling, leaking = 12_000.0, True
            burst -= float(plan.uniform(5_000.0, 11_000.0))
            descent_rate = about(plan, 2.5, 0.2)
            rate = 0.8 * rate
        case Manner.NO_BURST:
            levelling, float_s, leaking = 900.0, float(plan.uniform(3_000.0, 6_000.0)), True
            burst += float(plan.uniform(2_500.0, 5_500.0))
            descent_rate = about(plan, 3.4, 0.15)
    rate = max(rate, 2.5) if settings.ascent_rate_ms is None else settings.ascent_rate_ms
    burst = burst if settings.burst_altitude_m is None else settings.burst_altitude_m
    burst = float(np.clip(burst, LOWEST_BURST_M, HIGHEST_BURST_M))
    descent_rate = descent_rate if settings.descent_rate_ms is None else settings.descent_rate_ms
    if levelling and settings.float_s is not None:
        float_s = settings.float_s
    rng = stream(settings.seed, Stream.ASCENT)
    up = climb(
        rng,
        numbers,
        rate_ms=rate,
        ground_m=settings.site.ground_m,
        top_m=burst,
        levelling_m=levelling,
    )
    level = hover(rng, altitude_m=burst, duration_s=float_s) if float_s > 0.0 else None
    top = burst if level is None else float(level.altitude_m[-1])
    rng = stream(settings.seed, Stream.DESCENT)
    if leaking:
        return up, level, sink(rng, top_m=top, ground_m=ground, rate_ms=descent_rate), descent_rate
    down = descend(rng, numbers, top_m=top, ground_m=ground, rate_ms=descent_rate)
    return up, level, down, descent_rate


def _payload_speed(
    settings: SimulationSettings, wind: WindColumn, z: Array, since_s: Array, agl: Array
) -> tuple[Array, Array]:
    """Wind, gusts and the swing below the line, in m/s. Shapes (seconds,)."""
    rng = stream(settings.seed, Stream.GUSTS)
    numbers: WindStatistics = settings.wind
    u, v = wind.at(z, since_s)
    rough = np.exp(-np.maximum(agl, 0.0) / 2_500.0) + 0.35
    u = u + rough * wandering(rng, z.size, 1.0, 12.0, numbers.gust_ms)
    v = v + rough * wandering(rng, z.size, 1.0, 12.0, numbers.gust_ms)
    period = float(rng.uniform(6.0, 10.0))
    turns = 2.0 * np.pi * np.cumsum(1.0 / period + wandering(rng, z.size, 1.0, 40.0, 0.004))
    reach = np.abs(wandering(rng, z.size, 1.0, 90.0, numbers.swing_ms))
    plane = float(rng.uniform(0.0, 2.0 * np.pi))
    u = u + reach * np.sin(turns) * np.sin(plane)
    v = v + reach * np.sin(turns) * np.cos(plane)
    return u, v
