"""What a person saw goes the way of the packets: kept, weighed, told, taken back, and all of it
again after a restart and in a replay of the database."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from click.testing import CliRunner

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.commands.tell import tell
from groundstation.config import StationSettings, flight_settings, load
from groundstation.errors import ConfigurationError, GroundstationError
from groundstation.flight.flights import Flights
from groundstation.flight.sighting_kinds import SightingKind, sighting_of
from groundstation.flight.sightings import InTheSky
from groundstation.jobs.tell import Surroundings, Told, tell_of, understood
from groundstation.recordings.read_any import read_recording
from groundstation.records import Landing, Phase
from groundstation.sources.recording_source import RecordingSettings
from groundstation.station.core import Core
from groundstation.station.overview import Overview
from groundstation.station.replay import replay
from groundstation.station.sighting_desk import Sightings
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from groundstation.web.door import new_token
from groundstation.web.server import Desks, serve
from groundstation.web.settings import AccessSettings, Role, WebSettings

TOKEN, TOKEN_HASH = new_token()
LOOK, LOOK_HASH = new_token()
WEB = WebSettings(
    port=0,
    access=(
        AccessSettings(name="Anna", token_hash=TOKEN_HASH),
        AccessSettings(name="helpers", token_hash=LOOK_HASH, role=Role.LOOK),
    ),
)
HEARD = 10
"""So many messages of the flight, until it is above the ceiling of its receiver."""
SINCE_S = 2_400.0
"""So long ago that was: it may have burst, or not."""
PAYLOAD = "kanalas-1"


@pytest.fixture
def settings(tmp_path: Path) -> StationSettings:
    made = load(None, {}, "messenger")
    return replace(made, station=replace(made.station, data_dir=tmp_path))


@asynccontextmanager
async def station(
    settings: StationSettings, path: Path, *, frames: int = 0
) -> AsyncIterator[tuple[Core, Flights, str]]:
    """A station without sources at the time of the last of so many messages: its core, its flights
    and the address of its page."""
    source = settings.source[0]
    assert isinstance(source, RecordingSettings)
    recording = read_recording(source.path)
    flights = Flights(flight_settings(settings))
    clock = RehearsalClock(recording.frames[HEARD - 1].received_utc + SINCE_S, 1e-6)
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    async with Store.open(path, ()) as store:
        core = Core.of(
            flights=flights,
            decoders={recording.frames[0].source: recording.decoder},
            store=store,
            wording=WordingSettings(),
            clock=clock,
        )
        with Reader(path) as reader:
            await core.restoring.restore(reader)
        for frame in recording.frames[:frames]:
            await core.pipeline.put(frame)
            await core.pipeline.work()
        if frames:
            await core.pipeline.tick(clock.now_utc())
            await core.pipeline.work()
        desks = Desks(sightings=Sightings(flights, core.pipeline, clock))
        overview = Overview(settings, clock, core, {})
        tasks = [
            asyncio.create_task(core.pipeline.run()),
            asyncio.create_task(serve(WEB, overview.snapshot, desks=desks, ready=ready.set_result)),
        ]
        yield core, flights, await ready
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def posted(address: str, path: str, body: dict[str, Any], token: str = TOKEN) -> Any:
    headers = {"Authorization": f"Bearer {token}"}
    async with (
        aiohttp.ClientSession(base_url=address, headers=headers) as client,
        client.post(path, json=body) as answer,
    ):
        text = await answer.text()
        return (await answer.json()) if answer.status == 200 else (answer.status, text)


async def asked(address: str) -> Any:
    headers = {"Authorization": f"Bearer {TOKEN}"}
    async with (
        aiohttp.ClientSession(base_url=address, headers=headers) as client,
        client.get("/api/state") as answer,
    ):
        [payload] = (await answer.json())["payloads"]
        return payload


def landing_of(flights: Flights) -> Landing:
    landing = flights.state(PAYLOAD).landing
    assert landing is not None
    return landing


@pytest.mark.slow
async def test_it_moves_the_estimate_and_is_weighed_again_after_a_restart_and_in_a_replay(
    settings: StationSettings, tmp_path: Path
) -> None:
    path = tmp_path / "station.db"
    seen = {"payload": PAYLOAD, "kind": "burst", "note": "a pop"}
    async with station(settings, path, frames=HEARD) as (_, flights, address):
        before = landing_of(flights)
        assert before.progress is not None
        assert before.progress.chance.burst < 0.5
        kept = await posted(address, "/api/sightings", seen)
        after = landing_of(flights)
        assert after.progress is not None
        assert after.progress.chance.burst > 0.9, "it was seen to burst"
        assert after.eta_utc < before.eta_utc - 240.0
        told = (await asked(address))["sightings"]
        assert [(one["number"], one["words"], one["who"]) for one in told] == [
            (kept["number"], "burst seen or heard", "Anna")
        ]
    async with station(settings, path) as (_, flights, address):
        assert landing_of(flights) == after
        assert (await asked(address))["sightings"] == told
    source = settings.source[0]
    assert isinstance(source, RecordingSettings)
    heard = read_recording(source.path)
    kept_all = read_recording(path, {heard.frames[0].source: heard.decoder})
    again = list(replay(kept_all, flight_settings(settings), WordingSettings()))
    landings = [one for _, one in again if isinstance(one, Landing)]
    assert landings[-1].progress is not None
    assert landings[-1].progress.chance.burst > 0.9
    async with station(settings, path) as (_, flights, address):
        taken = await posted(address, "/api/sightings/take-back", {"number": kept["number"]})
        assert taken == {"number": kept["number"]}
        back = landing_of(flights)
        assert back.progress is not None
        assert back.progress.chance.burst < 0.5
        assert (await asked(address))["sightings"] == []
        gone = await posted(address, "/api/sightings/take-back", {"number": kept["number"]})
        assert gone == (404, "there is no such sighting\n")
    async with station(settings, path) as (_, flights, _address):
        assert flights.state(PAYLOAD).sightings == ()
        assert landing_of(flights) == back


async def test_a_flight_that_was_none_is_withdrawn_kept_so_over_a_restart_and_taken_back(
    settings: StationSettings, tmp_path: Path
) -> None:
    path = tmp_path / "station.db"
    async with station(settings, path, frames=HEARD) as (core, flights, address):
        assert flights.state(PAYLOAD).motion.phase is Phase.ASCENT
        body = {"payload": PAYLOAD, "kind": "no-flight"}
        assert (await posted(address, "/api/sightings", body, LOOK))[0] == 403
        kept = await posted(address, "/api/sightings", body)
        newest = core.telling.messages[-1]
        assert newest.title == "kanalas-1: that was no flight"
        assert "Anna said so." in newest.body
        payload = await asked(address)
        assert (payload["phase"], payload["landing"]) == ("prelaunch", None)
        assert payload["instruction"]["badge"] == "Waiting"
    async with station(settings, path) as (core, flights, address):
        assert flights.state(PAYLOAD).motion.phase is Phase.PRELAUNCH
        titles = [one.title for one in core.telling.messages]
        assert titles.count("kanalas-1: that was no flight") == 1
        [told] = (await asked(address))["sightings"]
        assert (told["kind"], told["who"]) == ("no-flight", "Anna")
        await posted(address, "/api/sightings/take-back", {"number": kept["number"]})
        assert flights.state(PAYLOAD).motion.phase is Phase.ASCENT
        assert core.telling.messages[-1].title == "kanalas-1: is a flight after all"


async def test_what_can_t_be_meant_is_refused_in_words(
    settings: StationSettings, tmp_path: Path
) -> None:
    place = {"lat": 47.1, "lon": 20.3}
    async with station(settings, tmp_path / "station.db", frames=2) as (_, flights, address):
        for body, say in (
            ({"kind": "seen", **place}, "bearing_deg must be given for seen"),
            ({"kind": "seen", "bearing_deg": 400.0, **place}, "bearing_deg must be 0 to 360"),
            ({"kind": "came-down"}, "latitude_deg must be given"),
            ({"kind": "came-down", "lat": 91.0, "lon": 0.0}, "latitude_deg must be -90 to 90"),
            ({"kind": "launched", "at": "08:31"}, "at must be given as"),
            ({"kind": "launched", "at": "2020-01-01T00:00:00Z"}, "one of the last two days"),
            ({"kind": "vanished"}, "is not a valid SightingKind"),
        ):
            status, text = await posted(address, "/api/sightings", {"payload": PAYLOAD, **body})
            assert (status, say in text) == (422, True), text
        body = {"payload": "nobody", "kind": "burst"}
        assert (await posted(address, "/api/sightings", body))[0] == 404
        body = {"payload": PAYLOAD, "kind": "burst"}
        assert (await posted(address, "/api/sightings", body, LOOK))[0] == 403
        assert flights.state(PAYLOAD).sightings == ()


@pytest.mark.slow
async def test_the_command_tells_the_station_that_runs(
    settings: StationSettings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PAGE_TOKEN", TOKEN)
    async with station(settings, tmp_path / "station.db", frames=HEARD) as (_, flights, address):
        to = ["--address", address, "--token-env", "PAGE_TOKEN"]
        words = ["seen", "--bearing", "98", "--elevation", "8", "--from", "base", *to]
        done = await asyncio.to_thread(CliRunner().invoke, tell, words)
        assert done.exit_code == 0, done.output
        assert "seen in the sky towards 98°, 8° up" in done.stdout
        [one] = flights.state(PAYLOAD).sightings
        assert isinstance(one, InTheSky)
        assert (one.latitude_deg, one.longitude_deg, one.who) == (47.10, 20.30, "Anna")
        done = await asyncio.to_thread(
            CliRunner().invoke, tell, ["--take-back", str(one.number), *to]
        )
        assert done.exit_code == 0, done.output
        assert flights.state(PAYLOAD).sightings == ()


@pytest.mark.slow
async def test_while_the_station_is_off_the_command_writes_it_down(
    settings: StationSettings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "station.db"
    async with station(settings, path, frames=HEARD):
        pass
    now = RehearsalClock(read_recording(path).frames[-1].received_utc + 60.0, 1e-6)
    monkeypatch.setattr("groundstation.jobs.tell.SystemClock", lambda: now)
    monkeypatch.setattr("groundstation.jobs.tell.database", lambda *_: path)
    monkeypatch.setattr("groundstation.jobs.tell.load", lambda *_: settings)
    told = Told(
        what="burst", payload=None, at=None, place=None, bearing_deg=None, bearing_sd_deg=None,
        elevation_deg=None, note="", take_back=None,
    )  # fmt: skip
    nobody = "http://127.0.0.1:9/"
    said = await asyncio.to_thread(tell_of, told, nobody, "", tmp_path, {})
    assert "burst seen or heard" in said
    assert "counts it when it starts" in said
    with pytest.raises(GroundstationError, match="no station answers"):
        await asyncio.to_thread(tell_of, told, nobody, "", None, {})
    async with station(settings, path) as (_, flights, _address):
        [one] = flights.state(PAYLOAD).sightings
        progress = landing_of(flights).progress
        assert progress is not None
    back = replace(told, what=None, take_back=one.number)
    await asyncio.to_thread(tell_of, back, nobody, "", tmp_path, {})
    with pytest.raises(GroundstationError, match="no sighting"):
        await asyncio.to_thread(tell_of, back, nobody, "", tmp_path, {})
    async with station(settings, path) as (_, flights, _address):
        assert flights.state(PAYLOAD).sightings == ()


AROUND = Surroundings(
    payloads=("a", "b"), base=None, timezone="Europe/Budapest", now_utc=1_778_920_200.0
)
"""08:30 UTC, 10:30 in Budapest."""


@pytest.mark.parametrize(
    ("at", "moment"),
    [
        (None, None),
        ("10:29", 1_778_920_140.0),
        ("10:29:30", 1_778_920_170.0),
        ("10:35", 1_778_920_500.0 - 86_400.0),
        ("2026-05-16T08:00:00Z", 1_778_918_400.0),
        ("2026-05-16 10:00", 1_778_918_400.0),
    ],
)
def test_a_moment_is_read_as_people_write_it(at: str | None, moment: float | None) -> None:
    assert understood(typed(at=at), AROUND)[3] == moment


@pytest.mark.parametrize(
    ("typed_in", "say"),
    [
        ({"at": "noon"}, "no time such as"),
        ({"payload": None}, "give --payload, one of a, b"),
        ({"bearing_deg": 10.0}, "means nothing for launched"),
        ({"what": "seen"}, "give --bearing"),
        ({"what": "came-down"}, "give --from"),
        ({"what": "came-down", "place": "base"}, "has no .base."),
        ({"what": "came-down", "place": "here"}, "no latitude and longitude"),
        ({"what": "came-down", "place": "147.1,20.3"}, "nowhere on earth"),
    ],
)
def test_what_was_typed_wrong_is_told_with_what_to_do(typed_in: dict[str, Any], say: str) -> None:
    with pytest.raises(ConfigurationError, match=say):
        understood(typed(**typed_in), AROUND)


def typed(**changes: Any) -> Told:
    plain = Told(
        what="launched", payload="a", at=None, place=None, bearing_deg=None, bearing_sd_deg=None,
        elevation_deg=None, note="", take_back=None,
    )  # fmt: skip
    return replace(plain, **changes)


@pytest.mark.parametrize("kind", list(SightingKind))
def test_the_usual_figures_are_among_those_that_can_be_meant(kind: SightingKind) -> None:
    place = {"latitude_deg": 47.1, "longitude_deg": 20.3, "bearing_deg": 140.0}
    usual = sighting_of(kind, place, at_utc=0.0, told_utc=0.0)
    facts = {name: getattr(usual, name) for name in usual.__slots__}
    told = {**facts, **place}
    assert sighting_of(kind, told, at_utc=0.0, told_utc=0.0) == usual
