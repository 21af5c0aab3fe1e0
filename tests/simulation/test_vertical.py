"""Height against time: the fall against the density integral, the climb, the float."""

import numpy as np
import pytest
from ambiance import Atmosphere

from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.settings import FlightStatistics
from groundstation.simulation.vertical import climb, descend, draw_descent_rate, hover, sink

STEADY = FlightStatistics(
    ascent_trend=0.0,
    ascent_trend_sd=0.0,
    ascent_wander=0.0,
    descent_slope=(0.0, 0.0),
    descent_trend=0.0,
    descent_wander=(),
    opening=(0.0, 0.0),
    thermals_ms=0.0,
)

# I(z) = int_0^z sqrt(rho/rho0) dz, from the densities of the US Standard Atmosphere 1976; the time
# is I / v0 (quasi-steady terminal speed, Knacke, NWC TP 6575, chapter 5).
FALL_PATH_M = [
    (1_000, 976.2),
    (5_000, 4425.6),
    (10_000, 7804.0),
    (20_000, 11890.2),
    (30_000, 13749.2),
]


@pytest.mark.parametrize(("top_m", "path_m"), FALL_PATH_M)
@pytest.mark.parametrize("rate_ms", [4.0, 8.0])
def test_fall_time_is_the_density_integral(top_m: float, path_m: float, rate_ms: float) -> None:
    curve = descend(stream(1, Stream.DESCENT), STEADY, top_m=top_m, ground_m=0.0, rate_ms=rate_ms)
    # From rest it needs V/g ln 2 longer (drag with the square of speed, any mechanics textbook).
    terminal = rate_ms * np.sqrt(1.225 / Atmosphere(float(top_m)).density[0])
    expected = path_m / rate_ms + terminal / 9.8 * np.log(2.0)
    assert curve.duration_s == pytest.approx(expected, rel=0.002, abs=0.1)


@pytest.mark.parametrize(
    # Knacke, NWC TP 6575 ch. 5: v = v0 sqrt(rho0/rho); for v0 = 5 m/s
    ("z", "speed_ms"),
    [(1_000, 5.25), (5_000, 6.45), (10_000, 8.61), (15_000, 12.54), (20_000, 18.56)],
)
def test_terminal_speed_on_the_way(z: float, speed_ms: float) -> None:
    curve = descend(stream(1, Stream.DESCENT), STEADY, top_m=30_000.0, ground_m=0.0, rate_ms=5.0)
    around = np.interp([-(z + 50.0), -(z - 50.0)], -curve.altitude_m, curve.time_s)
    assert 100.0 / (around[1] - around[0]) == pytest.approx(speed_ms, rel=0.012)


def test_the_fall_begins_from_rest() -> None:
    curve = descend(stream(1, Stream.DESCENT), STEADY, top_m=30_000.0, ground_m=0.0, rate_ms=5.0)
    first_s = float(np.interp(-29_990.0, -curve.altitude_m, curve.time_s))
    # Free fall over the first 10 m: sqrt(2 s / g) = 1.43 s, drag adds little
    assert first_s == pytest.approx(1.43, abs=0.05)


def test_opening_slows_the_first_kilometre() -> None:
    slow = FlightStatistics(descent_wander=(), descent_slope=(0, 0), descent_trend=0, thermals_ms=0)
    plain = descend(stream(3, Stream.DESCENT), STEADY, top_m=31_000.0, ground_m=0.0, rate_ms=6.0)
    opened = descend(stream(3, Stream.DESCENT), slow, top_m=31_000.0, ground_m=0.0, rate_ms=6.0)
    at = [float(np.interp(-30_500.0, -c.altitude_m, c.time_s)) for c in (plain, opened)]
    assert 1.02 < at[1] / at[0] < 1.6


def test_fast_descents_slow_down_less() -> None:
    """ln k aloft against the ground; recorded flights: slope -0.15 a unit of ln(rho0/rho)."""
    trends = FlightStatistics(
        descent_wander=(),
        descent_trend=0.0,
        descent_slope=(0.13, 0.0),
        opening=(0.0, 0.0),
        thermals_ms=0.0,
    )
    ratios = []
    for rate in (4.0, 7.0, 13.0):
        curve = descend(stream(1, Stream.DESCENT), trends, top_m=32e3, ground_m=0.0, rate_ms=rate)
        t = np.interp([-25_050.0, -24_950.0, -1_050.0, -950.0], -curve.altitude_m, curve.time_s)
        aloft, low = 100.0 / (t[1] - t[0]), 100.0 / (t[3] - t[2])
        thin = Atmosphere(1_000.0).density[0] / Atmosphere(25_000.0).density[0]
        ratios.append(float(np.log(aloft / low / np.sqrt(thin))))
    assert ratios[0] > 0.1
    assert abs(ratios[1]) < 0.02
    assert ratios[2] < -0.1


def test_fall_rates_come_in_three_kinds() -> None:
    rng = stream(5, Stream.PLAN)
    drawn = np.array([draw_descent_rate(rng, FlightStatistics()) for _ in range(4_000)])
    # The weights and medians that the statistics state; 4000 draws, so +-0.02 is 2.6 sd or more
    assert np.mean(drawn < 5.6) == pytest.approx(0.33 + 0.52 * 0.04, abs=0.025)
    assert np.mean(drawn > 10.0) == pytest.approx(0.15 * 0.94 + 0.52 * 0.018, abs=0.02)
    assert np.std(np.log(drawn)) == pytest.approx(0.36, abs=0.03)


def test_climb_takes_height_over_rate() -> None:
    curve = climb(stream(1, Stream.ASCENT), STEADY, rate_ms=5.0, ground_m=85.0, top_m=30_085.0)
    assert curve.duration_s == pytest.approx(6_000.0, abs=1.0)
    assert curve.altitude_m[0] == 85.0
    assert curve.altitude_m[-1] == 30_085.0


def test_a_climb_with_its_own_drift_never_turns_back() -> None:
    for seed in range(30):
        curve = climb(
            stream(seed, Stream.ASCENT),
            FlightStatistics(),
            rate_ms=5.0,
            ground_m=85.0,
            top_m=30_000.0,
            levelling_m=12_000.0,
        )
        assert np.all(np.diff(curve.time_s) > 0.0)
        assert np.all(np.diff(curve.altitude_m) > 0.0)


def test_a_float_stays_within_a_few_hundred_metres() -> None:
    curve = hover(stream(2, Stream.ASCENT), altitude_m=28_000.0, duration_s=3_000.0)
    assert curve.duration_s == pytest.approx(3_000.0, abs=1.0)
    assert curve.altitude_m[0] == 28_000.0
    assert np.max(np.abs(curve.altitude_m - 28_000.0)) < 250.0


def test_a_leaking_balloon_sinks_slowly() -> None:
    curve = sink(stream(2, Stream.DESCENT), top_m=20_000.0, ground_m=85.0, rate_ms=2.5)
    pace = -np.diff(curve.altitude_m) / np.diff(curve.time_s)
    assert pace.min() > 1.2
    assert pace.max() < 6.0
