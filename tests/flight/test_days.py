"""What is told of a whole day, held against what really happened in it (simulated, invented)."""

from dataclasses import replace

import pytest

from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.season import Season, heard_of
from groundstation.simulation.season import season as whole_season
from groundstation.simulation.settings import HOME, LAUNCH_UTC, Manner, Site
from groundstation.simulation.stretches import (
    Stretch,
    drive,
    flight,
    glitch,
    indoors,
    rest,
    silence,
    tether,
    train,
)
from tests.support.days import happened, real, told
from tests.support.flights import first_is_quick

SITE = Site()
HILL = Site(latitude_deg=47.45, longitude_deg=19.95, ground_m=390.0)
INTERVALS = (20.0, 5.0, 60.0, 300.0)


def day(*made: object, interval_s: float, seed: int = 1) -> Season:
    """Pieces one after the other: each is a function of (rng, begin, place)."""
    rng = stream(seed, Stream.PLAN)
    at, where = LAUNCH_UTC - 7_200.0, HOME
    pieces: list[Stretch] = []
    for make in made:
        piece = make(rng, at, where)  # type: ignore[operator]
        pieces.append(piece)
        at, where = piece.end
    return heard_of(pieces, seed=seed, interval_s=interval_s)


def resting(seconds: float):  # type: ignore[no-untyped-def]
    return lambda rng, at, where: rest(rng, at, where, seconds)


def driving(to: Site, **how: float):  # type: ignore[no-untyped-def]
    return lambda rng, at, where: drive(rng, at, where, to, **how)


def flying(seed: int, **how: object):  # type: ignore[no-untyped-def]
    return lambda rng, at, where: flight(rng, at, where, seed=seed, **how)  # type: ignore[arg-type]


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS))
def test_a_drive_over_hills_is_no_flight(interval_s: float) -> None:
    far = Site(latitude_deg=47.9, longitude_deg=20.4, ground_m=420.0)
    season = day(
        resting(900), driving(far, hills_m=300.0), resting(900), driving(HOME, hills_m=500.0),
        interval_s=interval_s,
    )  # fmt: skip
    assert real(told(season)) == []


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS))
@pytest.mark.parametrize("seed", [1, 2])
def test_a_receiver_indoors_is_no_flight(interval_s: float, seed: int) -> None:
    season = day(
        lambda rng, at, where: indoors(rng, at, where, 4 * 3_600.0),
        interval_s=interval_s,
        seed=seed,
    )
    assert real(told(season)) == []


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS))
def test_a_tether_is_no_flight(interval_s: float) -> None:
    season = day(
        resting(900),
        lambda rng, at, where: tether(rng, at, where, 2_400.0, 150.0),
        resting(900),
        interval_s=interval_s,
    )
    assert real(told(season)) == []


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS))
def test_some_fixes_too_high_are_no_flight(interval_s: float) -> None:
    season = day(
        resting(900),
        lambda rng, at, where: glitch(rng, at, where, 3_600.0, 300.0),
        interval_s=interval_s,
    )
    assert real(told(season)) == []


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS))
def test_driven_out_flown_and_driven_home(interval_s: float) -> None:
    season = day(
        resting(900),
        driving(SITE, hills_m=150.0),
        resting(3_600),
        flying(7),
        resting(1_800),
        driving(HOME, hills_m=300.0),
        resting(3_600),
        interval_s=interval_s,
    )
    assert real(told(season)) == [*happened(season), "moved-after-landing"]


@pytest.mark.parametrize("interval_s", first_is_quick(*INTERVALS[:3]))
@pytest.mark.parametrize(("wave_m", "wave_s"), [(60.0, 900.0), (150.0, 900.0), (150.0, 500.0)])
def test_a_float_that_swings_is_no_burst(interval_s: float, wave_m: float, wave_s: float) -> None:
    season = day(
        resting(900),
        flying(5, manner=Manner.FLOAT, wave_m=wave_m, wave_s=wave_s),
        resting(900),
        interval_s=interval_s,
    )
    assert real(told(season)) == happened(season)


def test_a_train_right_after_the_touchdown() -> None:
    season = day(
        resting(900),
        flying(7),
        lambda rng, at, where: train(rng, at, where, 2_400.0),
        resting(1_800),
        interval_s=20.0,
    )
    assert real(told(season)) == [*happened(season), "moved-after-landing"]


def test_heard_from_the_ground_after_a_day_of_silence() -> None:
    whole = day(resting(900), flying(7), resting(86_400), resting(3_600), interval_s=60.0)
    until = dict(whole.happened)
    gone = [f for f in whole.heard if f.altitude_m is not None and f.altitude_m > 4_000.0]
    cut = gone[-1].time_utc
    landed = max(until.values())
    heard = tuple(f for f in whole.heard if f.time_utc <= cut or f.time_utc > landed + 86_000.0)
    alerts = told(Season(heard=heard, happened=whole.happened))
    assert real(alerts) == ["launched", "burst", "landed"]
    assert alerts[-1].time_utc > landed + 86_000.0


def test_carried_off_three_days_after_the_landing() -> None:
    season = day(
        resting(900),
        flying(7),
        resting(1_800),
        lambda _rng, at, where: silence(at, where, 3 * 86_400.0),
        resting(1_800),
        driving(HOME),
        interval_s=60.0,
    )
    assert real(told(season)) == [*happened(season), "moved-after-landing"]


def test_two_flights_three_days_apart() -> None:
    season = day(
        resting(900),
        flying(7),
        resting(1_800),
        driving(HOME),
        lambda _rng, at, where: silence(at, where, 3 * 86_400.0),
        driving(SITE),
        resting(2_400),
        flying(9),
        resting(600),
        interval_s=60.0,
    )
    first = ["launched", "burst", "landed", "moved-after-landing"]
    assert real(told(season)) == [*first, "launched", "burst", "landed"]


@pytest.mark.parametrize("hours", [1.0, -1.0])
@pytest.mark.parametrize("when", ["on the ground", "in flight"])
def test_a_clock_that_changes_by_an_hour(hours: float, when: str) -> None:
    """Daylight saving, or a zone that was set on the field."""
    at = LAUNCH_UTC - 7_200.0 + (1_200.0 if when == "on the ground" else 1_800.0 + 2_400.0)
    rng = stream(3, Stream.PLAN)
    on_ground = rest(rng, LAUNCH_UTC - 7_200.0, SITE, 1_800.0)
    flown = flight(rng, on_ground.end[0], SITE, seed=7)
    season = heard_of(
        (on_ground, flown),
        interval_s=30.0,
        clock_off_s=lambda t: 3_600.0 * hours if t > at else 0.0,
    )
    alerts = told(season)
    assert real(alerts) == happened(season)
    launched = next(one for one in alerts if one.kind.value == "launched")
    assert launched.time_utc - flown.happened[0][1] < 180.0
    points = [one.landing for one in alerts if one.landing is not None]
    assert max(abs(p.latitude_deg - SITE.latitude_deg) for p in points) < 1.5


@pytest.mark.parametrize("interval_s", [20.0, 60.0])
def test_held_up_packets_without_times_are_no_burst(interval_s: float) -> None:
    whole = day(resting(900), flying(7), resting(600), interval_s=interval_s)
    chance = stream(1, Stream.FORM)
    held_up = [
        replace(fix, received_utc=fix.received_utc + float(chance.uniform(150.0, 900.0)))
        if chance.random() < 0.5
        else fix
        for fix in whole.heard
    ]
    heard = tuple(sorted(held_up, key=lambda fix: fix.received_utc))
    season = Season(heard=heard, happened=whole.happened)
    assert real(told(season, timed=False)) == happened(whole)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "interval_s", "weeks"), [(1, 300.0, 3), (2, 60.0, 2), (4, 120.0, 3)]
)
def test_of_a_season_all_that_happened_is_told_and_nothing_else(
    seed: int, interval_s: float, weeks: int
) -> None:
    """Three weeks: five flights at four sites, drives, tests indoors and on a line, a float that
    swings, false heights, a train, days of nothing."""
    told_of = heard_of(whole_season(seed, weeks=weeks), seed=seed, interval_s=interval_s)
    alerts = told(told_of)
    assert real(alerts) == happened(told_of)
    for alert, (_, at) in zip(
        [one for one in alerts if one.kind.value in real([one])], told_of.happened, strict=True
    ):
        assert -60.0 < alert.time_utc - at < 120.0 + 5.0 * interval_s
