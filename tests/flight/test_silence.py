"""What a silence is taken to mean, at each phase and height."""

from dataclasses import replace

import pytest

from groundstation.flight.alert_records import Alert, HeardAgain, SilenceCause, Silent
from groundstation.flight.instruct import instruction
from groundstation.flight.settings import (
    AlertSettings,
    BaseSettings,
    FlightSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.flight.state import FlightState
from groundstation.records import AlertKind, Report
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.settings import TrackerModel
from tests.support.flights import (
    T0,
    TRACKER,
    Told,
    first_is_quick,
    fold,
    report,
    reports_of,
    simulated,
)

BASE = BaseSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)


def settings(*trackers: TrackerSettings, **alerts: float) -> FlightSettings:
    return FlightSettings(
        payload="kanalas-1",
        trackers=trackers or (TrackerSettings(id=TRACKER, interval_s=30.0),),
        base=BASE,
        alerts=AlertSettings(**alerts),
        climbing_every_s=600.0,
        estimate_every_s=30.0,
    )


def climbing(count: int, *, every_s: float = 30.0) -> list[tuple[float, Report]]:
    out = []
    for n in range(count):
        at = n * every_s
        height = 85.0 if n < 3 else 85.0 + 5.0 * (at - 2 * every_s)
        out.append((T0 + at, report(at, height, lon=20.3 + 0.001 * n)))
    return out


def silences(told: Told) -> list[Alert]:
    return [alert for alert in told.alerts if alert.kind is AlertKind.SILENT]


def test_silence_in_ascent_is_news_after_some_intervals() -> None:
    told = fold(climbing(60), settings(), until_s=900.0)
    [silent] = silences(told)
    heard = climbing(60)[-1][0]
    assert 180.0 <= silent.time_utc - heard <= 185.0
    assert isinstance(silent.facts, Silent)
    assert silent.facts.silent_s == pytest.approx(181.0, abs=3.0)
    assert silent.facts.cause is SilenceCause.NOT_EXPECTED


def test_the_interval_is_learned() -> None:
    """Every five minutes where thirty seconds were configured: twenty minutes are patience."""
    rare = climbing(20, every_s=300.0)
    told = fold(rare, settings(), until_s=3600.0)
    late = [alert.time_utc for alert in silences(told) if alert.time_utc > rare[-1][0]]
    assert len(late) == 1
    assert 1195.0 <= late[0] - rare[-1][0] <= 1205.0


def test_each_silence_is_told_once_and_its_end_too() -> None:
    before = climbing(40)
    after = [
        (
            at + 600.0,
            replace(
                one,
                time_utc=(one.time_utc or 0.0) + 600.0,
                altitude_m=(one.altitude_m or 0.0) + 3000.0,
            ),
        )
        for at, one in climbing(60)[40:]
    ]
    told = fold(before + after, settings(), until_s=60.0)
    assert told.count(AlertKind.SILENT) == 1
    assert told.times(AlertKind.HEARD_AGAIN) == [after[0][0]]
    [again] = told.facts(HeardAgain)
    assert again.silent_s == pytest.approx(after[0][0] - before[-1][0])


def test_above_its_ceiling_silence_is_no_news() -> None:
    flight = simulated(
        replace(settings_of(Profile.CEILING, 3), tracker=TrackerModel(ceiling_m=18_000.0))
    )
    tracker = TrackerSettings(id=TRACKER, interval_s=30.0, ceiling_m=18_000.0)
    told = fold(reports_of(flight), settings(tracker))
    aloft = [
        alert for alert in silences(told) if alert.fix and (alert.fix.altitude_m or 0.0) > 16_500.0
    ]
    assert aloft == []
    assert told.count(AlertKind.LAUNCHED) == told.count(AlertKind.BURST) == 1


def test_one_tracker_stands_in_for_the_other() -> None:
    both = (
        TrackerSettings(id="Q0HAB-11", interval_s=30.0),
        TrackerSettings(id="Q0HAB-12", interval_s=60.0, kind=TrackerKind.SATELLITE),
    )
    reports = climbing(100)
    other = [
        (at + 5.0, replace(one, tracker="Q0HAB-12", time_utc=at + 4.0)) for at, one in reports[::2]
    ]
    told = fold(sorted(reports[:30] + other, key=lambda one: one[0]), settings(*both))
    assert silences(told) == []


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5))
def test_below_the_horizon_of_base_nothing_is_told_before_it_should_be_down(seed: int) -> None:
    """Base hears down to where the earth hides it: that asks for nothing."""
    flight = simulated(settings_of(Profile.NORMAL, seed))
    only_base = [
        (copy.received_utc, copy.sent) for copy in flight.heard if copy.receiver == "Q0PSZ-1"
    ]
    reports = [
        (
            at,
            Report(
                tracker=TRACKER,
                latitude_deg=sent.latitude_deg,
                longitude_deg=sent.longitude_deg,
                altitude_m=sent.altitude_m,
                time_utc=sent.time_utc,
            ),
        )
        for at, sent in only_base
    ]
    told = fold(reports, settings(), until_s=1800.0)
    last = told.last
    assert (last.altitude_m or 0.0) >= 150.0
    assert [alert for alert in silences(told) if alert.time_utc > last.received_utc] == []
    assert told.count(AlertKind.SHOULD_BE_DOWN) == 1


def test_after_the_landing_silence_is_no_news() -> None:
    flight = simulated(settings_of(Profile.NORMAL, 2))
    told = fold(reports_of(flight), settings(), until_s=7200.0)
    assert told.count(AlertKind.LANDED) == 1
    landed = told.times(AlertKind.LANDED)[0]
    assert [alert for alert in silences(told) if alert.time_utc > landed] == []


@pytest.mark.parametrize(("height_m", "told"), [(12_800.0, True), (16_000.0, False)])
def test_only_near_its_ceiling_silence_is_put_down_to_it(height_m: float, told: bool) -> None:
    """A receiver that stops at 18 km, lost in the climb at 5 m/s: three minutes later it is within
    1.5 km of that, or kilometres below."""
    tracker = TrackerSettings(id=TRACKER, interval_s=10.0, ceiling_m=18_000.0)
    steps = int(height_m / 50.0)
    heard = climbing(steps, every_s=10.0)
    assert heard[-1][1].altitude_m == pytest.approx(height_m, abs=500.0)
    assert bool(silences(fold(heard, settings(tracker), until_s=400.0))) is told


@pytest.mark.parametrize(
    ("kinds", "audible"),
    [
        ((TrackerKind.SATELLITE,), False),
        ((TrackerKind.CELLULAR, TrackerKind.SATELLITE), False),
        ((TrackerKind.SATELLITE, TrackerKind.RADIO), True),
        ((TrackerKind.RADIO,), True),
    ],
)
def test_only_a_radio_is_to_be_listened_for(kinds: tuple[TrackerKind, ...], audible: bool) -> None:
    trackers = tuple(
        TrackerSettings(id=f"Q0HAB-{n}", kind=kind) for n, kind in enumerate(kinds, start=11)
    )
    state = FlightState(payload="any")
    assert instruction(settings(*trackers), state, 0.0).audible is audible
