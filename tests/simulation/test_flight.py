"""Whole flights: determinism, and what each profile promises."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from groundstation.physics.atmosphere import density, gravity_ms2, pressure
from groundstation.simulation.flight import Truth
from groundstation.simulation.forms.form import Form
from groundstation.simulation.forms.write import write
from groundstation.simulation.profiles import DESCRIPTIONS, Profile, settings_of
from groundstation.simulation.settings import SimulationSettings, TrackerModel
from groundstation.simulation.simulate import simulate

SEEDS = range(8)


@cache
def truth_of(profile: Profile, seed: int) -> Truth:
    """Several tests look at the same flight."""
    return simulate(settings_of(profile, seed)).truth


def test_same_seed_same_bytes_another_seed_others() -> None:
    for profile in (Profile.NORMAL, Profile.HARD):
        first, again = (simulate(settings_of(profile, 4)) for _ in range(2))
        other = simulate(settings_of(profile, 5))
        for form in Form:
            assert write(first, form) == write(again, form)
            assert write(first, form) != write(other, form)


def test_the_tracker_does_not_change_the_flight() -> None:
    one = simulate(SimulationSettings(seed=3))
    two = simulate(SimulationSettings(seed=3, tracker=TrackerModel(interval_s=300.0)))
    np.testing.assert_array_equal(one.truth.latitude_deg, two.truth.latitude_deg)
    np.testing.assert_array_equal(one.truth.altitude_m, two.truth.altitude_m)
    assert len(two.fixes) < len(one.fixes) / 5


def test_the_air_it_flies_in_is_in_hydrostatic_balance() -> None:
    """dp/dz = -rho g, the definition, through every layer that a balloon meets."""
    z = np.arange(50.0, 40_000.0, 250.0)
    slope = (pressure(z + 5.0) - pressure(z - 5.0)) / 10.0
    np.testing.assert_allclose(slope, -density(z) * gravity_ms2(z), rtol=2e-4)


@pytest.mark.parametrize("profile", [one for one in Profile if one is not Profile.SEASON])
def test_every_profile_flies_from_ground_to_ground(profile: Profile) -> None:
    assert profile in DESCRIPTIONS
    for seed in SEEDS:
        truth = truth_of(profile, seed)
        assert truth.launch_utc < truth.top_utc < truth.touchdown_utc
        assert np.all(np.diff(truth.time_utc) == 1.0)
        waiting = truth.time_utc <= truth.launch_utc
        rest = truth.time_utc >= truth.touchdown_utc
        assert np.all(truth.altitude_m[waiting] == 85.0)
        assert np.all(truth.altitude_m[rest] == truth.ground_m)
        assert np.ptp(truth.latitude_deg[rest]) < 1e-4
        assert truth.altitude_m.min() >= min(truth.ground_m, 85.0)
        speed = np.abs(np.diff(truth.altitude_m))
        assert speed.max() < 160.0


def _minutes(profile: Profile) -> tuple[list[float], list[float]]:
    truths = [truth_of(profile, seed) for seed in SEEDS]
    up = [(t.top_utc - t.launch_utc) / 60.0 for t in truths]
    down = [(t.touchdown_utc - t.top_utc) / 60.0 for t in truths]
    return up, down


def test_normal_flights_last_as_real_ones_do() -> None:
    """Recorded flights: 80 to 120 minutes up, 20 to 60 down, burst at 20 to 39 km."""
    up, down = _minutes(Profile.NORMAL)
    assert 70.0 < np.median(up) < 120.0
    assert 12.0 < min(down) < max(down) < 75.0


def test_fouled_falls_fast_and_slow_slowly() -> None:
    for seed in SEEDS:
        normal, fouled, slow = (
            truth_of(p, seed) for p in (Profile.NORMAL, Profile.FOULED, Profile.SLOW)
        )
        np.testing.assert_array_equal(normal.altitude_m[:3_000], fouled.altitude_m[:3_000])
        assert fouled.touchdown_utc < normal.touchdown_utc < slow.touchdown_utc
        assert slow.touchdown_utc - slow.top_utc > 3_600.0


def test_float_holds_its_height_and_then_bursts() -> None:
    truth = simulate(replace(settings_of(Profile.FLOAT, 6), float_s=1_500.0)).truth
    assert truth.float_utc is not None
    begin, end = truth.float_utc
    assert end - begin == pytest.approx(1_500.0, abs=2.0)
    afloat = truth.altitude_m[(truth.time_utc >= begin) & (truth.time_utc <= end)]
    assert np.ptp(afloat) < 400.0
    assert end == truth.top_utc


def test_no_burst_floats_long_and_sinks_slowly() -> None:
    for seed in SEEDS:
        truth = truth_of(Profile.NO_BURST, seed)
        assert truth.float_utc is not None
        assert truth.float_utc[1] - truth.float_utc[0] >= 2_990.0
        assert np.min(np.diff(truth.altitude_m)) > -8.0


def test_leak_turns_back_early() -> None:
    for seed in SEEDS:
        normal = truth_of(Profile.NORMAL, seed)
        leak = truth_of(Profile.LEAK, seed)
        assert leak.top_m < normal.top_m - 4_000.0
        assert np.min(np.diff(leak.altitude_m)) > -8.0


def test_hard_has_all_that_it_promises() -> None:
    flight = simulate(settings_of(Profile.HARD, 48))
    truth = flight.truth
    assert truth.float_utc is not None
    assert truth.float_utc[1] - truth.float_utc[0] == pytest.approx(1_500.0, abs=2.0)
    assert len(flight.fixes) < 0.75 * flight.fixes[-1].number
    assert sum(s.wrong for s in flight.fixes) >= 3
    first: dict[int, float] = {}
    for copy in flight.heard:
        first.setdefault(copy.sent.number, copy.received_utc)
    order = sorted(first, key=lambda number: first[number])
    assert sum(b < a for a, b in pairwise(order)) >= 5
    gaps = np.diff([s.time_utc for s in flight.fixes])
    assert np.max(gaps) > 1_500.0


def test_what_is_asked_for_is_flown() -> None:
    asked = SimulationSettings(
        seed=2, burst_altitude_m=25_000.0, ascent_rate_ms=6.0, descent_rate_ms=5.0
    )
    truth = simulate(asked).truth
    assert truth.top_m == 25_000.0
    assert truth.descent_rate_ms == 5.0
    # own drift and wander of the ascent rate: some per cent
    assert (truth.top_utc - truth.launch_utc) == pytest.approx(24_915.0 / 6.0, rel=0.12)
