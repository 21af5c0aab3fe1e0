"""The invented wind: how it changes between ascent and descent, and what it looks like."""

import numpy as np
import pytest

from groundstation.simulation.flight import Truth, fly
from groundstation.simulation.randomness import Stream, stream, wandering
from groundstation.simulation.settings import SimulationSettings, WindStatistics
from groundstation.simulation.wind import STEP_M, WindColumn, draw_wind

COLUMNS = [draw_wind(stream(seed, Stream.WIND), WindStatistics(), 85.0) for seed in range(300)]


def test_wandering_has_the_sd_and_length_of_its_process() -> None:
    # Ornstein-Uhlenbeck: variance sd^2, correlation exp(-lag/length) (Gillespie 1996)
    x = wandering(stream(1, Stream.WIND), 400_000, 50.0, 1_000.0, 2.0)
    assert np.std(x) == pytest.approx(2.0, rel=0.03)
    lagged = np.corrcoef(x[:-20], x[20:])[0, 1]
    assert lagged == pytest.approx(np.exp(-1.0), abs=0.03)


def test_spread_of_the_change_from_flight_to_flight() -> None:
    """Recorded flights: sd of ln 0.25 (study of real flights); the median is above their 2.2 m/s,
    which is of means over a kilometre."""
    sd = np.array([column.change_sd_ms for column in COLUMNS])
    assert np.median(sd) == pytest.approx(2.6, abs=0.14)
    assert np.std(np.log(sd)) == pytest.approx(0.25, abs=0.03)


def _pooled(columns: list[WindColumn], low_m: float, high_m: float) -> float:
    rows = [
        np.concatenate((c.change_u_ms[inside], c.change_v_ms[inside])) / c.change_sd_ms
        for c in columns
        for inside in [(c.altitude_m >= low_m) & (c.altitude_m <= high_m)]
    ]
    return float(np.sqrt(np.mean(np.concatenate(rows) ** 2)))


def test_the_change_has_its_sd_aloft_and_more_below() -> None:
    assert _pooled(COLUMNS, 5_000.0, 30_000.0) == pytest.approx(1.0, abs=0.03)
    assert _pooled(COLUMNS, 85.0, 500.0) == pytest.approx(1.2, abs=0.08)


def test_vertical_correlation_of_the_change() -> None:
    """e-folding height drawn from 0.4 to 1 km: at 1 km lag the mean of exp(-1/L) is 0.23.

    Recorded flights have 0.2 to 0.45 there (study of real flights), and hardly any beyond 2 km.
    """
    lag = int(1_000 / STEP_M)
    pairs = [
        np.mean(c.change_u_ms[200:-lag] * c.change_u_ms[200 + lag :]) / c.change_sd_ms**2
        for c in COLUMNS
    ]
    assert np.mean(pairs) == pytest.approx(0.23, abs=0.04)


def test_the_change_builds_up_with_time() -> None:
    column = COLUMNS[0]
    u0, _ = column.at(10_000.0, 0.0)
    u1, _ = column.at(10_000.0, 1_500.0)
    u2, _ = column.at(10_000.0, 1e6)
    assert u0 == np.interp(10_000.0, column.altitude_m, column.u_ms)
    assert (u1 - u0) / (u2 - u0) == pytest.approx(np.sqrt(1.0 - np.exp(-1.0)))


def _layer_winds(truth: Truth, *, falling: bool) -> dict[int, tuple[float, float]]:
    """Mean wind over whole kilometres, from true positions only."""
    use = (truth.time_utc >= truth.top_utc) if falling else (truth.time_utc <= truth.top_utc)
    use &= (truth.time_utc >= truth.launch_utc) & (truth.time_utc <= truth.touchdown_utc)
    z, lat, lon = truth.altitude_m[use], truth.latitude_deg[use], truth.longitude_deg[use]
    found = {}
    for km in range(2, 24):
        inside = np.flatnonzero((z >= 1_000 * km) & (z < 1_000 * (km + 1)))
        first, last = inside[0], inside[-1]
        north = (lat[last] - lat[first]) * 111_200.0
        east = (lon[last] - lon[first]) * 111_200.0 * np.cos(np.radians(lat[first]))
        found[km] = (east / (last - first), north / (last - first))
    return found


def test_flown_change_between_ascent_and_descent() -> None:
    """Recorded flights: rms 2.2 m/s a component in 1 km layers, 1.4 to 2.7 over heights."""
    differences = []
    for seed in range(60):
        truth = fly(SimulationSettings(seed=seed, burst_altitude_m=30_000.0))
        up, down = (_layer_winds(truth, falling=f) for f in (False, True))
        differences += [np.subtract(up[km], down[km]) for km in up]
    rms = float(np.sqrt(np.mean(np.square(differences))))
    assert 1.5 < rms < 2.3


def test_the_jet_and_the_ground_are_plausible() -> None:
    speeds = np.array([np.hypot(c.u_ms, c.v_ms) for c in COLUMNS])
    z = COLUMNS[0].altitude_m
    at = {h: np.median(speeds[:, np.argmin(np.abs(z - h))]) for h in (100, 11_000, 20_000)}
    assert 1.0 < at[100] < 7.0
    assert 18.0 < at[11_000] < 35.0
    assert at[20_000] < at[11_000]
    assert np.max(speeds) < 110.0
