"""A messenger's flight as the person is told it: positions each ten minutes, no heights. The flight
is the project's own simulator's, so its truth is known."""

from functools import cache

import numpy as np
import pytest

from groundstation.alerts.phrases import phrase
from groundstation.flight.alert_records import Burst, Landed, Launched, ShouldBeDown, TouchdownSoon
from groundstation.flight.settings import (
    FlightSettings,
    PlanSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.records import AlertKind, Phase, Place, Report
from groundstation.simulation.profiles import Profile
from groundstation.simulation.simulate import SimulatedFlight
from groundstation.units import Units
from tests.flight.test_hard_cases import HOME, flight
from tests.support.flights import Told, fold

pytestmark = pytest.mark.slow

EVERY_S = 600.0
SITE = Place(latitude_deg=HOME.latitude_deg, longitude_deg=HOME.longitude_deg)
TRACKER = "messenger-1"


def messages(one: SimulatedFlight, seed: int, *, until_s: float) -> list[tuple[float, Report]]:
    """A position each ten minutes along the true track, a fifth lost in the air, two from before
    the launch, and some from the ground."""
    truth = one.truth
    rng = np.random.default_rng(seed)
    moments = np.arange(truth.launch_utc - 900.0, truth.touchdown_utc + until_s, EVERY_S)
    moments = moments + rng.uniform(-15.0, 15.0, len(moments))
    found = []
    for at in moments:
        airborne = truth.launch_utc < at < truth.touchdown_utc
        if airborne and rng.uniform() < 0.2:
            continue
        lat, lon = (
            float(np.interp(at, truth.time_utc, values))
            for values in (truth.latitude_deg, truth.longitude_deg)
        )
        report = Report(tracker=TRACKER, latitude_deg=lat, longitude_deg=lon, time_utc=float(at))
        found.append((float(at), report))
    return found


@cache
def told(seed: int) -> tuple[SimulatedFlight, Told]:
    one = flight(Profile.NORMAL, seed)
    settings = FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id="*", kind=TrackerKind.SATELLITE, interval_s=EVERY_S),),
        base=HOME,
        launch_site=SITE,
        launch_utc=one.truth.launch_utc + 1_800.0,
        plan=PlanSettings(
            burst_altitude_m=one.truth.top_m + 1_000.0,
            burst_altitude_sd_m=2_000.0,
            ascent_rate_ms=5.2,
            ascent_rate_sd_ms=0.5,
            descent_rate_ms=5.5,
            descent_rate_sd_ms=1.0,
        ),
    )
    return one, fold(messages(one, seed, until_s=3_000.0), settings)


@pytest.mark.parametrize("seed", [1, 2])
def test_launch_burst_and_landing_are_told_of_places_alone(seed: int) -> None:
    one, heard = told(seed)
    truth = one.truth
    [launched] = [a for a in heard.alerts if isinstance(a.facts, Launched)]
    assert launched.time_utc - truth.launch_utc < 3.0 * EVERY_S
    assert isinstance(launched.facts, Launched)
    assert launched.facts.ago_s is not None
    assert launched.time_utc - launched.facts.ago_s == pytest.approx(truth.launch_utc, abs=400.0)
    [burst] = [a for a in heard.alerts if isinstance(a.facts, Burst)]
    assert truth.top_utc < burst.time_utc < truth.touchdown_utc + EVERY_S
    assert "has probably burst" in phrase(burst, Units.METRIC, "").what
    [landed] = heard.times(AlertKind.LANDED)
    assert landed - truth.touchdown_utc < 2.0 * EVERY_S + 30.0
    [down] = [phrase(a, Units.METRIC, "") for a in heard.alerts if isinstance(a.facts, Landed)]
    assert "0 fixes" not in down.more
    # A satellite hears it until it lies on the ground, wherever base is.
    for soon in (a.facts for a in heard.alerts if isinstance(a.facts, TouchdownSoon)):
        assert soon.loss is None


def test_each_estimate_says_how_far_the_flight_is() -> None:
    one, heard = told(1)
    truth = one.truth
    flying = [x for x in heard.landings if x.phase in (Phase.ASCENT, Phase.DESCENT)]
    assert flying
    held = []
    for landing in flying:
        progress = landing.progress
        assert progress is not None
        chance = progress.chance
        total = chance.ascent + chance.floating + chance.descent + chance.landed
        assert total == pytest.approx(1.0)
        assert progress.height_90_m is not None
        low, high = progress.height_90_m
        height = float(np.interp(landing.time_utc, truth.time_utc, truth.altitude_m))
        held.append(low - 100.0 <= height <= high + 100.0)
        if landing.time_utc < truth.top_utc - EVERY_S:
            assert chance.burst < 0.5
        if landing.time_utc > truth.touchdown_utc:
            assert chance.ascent < 0.1
    assert np.mean(held) >= 0.7


def test_time_alone_tells_that_it_is_down() -> None:
    """The last message comes from the air; nobody is told that it has not burst yet."""
    one = flight(Profile.NORMAL, 1)
    settings = FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id="*", kind=TrackerKind.SATELLITE, interval_s=EVERY_S),),
        base=HOME,
        launch_site=SITE,
    )
    sent = [m for m in messages(one, 1, until_s=0.0) if m[0] < one.truth.top_utc - 1_200.0]
    heard = fold(sent, settings, until_s=4 * 3600.0)
    [down] = [a for a in heard.alerts if isinstance(a.facts, ShouldBeDown)]
    assert "probably down" in phrase(down, Units.METRIC, "").what
    chances = [x.progress.chance.burst for x in heard.landings if x.progress is not None]
    assert chances[-1] > 0.9
