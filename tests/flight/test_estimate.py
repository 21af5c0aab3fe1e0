"""The landing estimate: the same for the same fixes, smooth, and right as often as it says.

What it does on real flights is in ``tests/test_scores.py``.
"""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest

from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.physics.geodesy import distance_m
from groundstation.records import Landing, Phase, Region
from groundstation.schema.landing import landing_json
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import SimulatedFlight
from tests.support.flights import ANY, T0, first_is_quick, fold, report, reports_of, simulated

SLOW = replace(ANY, climbing_every_s=300.0)


def flight(seed: int, profile: Profile = Profile.NORMAL) -> SimulatedFlight:
    return simulated(settings_of(profile, seed))


def holds(region: Region, lat: float, lon: float) -> bool:
    """Even-odd rule over all rings."""
    inside = False
    for ring in region:
        for (lat1, lon1), (lat2, lon2) in itertools.pairwise(ring):
            if (lat1 > lat) != (lat2 > lat) and lon < (lon2 - lon1) * (lat - lat1) / (
                lat2 - lat1
            ) + lon1:
                inside = not inside
    return inside


def touchdown(one: SimulatedFlight) -> tuple[float, float]:
    at = int(np.searchsorted(one.truth.time_utc, one.truth.touchdown_utc))
    return float(one.truth.latitude_deg[at]), float(one.truth.longitude_deg[at])


SHARES = (0.9, 0.6, 0.35, 0.15)
"""Of the burst height: where in the descent the regions are looked at."""


def falling_through(one: SimulatedFlight, altitude_m: float) -> Landing:
    """The estimate at the first fix in the descent below ``altitude_m``."""
    reports = reports_of(one)
    after = [
        n
        for n, (_, report) in enumerate(reports)
        if (report.time_utc or 0.0) > one.truth.top_utc + 60.0
        and (report.altitude_m or 0.0) < altitude_m
    ]
    landing = fold(reports[: after[0] + 1], estimates=False).flights.estimate("kanalas-1")
    assert landing is not None
    return landing


def missed_m(landing: Landing, truth: tuple[float, float]) -> float:
    return distance_m(landing.latitude_deg, landing.longitude_deg, *truth)


def test_a_float_in_calm_air_is_stretched_no_further_north_than_south() -> None:
    """The balloon may hang for long or not, and drift either way: the one says nothing of the
    other."""
    up = [(T0 + t, report(t, 100.0 + 5.0 * t)) for t in range(0, 4_000, 20)]
    level = [(T0 + t, report(t, 20_100.0)) for t in range(4_000, 6_000, 20)]
    told = fold(up + level, SLOW)
    assert told.phase is Phase.FLOAT
    landing = told.landings[-1]
    lat, lon = np.concatenate([np.array(ring) for ring in landing.region_90]).T
    here = told.last
    north, south = lat.max() - here.latitude_deg, here.latitude_deg - lat.min()
    east, west = lon.max() - here.longitude_deg, here.longitude_deg - lon.min()
    assert north / south == pytest.approx(1.0, abs=0.2)
    assert east / west == pytest.approx(1.0, abs=0.2)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_what_comes_later_changes_nothing_earlier(seed: int) -> None:
    reports = reports_of(flight(seed))
    whole = fold(reports).landings
    for cut in (len(reports) // 2, len(reports) * 9 // 10):
        part = fold(reports[:cut]).landings
        assert part == whole[: len(part)]


@pytest.mark.slow
def test_estimates_asked_for_more_often_are_the_same() -> None:
    """Live, an estimate may be skipped while another is made; that must not change the next."""
    reports = reports_of(flight(5))
    often = {one.evidence_utc: one for one in fold(reports).landings}
    rare = fold(reports, replace(ANY, estimate_every_s=60.0, climbing_every_s=300.0)).landings
    assert len(rare) < len(often) / 2
    common = [one for one in rare if one.evidence_utc in often]
    assert len(common) > 20
    for one in common:
        assert one == often[one.evidence_utc]


@pytest.mark.slow
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
def test_the_point_does_not_jitter(seed: int) -> None:
    """From one fix to the next, a second later, nothing new happens: the point then moves by less
    than 2 % of the region's size, hardly ever by a tenth of the 50 % radius, and no stray ring
    comes and goes."""
    settings = settings_of(Profile.NORMAL, seed)
    one = simulated(replace(settings, tracker=replace(settings.tracker, interval_s=1.0)))
    flights = Flights((ANY,))
    shares, of_half = [], []
    before: Landing | None = None
    for number, (received_utc, sent) in enumerate(reports_of(one)):
        flights.observed(
            Observed(report_id=number, source="test", received_utc=received_utc, report=sent)
        )
        if received_utc < one.truth.top_utc + 300.0 or number % 20 > 1:
            continue
        now = flights.estimate("kanalas-1")
        assert now is not None
        assert len(now.region_50) == len(now.region_90) == 1
        if number % 20 == 1 and before is not None and now.evidence_utc - before.evidence_utc < 2:
            moved = missed_m(now, (before.latitude_deg, before.longitude_deg))
            shares.append(moved / (2.0 * now.radius_90_m))
            of_half.append(moved / now.radius_50_m)
        before = now
    assert len(shares) > 20
    assert float(np.median(shares)) < 0.02
    assert float(np.mean(np.array(of_half) > 0.1)) < 0.1


@pytest.mark.slow
def test_truth_is_in_the_regions_as_often_as_they_say() -> None:
    """60 simulated flights whose statistics are not those of the estimator's prior.

    Binomial: with 60 independent flights, 0.9 +- 0.039 and 0.5 +- 0.065 (one sd); the bounds
    are three of them.
    """
    ninety, fifty, when = [], [], []
    for seed in range(100, 160):
        one = flight(seed)
        truth = touchdown(one)
        height_m = SHARES[seed % len(SHARES)] * one.truth.top_m
        middle = falling_through(one, height_m)
        ninety.append(holds(middle.region_90, *truth))
        fifty.append(holds(middle.region_50, *truth))
        when.append(middle.eta_90_utc[0] <= one.truth.touchdown_utc <= middle.eta_90_utc[1])
    assert np.mean(ninety) >= 0.78
    assert 0.30 <= np.mean(fifty) <= 0.70
    assert np.mean(when) >= 0.78


@pytest.mark.slow
def test_in_ascent_it_is_not_sure_of_itself() -> None:
    inside = []
    for seed in range(1, 9):
        one = flight(seed)
        truth = touchdown(one)
        settings = replace(ANY, climbing_every_s=300.0, estimate_every_s=1e6)
        climbing = [x for x in fold(reports_of(one), settings).landings if x.phase is Phase.ASCENT]
        inside += [holds(x.region_90, *truth) for x in climbing]
        for x in climbing:
            assert "no plan" in x.basis or "descent fit" in x.basis
    assert len(inside) > 100
    assert np.mean(inside) > 0.75


@pytest.mark.slow
def test_records_are_whole() -> None:
    landings = fold(reports_of(flight(1))).landings
    for one in landings:
        told = json.loads(json.dumps(landing_json(one)))
        assert told["kind"] == "landing"
        assert one.eta_90_utc[0] <= one.eta_utc <= one.eta_90_utc[1]
        assert one.radius_50_m <= one.radius_90_m
        assert one.descent_rate_ms > 0.0
        assert one.basis
        for ring in (*one.region_50, *one.region_90):
            assert ring[0] == ring[-1]
            assert len(ring) >= 4


def test_with_rare_fixes_the_first_low_one_is_taken_for_the_fall() -> None:
    """Between the highest fix and this one it went on climbing for minutes, and then fell: on the
    whole it lost little, yet it does not climb from here."""
    climb = [report(300.0 * n, 100.0 + 1_500.0 * n) for n in range(21)]
    fell = report(6_300.0, 28_800.0)
    one = fold([(one.time_utc or 0.0, one) for one in (*climb, fell)]).landings[-1]
    assert "descent fit" in one.basis
    assert one.eta_utc < T0 + 6_300.0 + 3_600.0


@pytest.mark.slow
def test_nothing_is_said_early_in_the_climb_without_a_forecast() -> None:
    """Winds above are not known then; with the region that would be right, nobody could do
    anything, and the next estimates would be told as moves of a hundred kilometres."""
    one = flight(3)
    landings = fold(reports_of(one)).landings
    climbing = [x for x in landings if x.phase is Phase.ASCENT]
    assert climbing
    assert all(x.radius_90_m < 100_000.0 for x in climbing)
    assert climbing[0].evidence_utc > one.truth.launch_utc + 900.0
