"""What people saw of a flight that sends heights, after it has fallen silent."""

import pytest
from geographiclib.geodesic import Geodesic

from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.flights import Flights
from groundstation.flight.sightings import (
    AnySighting,
    BurstSeen,
    LaunchSeen,
    RadioBearing,
)
from groundstation.physics.geodesy import distance_m
from groundstation.records import Landing
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import SimulatedFlight
from tests.support.flights import ANY, T0, fold, reports_of, simulated


@pytest.fixture(scope="module")
def flight() -> SimulatedFlight:
    return simulated(SimulationSettings(seed=16))


def silent_from(flight: SimulatedFlight, at_utc: float) -> Flights:
    """The flight until then, of which nothing is heard any more."""
    heard = [one for one in reports_of(flight) if one[0] < at_utc]
    flights = fold(heard, ANY, estimates=False).flights
    landing = flights.estimate("kanalas-1")
    assert landing is not None
    flights.estimated(landing)
    return flights


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
