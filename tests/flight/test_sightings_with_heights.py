"""What people saw of a flight that sends heights, after it has fallen silent."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.falls import Falls
from groundstation.flight.flights import Flights
from groundstation.flight.sightings import (
    AnySighting,
    BurstSeen,
    CameDown,
    InTheSky,
    LaunchSeen,
    NothingHere,
    RadioBearing,
)
from groundstation.physics.geodesy import Plane, distance_m
from groundstation.records import Landing
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import SimulatedFlight, simulate
from tests.support.flights import ANY, T0, fold, reports_of


@pytest.fixture(scope="module")
def flight() -> SimulatedFlight:
    return simulate(SimulationSettings(seed=16))


def silent_from(flight: SimulatedFlight, at_utc: float) -> Flights:
    """The flight until then, of which nothing is heard any more."""
    heard = [one for one in reports_of(flight) if one[0] < at_utc]
    return fold(heard, ANY).flights


def told(flights: Flights, now_utc: float, *sightings: AnySighting) -> Landing:
    for one in sightings:
        flights.sighted("kanalas-1", Sighted(now_utc=now_utc, sighting=one))
    assert flights.due() == ("kanalas-1",), "it says something new"
    landing = flights.estimate("kanalas-1")
    assert landing is not None
    flights.estimated(landing)
    return landing


def test_a_burst_that_was_seen_after_the_last_height(flight: SimulatedFlight) -> None:
    truth = flight.truth
    flights = silent_from(flight, truth.launch_utc + 3_600.0)
    before = flights.state("kanalas-1").landing
    assert before is not None
    burst = truth.top_utc
    seen = BurstSeen(number=1, at_utc=burst, told_utc=burst + 60.0)
    after = told(flights, burst + 60.0, seen)
    assert after.progress is not None
    assert after.progress.chance.descent > 0.9
    off = abs(after.eta_utc - truth.touchdown_utc)
    assert off < abs(before.eta_utc - truth.touchdown_utc)
    width = after.eta_90_utc[1] - after.eta_90_utc[0]
    assert width < before.eta_90_utc[1] - before.eta_90_utc[0]
    flights.sighted("kanalas-1", Withdrawn(now_utc=burst + 90.0, number=1))
    back = flights.estimate("kanalas-1")
    assert back is not None
    assert back.region_90 == before.region_90


def test_seen_from_the_side_it_lies_nearer_to_where_it_is(flight: SimulatedFlight) -> None:
    truth = flight.truth
    flights = silent_from(flight, truth.top_utc + 300.0)
    before = flights.state("kanalas-1").landing
    assert before is not None
    lat, lon = truth.landing
    stood = Geodesic.WGS84.Direct(lat, lon, 190.0, 12_000.0)
    way = Geodesic.WGS84.Inverse(stood["lat2"], stood["lon2"], lat, lon)["azi1"] % 360.0
    now = truth.touchdown_utc + 600.0
    seen = RadioBearing(
        number=1, at_utc=now, told_utc=now, latitude_deg=stood["lat2"],
        longitude_deg=stood["lon2"], bearing_deg=way, bearing_sd_deg=4.0,
    )  # fmt: skip
    after = told(flights, now, seen)
    assert after.progress is not None
    assert after.progress.chance.landed > 0.8
    assert after.radius_50_m < before.radius_50_m
    assert distance_m(after.latitude_deg, after.longitude_deg, lat, lon) < distance_m(
        before.latitude_deg, before.longitude_deg, lat, lon
    )


def test_what_was_seen_before_the_last_fix_changes_nothing(flight: SimulatedFlight) -> None:
    flights = silent_from(flight, flight.truth.top_utc + 300.0)
    before = flights.state("kanalas-1").landing
    assert before is not None
    wrong = BurstSeen(number=1, at_utc=T0 + 600.0, told_utc=T0 + 660.0)
    launch = LaunchSeen(number=2, at_utc=T0, told_utc=T0 + 660.0)
    after = told(flights, flight.truth.top_utc + 400.0, wrong, launch)
    assert after.region_90 == before.region_90


FALLS = Falls(
    plane=Plane(47.0, 20.0),
    fix_utc=1_000.0,
    from_m=9_000.0,
    top_m=np.array([10_000.0, 9_000.0]),
    before_s=np.array([200.0, 0.0]),
    before_m=np.array([[2_000.0, 0.0], [0.0, 0.0]]),
    layer_s=np.array([[500.0, 500.0], [500.0, 400.0]]),
    layer_ms=np.array([[10.0, 10.0], [10.0, 10.0]]),
    carried_ms=np.array([[[5.0, 10.0], [5.0, 10.0]], [[0.0, 1.0], [0.0, 1.0]]]),
    lies_m=np.array([[9_500.0, 6_500.0], [500.0, 400.0]]),
    wait_s=np.array([1_200.0, 900.0]),
)
"""Two ways, worked by hand: one climbs 1 km in 200 s first, each falls at 10 m/s through an upper
layer with 10 m/s of wind to the east and 1 to the north, and a lower one with 5."""


@pytest.mark.parametrize(
    ("moment", "first", "second"),
    [
        (1_000.0, (0.0, 0.0, 9_000.0), (0.0, 0.0, 9_000.0)),
        (1_100.0, (1_000.0, 0.0, 9_500.0), (1_000.0, 100.0, 8_000.0)),
        (1_450.0, (4_500.0, 250.0, 7_500.0), (4_250.0, 400.0, 4_500.0)),
        (1_950.0, (8_250.0, 500.0, 2_500.0), (6_500.0, 400.0, 0.0)),
        (float("inf"), (9_500.0, 500.0, 0.0), (6_500.0, 400.0, 0.0)),
    ],
)
def test_where_each_is_at_a_moment(
    moment: float, first: tuple[float, ...], second: tuple[float, ...]
) -> None:
    east, north, height = FALLS.at(moment)
    assert (east[0], north[0], height[0]) == pytest.approx(first)
    assert (east[1], north[1], height[1]) == pytest.approx(second)


def test_members_are_dealt_by_what_was_seen() -> None:
    lat, lon = map(float, FALLS.plane.to_latlon(np.array(6_500.0), np.array(400.0)))
    assert FALLS.weighed(()) is None
    near = CameDown(number=1, at_utc=1_900.0, told_utc=1_950.0, latitude_deg=lat, longitude_deg=lon)
    searched = NothingHere(
        number=2, at_utc=1_950.0, told_utc=1_950.0, latitude_deg=lat, longitude_deg=lon,
        chance=0.9, reach_m=100.0,
    )  # fmt: skip
    high = InTheSky(
        number=3, at_utc=1_950.0, told_utc=1_950.0, latitude_deg=47.0, longitude_deg=20.0,
        bearing_deg=87.0, elevation_deg=16.0,
    )  # fmt: skip
    for one, member, share in ((near, 1, 0.9), (searched, 0, 0.9), (high, 0, 0.9)):
        assert likelier(one, member) > share


def likelier(seen: AnySighting, member: int) -> float:
    """The share of ``member`` where each of the two stands for a hundred."""
    many: dict[str, Any] = {
        name: np.repeat(getattr(FALLS, name), 100, axis=axis)
        for name, axis in (
            ("top_m", 0), ("before_s", 0), ("before_m", 1), ("layer_s", 0), ("layer_ms", 0),
            ("carried_ms", 1), ("lies_m", 1), ("wait_s", 0),
        )
    }  # fmt: skip
    picked = replace(FALLS, **many).weighed((seen,))
    assert picked is not None
    return float(np.mean(picked // 100 == member))
