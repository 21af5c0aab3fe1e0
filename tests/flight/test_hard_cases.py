"""Flights that are not the normal case: named in time, and not believed wrongly."""

from dataclasses import replace

import numpy as np
import pytest

from groundstation.flight.alert_records import HeardAgain, TrackersDisagree
from groundstation.flight.instruct import instruction
from groundstation.flight.settings import BaseSettings, FlightSettings, TrackerSettings
from groundstation.flight.silence import LAST_MINUTES_S
from groundstation.flight.whereabouts import whereabouts
from groundstation.physics.geodesy import distance_m
from groundstation.records import Act, AlertKind, Phase, Place, Report, Standing
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import SimulatedFlight
from tests.support.flights import ANY, TRACKER, Told, first_is_quick, fold, reports_of, simulated

HOME = BaseSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)
SLOW = replace(ANY, climbing_every_s=300.0, estimate_every_s=60.0)


def flight(profile: Profile, seed: int) -> SimulatedFlight:
    return simulated(settings_of(profile, seed))


def truth(one: SimulatedFlight) -> tuple[float, float]:
    at = int(np.searchsorted(one.truth.time_utc, one.truth.touchdown_utc))
    return float(one.truth.latitude_deg[at]), float(one.truth.longitude_deg[at])


Timed = tuple[float, Report]


def frozen_above(reports: list[Timed], ceiling_m: float) -> list[Timed]:
    """What a receiver sends that keeps telling its last height above its ceiling."""
    return [
        (at, replace(one, altitude_m=min(one.altitude_m or 0.0, ceiling_m))) for at, one in reports
    ]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2, 3, 5])
def test_heights_frozen_at_a_ceiling(seed: int) -> None:
    """Told once; it is no float; and the burst is told once heights come again."""
    one = flight(Profile.NORMAL, seed)
    told = fold(frozen_above(reports_of(one), 18_000.0), SLOW)
    assert told.count(AlertKind.ALTITUDE_FROZEN) == 1
    assert told.count(AlertKind.FLOATING) == 0
    assert told.count(AlertKind.LAUNCHED) == told.count(AlertKind.BURST) == 1
    [at] = told.times(AlertKind.ALTITUDE_FROZEN)
    passed = next(t for t, r in reports_of(one) if (r.altitude_m or 0.0) > 18_000.0)
    assert 60.0 <= at - passed <= 200.0
    aloft = [x for x in told.landings if at < x.time_utc < one.truth.top_utc]
    assert aloft
    assert all("heights by the clock" in x.basis for x in aloft)


@pytest.mark.parametrize("profile", [Profile.NORMAL, Profile.FLOAT, Profile.CEILING])
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_true_heights_are_never_frozen(profile: Profile, seed: int) -> None:
    told = fold(reports_of(flight(profile, seed)), SLOW, estimates=False)
    assert told.count(AlertKind.ALTITUDE_FROZEN) == 0


def two_trackers(one: SimulatedFlight, off_deg: float) -> list[Timed]:
    """A second tracker, ten seconds after the first, ``off_deg`` of latitude from it."""
    first = reports_of(one)
    second = [
        (
            at + 10.0,
            replace(
                report,
                tracker="Q0HAB-12",
                latitude_deg=report.latitude_deg + off_deg,
                time_utc=(report.time_utc or 0.0) + 3.0,
            ),
        )
        for at, report in first
    ]
    return sorted(first + second, key=lambda item: item[0])


BOTH = replace(SLOW, trackers=(TrackerSettings(id=TRACKER), TrackerSettings(id="Q0HAB-12")))


@pytest.mark.slow
def test_trackers_that_agree_are_one_flight() -> None:
    told = fold(two_trackers(flight(Profile.NORMAL, 4), 0.0), BOTH)
    assert told.count(AlertKind.TRACKERS_DISAGREE) == 0
    assert told.count(AlertKind.LAUNCHED) == told.count(AlertKind.BURST) == 1


@pytest.mark.slow
@pytest.mark.parametrize("off_deg", [0.05, 2.0])
def test_trackers_that_disagree_are_told_and_the_region_is_wider(off_deg: float) -> None:
    """By 5.6 km and by 220 km; it stays one flight, and the first tracker is not locked out."""
    one = flight(Profile.NORMAL, 4)
    told = fold(two_trackers(one, off_deg), BOTH)
    assert told.count(AlertKind.TRACKERS_DISAGREE) == 1
    assert told.count(AlertKind.LAUNCHED) == told.count(AlertKind.BURST) == 1
    alone = fold(reports_of(one), SLOW)
    assert _last_radius_m(told) > 2.0 * _last_radius_m(alone)
    [disagreement] = told.facts(TrackersDisagree)
    assert disagreement.apart_m == pytest.approx(off_deg * 111_200.0, rel=0.3)


def _last_radius_m(told: Told) -> float:
    falling = [one for one in told.landings if one.phase is Phase.DESCENT]
    return falling[len(falling) * 2 // 3].radius_90_m


@pytest.mark.slow
def test_climbing_past_the_plan_is_told_once() -> None:
    settings = replace(
        SLOW, plan=replace(SLOW.plan, burst_altitude_m=20_000.0, burst_altitude_sd_m=1_500.0)
    )
    one = flight(Profile.NORMAL, 1)
    told = fold(reports_of(one), settings)
    assert told.count(AlertKind.STILL_CLIMBING) == 1
    assert any("climbing past the planned burst" in x.basis for x in told.landings)
    assert fold(reports_of(one), SLOW).count(AlertKind.STILL_CLIMBING) == 0


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_unheard_from_the_ground_it_should_be_down(seed: int) -> None:
    """The last estimate stays as the search region, and tells how old its evidence is."""
    one = flight(Profile.NORMAL, seed)
    high = [(at, r) for at, r in reports_of(one) if at < one.truth.touchdown_utc - 400.0]
    told = fold(high, SLOW, until_s=3_600.0)
    assert told.count(AlertKind.SHOULD_BE_DOWN) == 1
    [alert] = [a for a in told.alerts if a.kind is AlertKind.SHOULD_BE_DOWN]
    last = told.landings[-1]
    assert alert.landing == last
    assert alert.time_utc > last.eta_90_utc[1]
    assert (high[-1][1].time_utc or 0.0) - alert.landing.evidence_utc <= SLOW.estimate_every_s
    assert told.flights.state("kanalas-1").landing == last
    # In the last minutes before the ground the touchdown tells more than the silence.
    silent = [a for a in told.alerts if a.kind is AlertKind.SILENT]
    assert len(silent) <= 1
    assert all(a.time_utc < last.eta_utc - LAST_MINUTES_S for a in silent)


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_two_messages_of_one_place_without_heights_are_heard_on_the_ground(seed: int) -> None:
    """A minute apart, 20 minutes after the touchdown; one of them alone tells nothing."""
    one = flight(Profile.NORMAL, seed)
    truth = one.truth
    high = [(at, r) for at, r in reports_of(one) if at < truth.touchdown_utc - 400.0]

    def lying(after_s: float, off_deg: float) -> tuple[float, Report]:
        report = replace(
            high[-1][1],
            latitude_deg=float(truth.latitude_deg[-1]) + off_deg,
            longitude_deg=float(truth.longitude_deg[-1]),
            altitude_m=None,
            time_utc=truth.touchdown_utc + after_s,
        )
        return truth.touchdown_utc + after_s + 1.0, report

    first, second = lying(1_200.0, 0.0), lying(1_260.0, 0.0001)
    twice = fold([*high, first, second], SLOW)
    again = [(one, one.facts) for one in twice.alerts if isinstance(one.facts, HeardAgain)]
    [(alert, heard)] = [(one, facts) for one, facts in again if facts.on_ground]
    assert alert.time_utc >= second[0] > first[0]
    assert heard.fixes == 2
    assert heard.within_m == pytest.approx(11.1, abs=0.1)  # a ten-thousandth of a degree north
    told = instruction(SLOW, twice.flights.state("kanalas-1"), truth.touchdown_utc + 1_300.0)
    assert (told.act, told.standing) == (Act.FETCH, Standing.DOWN)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_without_heights_from_the_burst_on(seed: int) -> None:
    """The drift tells that it falls and how fast, so the landing is known to some kilometres."""
    one = flight(Profile.NORMAL, seed)
    reports = [
        (
            at,
            replace(
                r, altitude_m=r.altitude_m if (r.time_utc or 0.0) <= one.truth.top_utc else None
            ),
        )
        for at, r in reports_of(one)
        if at < one.truth.touchdown_utc - 300.0
    ]
    told = fold(reports, SLOW)
    last = told.landings[-1]
    assert "heights by the clock" in last.basis
    assert distance_m(last.latitude_deg, last.longitude_deg, *truth(one)) < 9_000.0


@pytest.mark.slow
def test_a_height_missing_now_and_then_changes_little() -> None:
    one = flight(Profile.NORMAL, 3)
    reports = reports_of(one)
    whole = fold(reports, SLOW).landings
    gaps = fold(
        [
            (at, replace(r, altitude_m=None) if n % 3 == 2 else r)
            for n, (at, r) in enumerate(reports)
        ],
        SLOW,
    ).landings
    late = {round(x.evidence_utc): x for x in gaps if x.phase is Phase.DESCENT}
    pairs = [
        (x, late[round(x.evidence_utc)])
        for x in whole
        if x.phase is Phase.DESCENT and round(x.evidence_utc) in late
    ]
    assert len(pairs) >= 5
    apart = [
        distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg) / a.radius_90_m
        for a, b in pairs
    ]
    assert float(np.median(apart)) < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("seed", first_is_quick(1, 2))
def test_never_a_height(seed: int) -> None:
    """Launch and rest are told from the movement alone, and the estimate says what it rests on."""
    one = flight(Profile.NORMAL, seed)
    settings = FlightSettings(
        payload="kanalas-1",
        trackers=ANY.trackers,
        base=HOME,
        climbing_every_s=300.0,
        launch_site=Place(latitude_deg=HOME.latitude_deg, longitude_deg=HOME.longitude_deg),
        launch_utc=one.truth.launch_utc,
    )
    sent = [(at, replace(r, altitude_m=None)) for at, r in reports_of(one)]
    begin = sent[0][0]
    fewer = [next(m for m in sent if m[0] >= at) for at in np.arange(begin, sent[-1][0], 300.0)]
    told = fold(fewer, settings)
    assert told.count(AlertKind.LAUNCHED) == 1
    [launched] = told.times(AlertKind.LAUNCHED)
    assert 0.0 < launched - one.truth.launch_utc < 900.0
    assert all(burst > one.truth.top_utc for burst in told.times(AlertKind.BURST))
    assert told.landings
    flying = [x for x in told.landings if x.phase is Phase.ASCENT]
    assert all("heights by the clock" in x.basis for x in flying)
    for x in flying:
        assert x.radius_90_m > 1_000.0 or x.evidence_utc > one.truth.touchdown_utc - 900.0


@pytest.mark.parametrize("seed", first_is_quick(1, 2))
def test_in_a_silence_heights_have_a_span_and_a_burst_its_chance(seed: int) -> None:
    """Silent from the middle of the climb on; held against the true heights."""
    one = flight(Profile.NORMAL, seed)
    lived = one.truth
    half = (lived.launch_utc + lived.top_utc) / 2.0
    told = fold([m for m in reports_of(one) if m[0] < half], SLOW)
    state = told.flights.state("kanalas-1")
    held: list[bool] = []
    chances: list[float] = []
    for now in np.arange(half, lived.touchdown_utc + 3_600.0, 300.0):
        found = whereabouts(SLOW, state, float(now))
        assert found is not None
        assert found.altitude_90_m is not None
        assert found.burst is not None
        low, high = found.altitude_90_m
        height = float(np.interp(now, lived.time_utc, lived.altitude_m))
        held.append(low - 150.0 <= height <= high + 150.0)
        chances.append(found.burst)
    assert sum(held) >= 0.8 * len(held)
    assert chances[0] < 0.05
    assert chances == sorted(chances)
    assert chances[-1] > 0.95
