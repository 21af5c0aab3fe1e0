"""The page for friends: late, roughly, and silent once it is down."""

import asyncio
import json
import math
import random
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from groundstation.errors import ConfigurationError
from groundstation.flight.state import FlightState, Motion
from groundstation.flight.track import Point, Track
from groundstation.jsonout import iso_utc
from groundstation.language.catalogue import speaking
from groundstation.physics.geodesy import distance_m
from groundstation.publish.blur import Blur
from groundstation.publish.friends import PAGE, STATE, FriendsSettings, Telling, page_html
from groundstation.publish.friends_publisher import FriendsPublisher
from groundstation.records import Landing, Phase
from tests.support.keeper import until
from tests.support.store_samples import START_UTC, fix, landing

HERE = (47.1234, 20.5678)


# --- roughly ---------------------------------------------------------------------------------


@pytest.mark.parametrize("lat", [-89.999, -47.1, -0.001, 0.0, 47.1234, 69.9, 89.999])
@pytest.mark.parametrize("lon", [-180.0, -179.9999, 0.0, 20.5678, 179.9999])
@pytest.mark.parametrize("size_m", [100.0, 1_000.0, 25_000.0])
def test_a_place_is_within_its_square(lat: float, lon: float, size_m: float) -> None:
    """The distance by geodesy.py, which is held against GeographicLib."""
    told = Blur(size_m).place(lat, lon)
    assert -90.0 <= told[0] <= 90.0
    # Half a diagonal, and a percent for the ellipsoid.
    assert distance_m(lat, lon, *told) <= 1.01 * size_m * math.sqrt(0.5) + 1.0


def test_a_thousand_publications_tell_no_more_than_one() -> None:
    """What is told of a place that is estimated anew each minute, with an error of 50 m, is one
    square, also where the place lies right at an edge: no mean of it is nearer."""
    chance = random.Random(1)
    for _ in range(200):
        lat, lon = 47.0 + chance.random(), 20.0 + chance.random()
        blur = Blur(1_000.0)
        told = {
            blur.follow("landing", lat + chance.gauss(0, 0.00045), lon + chance.gauss(0, 0.00066))
            for _ in range(1_000)
        }
        assert len(told) == 1


def test_a_place_that_really_moves_on_changes_its_square() -> None:
    blur = Blur(1_000.0)
    told = {blur.follow("last", 47.0 + n * 0.0009, 20.0) for n in range(100)}
    assert 9 <= len(told) <= 11


def test_the_squares_are_the_same_for_every_station_and_day() -> None:
    places = [(47.0 + n / 997.0, 20.0 + n / 499.0) for n in range(500)]
    once = [Blur(1_000.0).place(*one) for one in places]
    blur = Blur(1_000.0)
    assert [blur.place(*one) for one in reversed(places)] == once[::-1]
    # Each place has one of its squares, not a mark of its own.
    assert len({Blur(25_000.0).place(*one) for one in places}) < 40


def test_the_true_place_is_anywhere_in_its_square() -> None:
    """So the mean of many different flights' errors is that of a square's uniform law."""
    chance = np.random.default_rng(1)
    off = []
    for lat, lon in chance.uniform((47.0, 20.0), (48.0, 21.0), (4_000, 2)):
        told = Blur(1_000.0).place(lat, lon)
        off.append((lat - told[0]) * 111.195)
    # Standard deviation of a uniform law on 1 km: 1 / sqrt(12).
    assert np.std(off) == pytest.approx(1.0 / math.sqrt(12.0), rel=0.05)


def test_no_blur_tells_it_as_it_is() -> None:
    assert Blur(0.0).follow("x", *HERE) == HERE


# --- late, and silent once it is down --------------------------------------------------------


def state(phase: Phase, minute: float, height_m: float, aim: Landing | None = None) -> FlightState:
    at_utc = START_UTC + 60.0 * minute
    last = replace(
        fix(1),
        time_utc=at_utc,
        latitude_deg=47.0 + 0.01 * minute,
        longitude_deg=20.0 + 0.02 * minute,
        altitude_m=height_m,
    )
    begun = replace(last, time_utc=START_UTC, latitude_deg=47.0, longitude_deg=20.0)
    points = tuple(
        Point(START_UTC + 60.0 * n, 47.0 + 0.01 * n, 20.0 + 0.02 * n, 100.0)
        for n in range(int(minute) + 1)
    )
    motion = Motion(
        phase=phase,
        first=begun,
        launch=begun,
        last=last,
        highest=replace(last, altitude_m=30_123.0),
        track=Track(points),
    )
    return FlightState(payload="kanalas-1", now_utc=at_utc, motion=motion, landing=aim)


def aim(eta_90_minutes: tuple[float, float] = (28.0, 32.0)) -> Landing:
    begin, end = (START_UTC + 60.0 * one for one in eta_90_minutes)
    return replace(landing(0), eta_90_utc=(begin, end), radius_90_m=2_130.0)


def telling(**changes: Any) -> Telling:
    return Telling(FriendsSettings(folder=Path("x"), **changes), "Kanalas flies")


def test_it_is_told_as_it_was_ten_minutes_ago() -> None:
    friends = telling()
    assert friends.look(START_UTC, [state(Phase.ASCENT, 0, 100.0)]) is None
    for minute in range(1, 13):
        told = friends.look(
            START_UTC + 60.0 * minute, [state(Phase.ASCENT, minute, 300.0 * minute, aim())]
        )
        assert (told is None) == (minute < 10)
    assert told is not None
    [flight] = told["flights"]
    assert told["as_of"] == iso_utc(START_UTC + 120.0)
    assert flight["height_m"] == 600.0
    assert (flight["lat"], flight["lon"]) == Blur(1_000.0).place(47.02, 20.04)
    # The square of the place, and nothing of where it went since.
    squares = {Blur(1_000.0).place(47.0 + 0.01 * n, 20.0 + 0.02 * n) for n in range(3)}
    assert set(flight["track"]) == squares
    # The region, rounded up, with what the square adds.
    assert flight["landing"]["radius_m"] == 3_200.0


def test_nothing_finer_than_the_squares_is_told() -> None:
    friends = telling(delay_s=0.0)
    told = friends.look(START_UTC + 600.0, [state(Phase.DESCENT, 10, 4_321.0, aim())])
    text = json.dumps(told)
    [flight] = told["flights"] if told else []
    places = [(flight["lat"], flight["lon"]), *flight["track"]]
    places.append((flight["landing"]["lat"], flight["landing"]["lon"]))
    assert all(Blur(1_000.0).place(*one) == one for one in places)
    assert "4321" not in text
    assert "region" not in text


@pytest.mark.parametrize(
    ("now", "minute"),
    [
        (state(Phase.LANDED, 30, 80.0, aim()), 30.0),
        # Nobody heard it land: after the last time at which it can have.
        (state(Phase.DESCENT, 27, 900.0, aim()), 33.0),
    ],
    ids=["landed", "silent"],
)
def test_once_it_is_down_no_place_is_told_any_more(now: FlightState, minute: float) -> None:
    friends = telling()
    for before in range(25):
        friends.look(START_UTC + 60.0 * before, [state(Phase.DESCENT, before, 9_000.0, aim())])
    told = friends.look(START_UTC + 60.0 * minute, [now])
    assert told is not None
    assert told["over"] is True
    assert told["flights"] == [
        {
            "payload": "kanalas-1",
            "launched": told["flights"][0]["launched"],
            "highest_m": 30_100.0,
            "over": True,
            "phase": "landed",
        }
    ]


def test_a_station_that_starts_after_the_landing_says_so_at_once() -> None:
    told = telling().look(START_UTC + 3_600.0, [state(Phase.LANDED, 30, 80.0, aim())])
    assert told is not None
    assert told["over"] is True


async def test_the_folder_is_written_whole_and_no_more_after_the_landing(tmp_path: Path) -> None:
    now = [START_UTC]
    states = [state(Phase.DESCENT, 10, 4_000.0, aim())]
    settings = FriendsSettings(folder=tmp_path / "friends", delay_s=0.0, every_s=10.0)
    friends = FriendsPublisher(
        settings, Telling(settings, "Kanalas"), lambda: now[0], lambda: states
    )
    object.__setattr__(settings, "every_s", 0.01)
    file = settings.folder / STATE
    task = asyncio.create_task(friends.run())

    async def seen(condition: Callable[[dict[str, Any]], bool]) -> None:
        await until(lambda: file.exists() and condition(json.loads(file.read_text())))

    await seen(lambda told: told["flights"][0]["phase"] == "descent")
    assert (settings.folder / PAGE).read_text().startswith("<!doctype html>")
    states[:] = [state(Phase.LANDED, 30, 80.0)]
    await seen(lambda told: bool(told["over"]))
    written = file.stat().st_mtime_ns
    await asyncio.sleep(0.2)
    assert file.stat().st_mtime_ns == written
    # The next flight.
    states[:] = [state(Phase.ASCENT, 1, 400.0)]
    await seen(lambda told: not told["over"])
    task.cancel()
    # A web server of another user reads it, whatever the station keeps for itself.
    assert settings.folder.stat().st_mode & 0o777 == 0o755
    assert file.stat().st_mode & 0o777 == 0o644
    assert sorted(one.name for one in settings.folder.iterdir()) == [PAGE, STATE]


# --- the page --------------------------------------------------------------------------------


def test_the_page_is_one_file_that_asks_for_its_state_only() -> None:
    html = page_html("<Kanalas> & co")
    assert "&lt;Kanalas&gt; &amp; co" in html
    assert re.findall(r'(?:src|href)="', html) == []
    policy = re.findall(r'Content-Security-Policy" content="([^"]+)"', html)[0]
    assert "default-src" in policy
    assert "sha256-" in policy
    with speaking("hu"):
        hungarian = page_html("Kanalas")
    assert '<html lang="hu">' in hungarian
    assert "Climbing" in html
    assert "Climbing" not in hungarian


@pytest.mark.parametrize(
    "wrong", [{"every_s": 1.0}, {"delay_s": -1.0}, {"blur_m": -1.0}, {"blur_m": 2.0}]
)
def test_settings_that_make_no_sense_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ConfigurationError, match=r"friends\."):
        FriendsSettings(folder=Path("x"), **wrong)
