"""Phases and the burst, on simulated flights whose truth is known, at any interval."""

from dataclasses import replace

import numpy as np
import pytest

from groundstation.flight.phases import looks_falling
from groundstation.records import AlertKind, Phase, Report
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.settings import TrackerModel
from groundstation.simulation.simulate import SimulatedFlight
from tests.support.flights import T0, Told, first_is_quick, fold, report, reports_of, simulated

IDEAL = TrackerModel(
    lost_share=0.0, outage_share=0.0, late_share=0.0, wrong_share=0.0, jitter_s=0.0
)


def flown(profile: Profile, seed: int, interval_s: float) -> tuple[SimulatedFlight, Told]:
    settings = settings_of(profile, seed)
    settings = replace(settings, tracker=replace(settings.tracker, interval_s=interval_s))
    flight = simulated(settings)
    return flight, fold(reports_of(flight), estimates=False, until_s=600.0)


@pytest.mark.parametrize("interval_s", first_is_quick(10.0, 1.0, 60.0, 300.0))
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_a_usual_flight_goes_through_its_phases_once(seed: int, interval_s: float) -> None:
    flight, told = flown(Profile.NORMAL, seed, interval_s)
    # From the ground not every flight is heard.
    usual = [Phase.ASCENT, Phase.DESCENT, Phase.LANDED]
    assert [change.phase for change in told.phases] in (usual, usual[:2])
    assert told.count(AlertKind.LAUNCHED) == 1
    assert told.count(AlertKind.BURST) == 1
    state = told.flights.state("kanalas-1")
    assert state.motion.launch is not None
    assert abs(state.motion.launch.time_utc - flight.truth.launch_utc) <= interval_s + 30.0
    assert state.motion.burst is not None
    # Between two fixes it may rise by half an interval's climb more than was heard.
    assert flight.truth.top_m - state.motion.burst.altitude_m <= 20.0 + 6.0 * interval_s
    assert abs(state.motion.burst.time_utc - flight.truth.top_utc) <= interval_s + 1.0


@pytest.mark.parametrize("seed", first_is_quick(*range(1, 7)))
def test_a_landing_is_seen_where_it_is_heard(seed: int) -> None:
    """With receivers that hear everything, it is known to be down three fixes after touchdown."""
    settings = settings_of(Profile.NORMAL, seed)
    flight = simulated(replace(settings, tracker=replace(IDEAL, interval_s=30.0)))
    told = fold([(one.time_utc, _of(one, flight)) for one in _all(flight)], estimates=False)
    [landed] = [change for change in told.phases if change.phase is Phase.LANDED]
    assert 0.0 <= landed.time_utc - flight.truth.touchdown_utc <= 150.0
    assert told.count(AlertKind.LANDED) == 1


@pytest.mark.parametrize("interval_s", [10.0, 60.0])
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_a_float_is_told_and_then_the_burst(seed: int, interval_s: float) -> None:
    flight, told = flown(Profile.FLOAT, seed, interval_s)
    assert flight.truth.float_utc is not None
    begin, end = flight.truth.float_utc
    [at] = told.times(AlertKind.FLOATING)
    assert begin < at < min(begin + 900.0, end + 60.0)
    assert told.count(AlertKind.BURST) == 1
    assert told.times(AlertKind.BURST)[0] >= end


@pytest.mark.parametrize("profile", [Profile.LOSSY, Profile.HARD, Profile.FOULED, Profile.SLOW])
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
def test_hard_flights_have_one_launch_and_one_burst(profile: Profile, seed: int) -> None:
    _, told = flown(profile, seed, 30.0)
    assert told.count(AlertKind.LAUNCHED) == 1
    assert told.count(AlertKind.BURST) == 1


def test_one_low_height_long_before_is_not_the_launch() -> None:
    """Heights as a recorded flight had them on the ground (f17), 38 m off at one of them."""
    ground = [(0, 246.6), (420, 247.5), (480, 248.7), (552, 207.6), (824, 245.1)]
    climb = [(1_004 + 60 * n, 488.9 + 330.0 * n) for n in range(6)]
    told = fold(
        [(T0 + at, report(at, height)) for at, height in [*ground, *climb]], estimates=False
    )
    launch = told.flights.state("kanalas-1").motion.launch
    assert launch is not None
    assert launch.time_utc == T0 + 824


def test_a_day_on_the_ground_launches_nothing() -> None:
    """A receiver's noise: 15 m of spread in height, 8 m in place, for eight hours."""
    rng = np.random.default_rng(3)
    noise = rng.normal(size=(960, 3))
    reports = [
        (
            1_778_900_000.0 + 30.0 * n,
            Report(
                tracker="Q0HAB-11",
                latitude_deg=47.1 + 7e-5 * a,
                longitude_deg=20.3 + 1e-4 * b,
                altitude_m=85.0 + 15.0 * c,
                time_utc=1_778_900_000.0 + 30.0 * n,
            ),
        )
        for n, (a, b, c) in enumerate(noise)
    ]
    told = fold(reports, estimates=False)
    assert told.alerts == []
    assert told.phase is Phase.PRELAUNCH


def test_the_same_payload_flies_again() -> None:
    first = simulated(settings_of(Profile.NORMAL, 1))
    second = simulated(
        replace(settings_of(Profile.NORMAL, 2), start_utc=1_778_920_200.0 + 86_400.0)
    )
    told = fold(reports_of(first) + reports_of(second), estimates=False)
    assert told.count(AlertKind.LAUNCHED) == 2
    assert told.count(AlertKind.BURST) == 2
    assert len({alert.key for alert in told.alerts}) == len(told.alerts)


def _all(flight: SimulatedFlight) -> "list[_Moment]":
    """Fixes every 30 s along the truth, with a receiver's noise."""
    rng = np.random.default_rng(flight.settings.seed)
    truth = flight.truth
    picked = range(0, len(truth.time_utc), max(1, round(30.0 / float(np.diff(truth.time_utc)[0]))))
    return [
        _Moment(
            float(truth.time_utc[i]),
            float(truth.latitude_deg[i]) + 4e-5 * rng.normal(),
            float(truth.longitude_deg[i]) + 5e-5 * rng.normal(),
            float(truth.altitude_m[i]) + 6.0 * rng.normal(),
        )
        for i in picked
    ]


class _Moment:
    def __init__(self, time_utc: float, lat: float, lon: float, altitude_m: float) -> None:
        self.time_utc, self.lat, self.lon, self.altitude_m = time_utc, lat, lon, altitude_m


def _of(moment: _Moment, flight: SimulatedFlight) -> Report:
    return Report(
        tracker=flight.settings.tracker.callsign,
        latitude_deg=moment.lat,
        longitude_deg=moment.lon,
        altitude_m=moment.altitude_m,
        time_utc=moment.time_utc,
    )


def doubted(*heights: tuple[float, float]) -> bool:
    """Whether the last of (seconds, height) looks like a fall, after a climb to 20 km."""
    climb = [report(10.0 * n, 100.0 + 50.0 * n, lon=20.3 + 0.0002 * n) for n in range(399)]
    sent = [*climb, *(report(3_990.0 + at, height, lon=20.4) for at, height in heights)]
    told = fold([((one.time_utc or 0.0) + 1.0, one) for one in sent], estimates=False)
    motion = told.flights.state("kanalas-1").motion
    assert motion.phase is Phase.ASCENT
    return looks_falling(motion)


def test_one_fix_far_below_looks_like_a_fall_only_if_it_came_down_fast() -> None:
    """The slowest canopy falls at some 6 m/s at 20 km."""
    assert doubted((0.0, 20_000.0), (15.0, 19_700.0))
    assert not doubted((0.0, 20_000.0), (400.0, 19_700.0))
    assert not doubted((0.0, 20_000.0), (15.0, 19_900.0))


def test_with_rare_fixes_one_far_below_looks_like_a_fall_too() -> None:
    assert doubted((0.0, 20_000.0), (500.0, 19_300.0))
    assert not doubted((0.0, 20_000.0), (800.0, 19_300.0))
