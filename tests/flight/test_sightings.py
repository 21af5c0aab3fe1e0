"""What a person saw moves the estimate, and moves it back when it is taken back."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from groundstation.flight.alert_records import Alert, Launched
from groundstation.flight.events import Observed, Sighted, Withdrawn
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.settings import (
    FlightSettings,
    PlanSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.flight.sightings import (
    MISTAKEN,
    AnySighting,
    BurstSeen,
    CameDown,
    InTheSky,
    LaunchSeen,
    Looked,
    NothingHere,
    NotInTheSky,
    RadioBearing,
    log_likelihood_of_places,
    log_likelihood_of_times,
)
from groundstation.physics.geodesy import Plane
from groundstation.records import Landing, Phase, Report
from groundstation.simulation.profiles import Profile
from tests.flight.test_chances import EVERY_S, SITE, messages
from tests.flight.test_hard_cases import HOME, flight

SETTINGS = FlightSettings(
    payload="kanalas-1",
    trackers=(TrackerSettings(id="*", kind=TrackerKind.SATELLITE, interval_s=EVERY_S),),
    base=HOME,
    launch_site=SITE,
    plan=PlanSettings(ascent_rate_ms=5.2, ascent_rate_sd_ms=0.5),
)
Heard = list[tuple[float, Report]]


def flown(heard: Heard) -> tuple[Flights, list[Alert]]:
    """A messenger's flight, told as a station would, until the last message."""
    flights, alerts, clock = Flights([SETTINGS]), list[Alert](), heard[0][0]
    for number, (at, report) in enumerate(heard):
        for now in ticks_between(clock, at):
            alerts += _alerts(flights.tick(now))
        clock = at
        flights.observed(Observed(report_id=number, source="test", received_utc=at, report=report))
        alerts += _alerts(estimated(flights))
    return flights, alerts


def estimated(flights: Flights) -> tuple[object, ...]:
    found: list[object] = []
    for payload in flights.due():
        landing = flights.estimate(payload)
        if landing is not None:
            found += flights.estimated(landing)
    return tuple(found)


def _alerts(outcomes: object) -> list[Alert]:
    assert isinstance(outcomes, tuple)
    return [one for one in outcomes if isinstance(one, Alert)]


def landing_of(flights: Flights) -> Landing:
    landing = flights.state("kanalas-1").landing
    assert landing is not None
    return landing


def told(flights: Flights, *sightings: AnySighting, now_utc: float) -> Landing:
    for one in sightings:
        flights.sighted("kanalas-1", Sighted(now_utc=now_utc, sighting=one))
    assert flights.due() == ("kanalas-1",)
    estimated(flights)
    return landing_of(flights)


def until(seed: int, share: float) -> tuple[object, Heard]:
    """A flight, and its messages up to a share of the way between launch and touchdown."""
    one = flight(Profile.NORMAL, seed)
    truth = one.truth
    end = truth.launch_utc + share * (truth.touchdown_utc - truth.launch_utc)
    return one, [m for m in messages(one, seed, until_s=0.0) if m[0] < end]


def test_a_burst_that_was_seen_is_one_and_taken_back_it_is_none() -> None:
    _, heard = until(1, 0.55)
    flights, _ = flown(heard)
    before = landing_of(flights)
    assert before.progress is not None
    assert before.progress.chance.burst < 0.2
    now = heard[-1][0] + 240.0
    seen = BurstSeen(number=1, at_utc=now - 180.0, told_utc=now)
    after = told(flights, seen, now_utc=now)
    assert after.progress is not None
    assert after.progress.chance.burst > 0.6
    assert after.eta_utc < before.eta_utc
    flights.sighted("kanalas-1", Withdrawn(now_utc=now + 1.0, number=1))
    estimated(flights)
    back = landing_of(flights)
    assert back.progress is not None
    assert back.progress.chance.burst < 0.2


def test_a_launch_that_was_seen_begins_the_flight_before_it_has_drifted_away() -> None:
    one = flight(Profile.NORMAL, 1)
    launch = one.truth.launch_utc
    ground = [m for m in messages(one, 1, until_s=0.0) if m[0] < launch]
    flights, _ = flown(ground)
    assert flights.state("kanalas-1").motion.phase is Phase.PRELAUNCH
    seen = LaunchSeen(number=4, at_utc=launch, told_utc=launch + 90.0)
    found: tuple[object, ...] = flights.sighted(
        "kanalas-1", Sighted(now_utc=launch + 90.0, sighting=seen)
    )
    assert flights.state("kanalas-1").motion.phase is Phase.ASCENT
    found += estimated(flights)
    [alert] = _alerts(tuple(found))
    assert isinstance(alert.facts, Launched)
    progress = landing_of(flights).progress
    assert progress is not None
    assert progress.launch_utc == pytest.approx(launch, abs=90.0)
    flights.sighted("kanalas-1", Withdrawn(now_utc=launch + 120.0, number=4))
    assert flights.state("kanalas-1").motion.phase is Phase.PRELAUNCH


@pytest.mark.slow
def test_seen_in_the_sky_tells_how_high_it_is() -> None:
    """From a place to the side of the way, where the direction crosses it."""
    one, heard = until(2, 0.8)
    truth = one.truth  # type: ignore[attr-defined]
    flights, _ = flown(heard)
    now = heard[-1][0] + 500.0
    flights.tick(now)
    before = flights.estimate("kanalas-1")
    assert before is not None
    lat, lon, height = (
        float(np.interp(now, truth.time_utc, values))
        for values in (truth.latitude_deg, truth.longitude_deg, truth.altitude_m)
    )
    stood = Geodesic.WGS84.Direct(lat, lon, 200.0, 9_000.0)
    way = Geodesic.WGS84.Inverse(stood["lat2"], stood["lon2"], lat, lon)
    seen = InTheSky(
        number=1,
        at_utc=now,
        told_utc=now,
        latitude_deg=stood["lat2"],
        longitude_deg=stood["lon2"],
        bearing_deg=way["azi1"] % 360.0,
        elevation_deg=math.degrees(math.atan2(height, way["s12"])),
    )
    after = told(flights, seen, now_utc=now)
    assert before.progress is not None
    assert after.progress is not None
    assert before.progress.height_90_m is not None
    assert after.progress.height_90_m is not None
    low, high = after.progress.height_90_m
    assert high - low < 0.7 * (before.progress.height_90_m[1] - before.progress.height_90_m[0])
    assert low - 500.0 < height < high + 500.0


@dataclass
class Two:
    """Two members: one 5 km north of the plane's origin, one 5 km east, both at 3 km, both down
    at 1,000 s."""

    plane: Plane

    @property
    def launch_utc(self) -> np.ndarray:
        return np.array([0.0, 600.0])

    @property
    def burst_utc(self) -> np.ndarray:
        return np.array([500.0, 700.0])

    @property
    def touchdown_utc(self) -> np.ndarray:
        return np.array([1_000.0, 1_000.0])

    def at(self, moment_utc: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        height = 3_000.0 if moment_utc < 1_000.0 else 0.0
        return np.array([0.0, 5_000.0]), np.array([5_000.0, 0.0]), np.full(2, height)


TWO = Two(Plane(47.0, 20.0))
WHERE: dict[str, Any] = {"latitude_deg": 47.0, "longitude_deg": 20.0}
AT: dict[str, Any] = {"number": 1, "at_utc": 800.0, "told_utc": 800.0}
LATER: dict[str, Any] = AT | {"at_utc": 2_000.0}


@pytest.mark.parametrize(
    ("sighting", "likelier"),
    [
        (InTheSky(**AT, **WHERE, bearing_deg=2.0), 0),
        (InTheSky(**AT, **WHERE, bearing_deg=92.0, elevation_deg=31.0), 1),
        (RadioBearing(**AT, **WHERE, bearing_deg=350.0), 0),
        (RadioBearing(**LATER, **WHERE, bearing_deg=80.0), 1),
        (NotInTheSky(**AT, **WHERE, bearing_deg=5.0, elevation_deg=25.0), 1),
        (NothingHere(**LATER, latitude_deg=47.045, longitude_deg=20.0, reach_m=100.0), 1),
        (
            Looked(
                **LATER,
                shape=((47.045, 20.0),),
                area=False,
                reach_m=1_500.0,
                chance=0.7,
                listened=True,
            ),
            1,
        ),
        (
            Looked(
                **LATER,
                shape=((47.045, 20.0),),
                area=False,
                reach_m=1_500.0,
                chance=0.99,
                listened=True,
                heard=True,
            ),
            0,
        ),
        (
            Looked(
                **LATER,
                shape=((47.03, 19.9), (47.03, 20.1), (47.06, 20.0)),
                area=True,
                reach_m=50.0,
                chance=0.8,
            ),
            1,
        ),
        (CameDown(**(AT | {"at_utc": 1_010.0}), latitude_deg=47.04, longitude_deg=20.0), 0),
    ],
)
def test_each_kind_tells_two_places_apart(sighting: AnySighting | Looked, likelier: int) -> None:
    fits = log_likelihood_of_places((sighting,), TWO)
    assert fits.argmax() == likelier
    assert fits.max() - fits.min() > math.log(1.5)
    assert fits.min() >= math.log(MISTAKEN / 1_000.0)


def test_times_are_weighed_as_a_normal_distribution_that_may_be_mistaken() -> None:
    """By hand: 0.95 exp(-x^2 / 2) + 0.05 * 60 * 2.5066 / 7200, at 0 and 10 standard deviations."""
    seen = LaunchSeen(**AT | {"at_utc": 0.0}, sd_s=60.0)
    fits = log_likelihood_of_times((seen,), TWO)
    assert fits == pytest.approx([-0.0502, -6.864], abs=2e-3)


def test_a_bearing_is_that_of_the_ellipsoid() -> None:
    """Held against GeographicLib: a member 5 km north of where one stands is due north."""
    line = Geodesic.WGS84.Inverse(47.0, 20.0, *map(float, Plane(47.0, 20.0).to_latlon(5e3, 5e3)))
    assert line["azi1"] == pytest.approx(45.0, abs=0.1)
    exact = InTheSky(**AT, **WHERE, bearing_deg=0.0, bearing_sd_deg=0.2)
    assert log_likelihood_of_places((exact,), TWO)[0] == pytest.approx(0.0, abs=0.15)
