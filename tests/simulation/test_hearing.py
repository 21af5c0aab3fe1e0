"""What reaches the receivers: losses, late and false fixes, horizon, ceiling, silence."""

from dataclasses import replace

import numpy as np
import pytest

from groundstation.physics.geodesy import distance_m, horizon_m
from groundstation.simulation.settings import (
    Receiver,
    SimulationSettings,
    Site,
    TrackerModel,
)
from groundstation.simulation.simulate import SimulatedFlight, simulate

QUIET = TrackerModel(
    lost_share=0.0, outage_share=0.0, late_share=0.0, jitter_s=0.0, noise_m=0.01, noise_up_m=0.01
)
TOWER = (Receiver(callsign="Q0PSZ-1", latitude_deg=47.1, longitude_deg=20.3, antenna_m=3_000.0),)
"""Sees everything this side of 225 km."""


def heard(seed: int = 1, **changes: object) -> SimulatedFlight:
    tracker = replace(QUIET, **changes)  # type: ignore[arg-type]
    return simulate(SimulationSettings(seed=seed, tracker=tracker, receivers=TOWER))


def test_a_perfect_tracker_is_heard_each_interval() -> None:
    flight = heard(interval_s=20.0)
    times = np.array([s.time_utc for s in flight.fixes])
    assert np.all(np.diff(times) == 20.0)
    span = flight.truth.time_utc[-1] - flight.truth.time_utc[0]
    assert len(times) == pytest.approx(span / 20.0, abs=1.1)


def test_fixes_without_noise_are_the_truth() -> None:
    flight = heard()
    truth = flight.truth
    for sent in flight.fixes[::10]:
        at = int(sent.time_utc - truth.time_utc[0])
        lat, lon = truth.latitude_deg[at], truth.longitude_deg[at]
        assert distance_m(lat, lon, sent.latitude_deg, sent.longitude_deg) < 0.1
        assert sent.altitude_m == pytest.approx(truth.altitude_m[at], abs=0.1)


def test_noise_of_fixes_has_its_sd() -> None:
    flight = heard(noise_m=4.0, noise_up_m=6.5, interval_s=1.0)
    truth = flight.truth
    at = [int(s.time_utc - truth.time_utc[0]) for s in flight.fixes]
    up = np.array([s.altitude_m for s in flight.fixes]) - truth.altitude_m[at]
    north = (np.array([s.latitude_deg for s in flight.fixes]) - truth.latitude_deg[at]) * 111_200
    # about 70 independent stretches of two minutes: the sd is known to 9 %
    assert np.std(up) == pytest.approx(6.5, rel=0.25)
    assert np.std(north) == pytest.approx(4.0, rel=0.25)


def test_share_of_lost_packets() -> None:
    kept = len(heard(lost_share=0.2, interval_s=5.0).fixes) / len(heard(interval_s=5.0).fixes)
    assert kept == pytest.approx(0.8, abs=0.03)


def test_outages_come_in_bursts() -> None:
    whole = len(heard(interval_s=5.0).fixes)
    flights = [heard(seed, interval_s=5.0, outage_share=0.15, outage_s=200.0) for seed in range(8)]
    kept = np.mean([len(f.fixes) for f in flights]) / whole
    assert 0.7 < kept < 1.0
    gaps = np.concatenate([np.diff([s.time_utc for s in f.fixes]) for f in flights])
    assert np.sum(gaps > 100.0) > 15
    assert np.mean(gaps == 5.0) > 0.97


def test_late_packets_overtake_and_are_overtaken() -> None:
    flight = heard(late_share=0.1, late_s=200.0)
    received = [copy.received_utc for copy in flight.heard]
    numbers = [copy.sent.number for copy in flight.heard]
    assert received == sorted(received)
    assert numbers != sorted(numbers)
    assert max(c.received_utc - c.sent.time_utc for c in flight.heard) < 2 * 3.3 * 200.0 + 5.0
    assert min(c.received_utc - c.sent.time_utc for c in flight.heard) > 0.0


def test_false_fixes_are_false_and_few() -> None:
    flight = heard(wrong_share=0.05, interval_s=10.0)
    wrong = [s for s in flight.fixes if s.wrong]
    assert len(wrong) / len(flight.fixes) == pytest.approx(0.05, abs=0.02)
    truth = flight.truth
    for sent in wrong:
        at = int(sent.time_utc - truth.time_utc[0])
        aside = distance_m(
            truth.latitude_deg[at],
            truth.longitude_deg[at],
            sent.latitude_deg,
            sent.longitude_deg,
        )
        assert aside > 500.0 or abs(sent.altitude_m - truth.altitude_m[at]) > 20.0


def test_nothing_is_heard_from_below_the_horizon() -> None:
    """ITU-R P.310 and P.834: d[km] = 4.12 (sqrt h1 + sqrt h2) over a 4/3 earth."""
    receiver = Receiver(callsign="Q0PSZ-1", latitude_deg=47.1, longitude_deg=20.3, antenna_m=9.0)
    flight = simulate(SimulationSettings(seed=1, tracker=QUIET, receivers=(receiver,)))
    for sent in flight.fixes:
        away = distance_m(47.1, 20.3, sent.latitude_deg, sent.longitude_deg)
        assert away <= horizon_m(sent.altitude_m - flight.truth.ground_m + 5.0, 9.0)
    last = flight.fixes[-1]
    assert last.time_utc < flight.truth.touchdown_utc
    assert 300.0 < last.altitude_m < 1_500.0


def test_a_ceiling_hides_what_is_above() -> None:
    flight = heard(ceiling_m=12_000.0)
    assert max(s.altitude_m for s in flight.fixes) < 12_001.0
    gaps = np.diff([s.time_utc for s in flight.fixes])
    assert np.max(gaps) > 3_600.0


def test_silence_before_landing_until_someone_is_near() -> None:
    flight = heard(silent_below_agl_m=1_400.0, found_after_s=900.0)
    truth = flight.truth
    falling = [s for s in flight.fixes if truth.top_utc < s.time_utc < truth.touchdown_utc]
    assert falling[-1].altitude_m - truth.ground_m == pytest.approx(1_500.0, abs=250.0)
    found = [s for s in flight.fixes if s.time_utc > truth.touchdown_utc]
    assert found[0].time_utc - truth.touchdown_utc == pytest.approx(915.0, abs=16.0)
    assert {c.receiver for c in flight.heard if c.sent in found} == {"Q0PSZ-9"}


def test_several_receivers_repeat_a_packet() -> None:
    flight = simulate(SimulationSettings(seed=16))
    copies = len(flight.heard) / len(flight.fixes)
    assert 1.5 < copies < 3.0
    assert {c.via for c in flight.heard} == {"", "Q0TAR-3"}


def test_battery_and_box_stay_plausible() -> None:
    flight = simulate(SimulationSettings(seed=16))
    volts = [s.battery_v for s in flight.fixes]
    celsius = [s.temperature_c for s in flight.fixes]
    assert 3.4 < min(volts) < max(volts) < 4.2
    assert -30.0 < min(celsius) < 0.0 < max(celsius) < 25.0


def test_other_places_and_times() -> None:
    south = SimulationSettings(
        site=Site(latitude_deg=-33.2, longitude_deg=179.9, ground_m=450.0), start_utc=1.7e9
    )
    truth = simulate(south).truth
    assert truth.launch_utc == 1.7e9
    assert np.all(np.abs(truth.longitude_deg) <= 180.0)
    assert truth.ground_m == pytest.approx(450.0, abs=60.0)
