"""A flight of which the place is lost aloft, while its height goes on by radio.

Held against the same flight with all of its places: recorded ones (``shared``), and the project's
own simulator's, whose truth is known.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from groundstation.flight.alert_records import Burst, HeardAgain, ShouldBeDown
from groundstation.flight.instruct import instruction
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.flight.state import newest_height_m, unplaced
from groundstation.physics.atmosphere import pressure
from groundstation.physics.geodesy import distance_m
from groundstation.records import Act, AlertKind, HeightReport, Phase, Reason, Report
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import SimulatedFlight, simulate
from tests.support.flights import ANY, T0, TRACKER, Told, fold, report, reports_of
from tests.support.flown import track

LOST_M = 12_000.0
RARELY = replace(ANY, climbing_every_s=600.0, estimate_every_s=60.0)
Sent = list[tuple[float, Report | HeightReport]]


def without_places(
    reports: Iterable[tuple[float, Report]], *, by_pressure: bool = False, telemetry: bool = False
) -> Sent:
    """From the first above ``LOST_M`` on only the height comes; with ``by_pressure`` as that of the
    standard atmosphere, which ``telemetry`` tells with the places too."""
    sent: Sent = []
    lost = False
    for at, one in reports:
        assert one.altitude_m is not None
        lost = lost or one.altitude_m > LOST_M
        air_pa = float(pressure(one.altitude_m))
        if not lost:
            beside = (("pressure_hpa", air_pa / 100.0),) if telemetry else ()
            sent.append((at, replace(one, telemetry=beside)))
            continue
        height = HeightReport(
            tracker=one.tracker,
            time_utc=one.time_utc,
            altitude_m=None if by_pressure else one.altitude_m,
            pressure_pa=air_pa if by_pressure else None,
        )
        sent.append((at, height))
    return sent


@cache
def flight() -> SimulatedFlight:
    return simulate(SimulationSettings(seed=16))


def thinned(reports: list[tuple[float, Report]], every_s: float) -> list[tuple[float, Report]]:
    kept: list[tuple[float, Report]] = []
    for one in reports:
        if not kept or one[0] - kept[-1][0] >= every_s:
            kept.append(one)
    return kept


@cache
def simulated(*, by_pressure: bool, telemetry: bool = False) -> Told:
    truth = flight().truth
    airborne = [one for one in reports_of(flight()) if one[0] < truth.touchdown_utc - 60.0]
    sent = without_places(thinned(airborne, 30.0), by_pressure=by_pressure, telemetry=telemetry)
    return fold(sent, RARELY, until_s=1_800.0)


@pytest.mark.slow
@pytest.mark.parametrize("by_pressure", [False, True])
def test_the_burst_is_told_by_height_alone_as_soon_as_with_places(by_pressure: bool) -> None:
    told, truth = simulated(by_pressure=by_pressure), flight().truth
    (burst,) = told.times(AlertKind.BURST)
    assert truth.top_utc < burst < truth.top_utc + 120.0
    (facts,) = told.facts(Burst)
    assert facts.altitude_m == pytest.approx(truth.top_m, abs=0.05 * truth.top_m)


@pytest.mark.slow
def test_that_its_height_is_heard_is_no_silence() -> None:
    told, truth = simulated(by_pressure=False), flight().truth
    assert [at for at in told.times(AlertKind.SILENT) if at < truth.touchdown_utc - 60.0] == []


@pytest.mark.slow
def test_it_is_told_down_by_its_height_and_never_at_its_old_place() -> None:
    told, truth = simulated(by_pressure=False), flight().truth
    assert Phase.LANDED not in [change.phase for change in told.phases]
    assert told.facts(ShouldBeDown)
    (down,) = told.times(AlertKind.SHOULD_BE_DOWN)
    assert abs(down - truth.touchdown_utc) < 300.0
    state = told.flights.state("kanalas-1")
    assert unplaced(state)
    assert state.landing is not None
    assert abs(state.landing.eta_utc - truth.touchdown_utc) < 120.0
    away = distance_m(state.landing.latitude_deg, state.landing.longitude_deg, *truth.landing)
    assert away < state.landing.radius_90_m


@pytest.mark.slow
@pytest.mark.parametrize("by_pressure", [False, True])
def test_the_landing_is_known_better_than_by_silence(by_pressure: bool) -> None:
    truth = flight().truth
    told = simulated(by_pressure=by_pressure)
    heard = [one for one in thinned(reports_of(flight()), 30.0) if one[1].altitude_m is not None]
    before = [
        one for one in heard if (one[1].altitude_m or 0.0) <= LOST_M and one[0] < truth.top_utc
    ]
    silence = fold(before, RARELY)
    by_height, by_silence = told.landings[-1], silence.landings[-1]
    width = by_height.eta_90_utc[1] - by_height.eta_90_utc[0]
    assert width < 0.25 * (by_silence.eta_90_utc[1] - by_silence.eta_90_utc[0])
    assert by_height.radius_90_m < by_silence.radius_90_m


@pytest.mark.slow
@pytest.mark.parametrize("by_pressure", [False, True])
def test_the_height_now_holds_the_truth_and_says_how_sure(by_pressure: bool) -> None:
    """By pressure some hundreds of metres, by a receiver some tens."""
    truth = flight().truth
    spans = []
    for one in simulated(by_pressure=by_pressure).landings:
        if not truth.launch_utc + 3_600.0 < one.time_utc < truth.touchdown_utc - 120.0:
            continue
        assert one.progress is not None
        height = float(np.interp(one.time_utc, truth.time_utc, truth.altitude_m))
        assert one.progress.height_m == pytest.approx(height, abs=200.0)
        low, high = one.progress.height_90_m or (0.0, 0.0)
        assert low - 100.0 < height < high + 100.0
        spans.append(high - low)
    assert np.median(spans) < (3_000.0 if by_pressure else 100.0)


def test_a_pressure_that_was_told_with_places_is_held_against_them() -> None:
    """A warm column: the standard atmosphere has every pressure five percent lower."""
    truth = flight().truth
    airborne = thinned([one for one in reports_of(flight()) if one[0] < truth.top_utc], 30.0)
    sent = without_places(airborne, by_pressure=True, telemetry=True)
    warm: Sent = []
    for at, one in sent:
        high = float(np.interp(at, truth.time_utc, truth.altitude_m))
        air_pa = float(pressure(high * 0.95))
        told = dict(one.telemetry)
        if isinstance(one, HeightReport):
            warm.append((at, replace(one, pressure_pa=air_pa)))
        elif told:
            warm.append((at, replace(one, telemetry=(("pressure_hpa", air_pa / 100.0),))))
    state = fold(warm, ANY, estimates=False).flights.state("kanalas-1")
    high = float(np.interp(warm[-1][0], truth.time_utc, truth.altitude_m))
    height = newest_height_m(state)
    assert height is not None
    assert abs(height - high) < abs(0.95 * high - high), "better than without having learned"
    assert abs(height - high) < 3.0 * state.heights.levels[-1].sd_m


def height(at_s: float, altitude_m: float, tracker: str = TRACKER) -> tuple[float, HeightReport]:
    return T0 + at_s, HeightReport(tracker=tracker, altitude_m=altitude_m, time_utc=T0 + at_s)


def climb(until_s: float, *, every_s: float = 30.0) -> Sent:
    """A climb with 5 m/s to the east, with places."""
    return [
        (T0 + at, report(at, 100.0 + 5.0 * at, lon=20.3 + 1e-4 * at))
        for at in np.arange(0.0, until_s, every_s).tolist()
    ]


def test_a_height_that_nothing_gets_to_is_believed_once_the_next_agrees() -> None:
    sent = [*climb(1_800.0), *(height(1_800.0 + 30.0 * n, 9_100.0 + 150.0 * n) for n in range(8))]
    odd = len(sent)
    told = fold([*sent, height(2_040.0, 200.0), height(2_070.0, 10_450.0)], estimates=False)
    assert told.fate[odd].reason is Reason.JUMP
    assert newest_height_m(told.flights.state("kanalas-1")) == 10_450.0
    fell = fold([*sent, height(2_040.0, 4_500.0), height(2_070.0, 3_900.0)], estimates=False)
    assert newest_height_m(fell.flights.state("kanalas-1")) == 3_900.0


def test_heights_between_places_that_tell_their_own_are_kept_and_mix_with_nothing() -> None:
    """A second sensor that tells 400 m more: mixed, each place would be a fall."""
    mixed: Sent = []
    for at, one in climb(1_800.0):
        mixed.append((at, one))
        other = HeightReport(
            tracker="Q0HAB-12", altitude_m=(one.altitude_m or 0.0) + 475.0, time_utc=at + 15.0
        )
        mixed.append((at + 15.0, other))
    told = fold(mixed, estimates=False)
    assert {verdict.reason for verdict in told.fate.values()} == {None}
    assert told.phase is Phase.ASCENT
    assert told.flights.state("kanalas-1").heights.levels == ()
    gone = [(at, one) for at, one in mixed if at < T0 + 900.0 or isinstance(one, HeightReport)]
    state = fold(gone, estimates=False).flights.state("kanalas-1")
    assert state.motion.phase is Phase.ASCENT
    truth = 100.0 + 5.0 * (state.heights.levels[-1].time_utc - T0)
    assert newest_height_m(state) == pytest.approx(truth, abs=30.0), "as the places would tell it"


def test_a_height_that_stands_still_aloft_is_the_last_that_was_known() -> None:
    sent = [*climb(1_800.0), *(height(1_920.0 + 30.0 * n, 9_100.0) for n in range(20))]
    told = fold(sent)
    assert told.phase is Phase.ASCENT
    state = told.flights.state("kanalas-1")
    assert len(state.heights.levels) == 1
    assert told.count(AlertKind.SILENT) == 0


def test_the_same_height_twice_is_one() -> None:
    twice = [height(1_800.0, 9_100.0), height(1_800.0, 9_100.0)]
    told = fold([*climb(1_800.0), *twice], estimates=False)
    assert told.reasons[-2:] == [None, Reason.DUPLICATE]


def test_heights_before_any_place_say_what_is_missing() -> None:
    told = fold([height(30.0 * n, 100.0) for n in range(10)])
    assert set(told.reasons) == {None}
    state = told.flights.state("kanalas-1")
    asked = instruction(ANY, state, T0 + 300.0)
    assert asked.act is Act.LISTEN
    assert asked.last_altitude_m == 100.0


def test_places_that_come_back_lead_again() -> None:
    truth = flight().truth
    everything = thinned(reports_of(flight()), 30.0)
    sent = without_places(everything)
    back = [
        one if truth.top_utc - 900.0 < one[0] < truth.top_utc + 600.0 else placed
        for one, placed in zip(sent, everything, strict=True)
    ]
    told = fold(back, RARELY, until_s=300.0)
    assert told.count(AlertKind.BURST) == 1
    assert told.phase is Phase.LANDED
    assert not unplaced(told.flights.state("kanalas-1"))
    assert told.count(AlertKind.SILENT) == 0


def test_after_a_silence_the_height_is_told_as_what_was_heard() -> None:
    sent = [*climb(1_800.0), *(height(3_600.0 + 30.0 * n, 18_100.0 + 150.0 * n) for n in range(3))]
    told = fold(sent, until_s=5.0)
    (again,) = told.facts(HeardAgain)
    assert again.height_m is not None
    assert again.height_m > 18_000.0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["f02", "f04", "f06"])
def test_a_recorded_flight_whose_places_are_lost_keeps_its_times(shared: Path, name: str) -> None:
    """The burst at the same message, and the touchdown in the fall to a minute as with places."""
    flown = track(shared, name)
    at = np.arange(flown.time_s[0], flown.time_s[-1], 60.0)
    columns = [np.interp(at, flown.time_s, one) for one in (flown.lat, flown.lon, flown.altitude_m)]
    reports = [
        (float(t), Report(tracker="x", latitude_deg=la, longitude_deg=lo, altitude_m=z, time_utc=t))
        for t, la, lo, z in zip(at.tolist(), *(one.tolist() for one in columns), strict=True)
    ]
    settings = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="*"),))
    placed, told = fold(reports, settings), fold(without_places(reports), settings)
    assert told.times(AlertKind.BURST) == placed.times(AlertKind.BURST)
    ended, (burst,) = float(flown.time_s[-1]), told.times(AlertKind.BURST)
    off_s, with_places_s = (
        np.mean([abs(e.eta_utc - ended) for e in one.landings if e.time_utc > burst + 300.0])
        for one in (told, placed)
    )
    assert off_s < with_places_s + 60.0
    newest = told.landings[-1]
    height_m = float(np.interp(newest.time_utc, flown.time_s, flown.altitude_m))
    assert newest.progress is not None
    assert newest.progress.height_m == pytest.approx(height_m, abs=300.0)
