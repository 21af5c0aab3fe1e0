"""The station watches itself, and says so; and a dead man's switch hears of it."""

import asyncio
from pathlib import Path

import pytest
from aiohttp import web

from groundstation.alerts.base_watch import WatchSettings
from groundstation.alerts.wording import WordingSettings
from groundstation.clock import SystemClock
from groundstation.config import load
from groundstation.errors import ConfigurationError
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.settings.secret import Secret
from groundstation.sources.health import HealthRecorder
from groundstation.station.core import Core
from groundstation.station.notices import Notices
from groundstation.station.overview import Overview
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.keeper import until

CONFIGURATION = """
[station]
name = "base"
data_dir = "{folder}"
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = 9
[source.decoder]
kind = "aprs"
"""


class ByHand(SystemClock):
    """Its monotonic time passes when it is told to."""

    def __init__(self) -> None:
        super().__init__()
        self.passed_s = 1_000.0

    def monotonic_s(self) -> float:
        return self.passed_s


class Watched:
    """A station's watch without the rest of it."""

    def __init__(self, folder: Path, store: Store, settings: WatchSettings) -> None:
        path = folder / "station.toml"
        path.write_text(CONFIGURATION.format(folder=folder))
        self.clock = ByHand()
        self.health = HealthRecorder("line", "tcp", self.clock)
        tracker = TrackerSettings(id="Q0HAB-11")
        self.core = Core.of(
            flights=Flights((FlightSettings(payload="kanalas-1", trackers=(tracker,)),)),
            decoders={},
            store=store,
            wording=WordingSettings(),
            clock=self.clock,
        )
        self.overview = Overview(load(path, {}), self.clock, self.core, {"line": self.health})
        self.notices = Notices(settings, "base", self.clock, self.overview, self.core.telling.say)


def titles(path: Path) -> list[str]:
    with Reader(path) as reader:
        return [message.title for message in reversed(reader.recent_messages(20))]


async def test_what_is_wrong_is_told_once_and_when_it_is_well_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SystemClock, "is_kept", lambda _: True)
    path = tmp_path / "station.db"
    async with Store.open(path) as store:
        watched = Watched(tmp_path, store, WatchSettings(trouble_after_s=600.0))
        watched.health.opened()
        await watched.notices.look()
        watched.health.failed("it is gone.", 5.0)
        await watched.notices.look()
        watched.clock.passed_s += 599.0
        await watched.notices.look()
        assert titles(path) == []
        watched.clock.passed_s += 1.0
        await watched.notices.look()
        await watched.notices.look()
        assert titles(path) == ["base: needs you: source line"]
        watched.health.opened()
        await watched.notices.look()
        assert titles(path)[1:] == ["base: well again: source line"]
        with Reader(path) as reader:
            told = reader.recent_messages(2)[1].body
        assert "Source line is not connected: it is gone." in told
        assert "power lines" not in told


async def test_base_says_that_it_is_up_and_the_switch_is_held(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SystemClock, "is_kept", lambda _: True)
    asked = []

    async def get(request: web.Request) -> web.Response:
        asked.append(request.path)
        return web.Response(status=500 if len(asked) == 1 else 200)

    app = web.Application()
    app.router.add_get("/{path:.*}", get)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    url = f"http://127.0.0.1:{runner.addresses[0][1]}/beat"
    settings = WatchSettings(up_every_s=3_600.0, heartbeat_url=Secret(url))
    object.__setattr__(settings, "heartbeat_every_s", 0.05)
    looks: list[float] = []
    still_s = Overview.still_s

    def noted(overview: Overview) -> float:
        looks.append(still_s(overview))
        return looks[-1]

    monkeypatch.setattr(Overview, "still_s", noted)
    path = tmp_path / "station.db"
    async with Store.open(path) as store:
        watched = Watched(tmp_path, store, settings)
        running = asyncio.create_task(watched.notices.run())
        await until(lambda: len(asked) >= 3)
        # A pipeline that stands still does not hold the switch.
        watched.clock.passed_s += 100.0
        seen = len(looks)
        # Before it looks a second time, what it asked last was answered.
        await until(lambda: len(looks) >= seen + 2)
        held = len(asked)
        await until(lambda: len(looks) >= seen + 6)
        assert len(asked) == held
        assert titles(path) == ["base: base is up"]
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    await runner.cleanup()


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"up_every_s": 1.0}, "up_every_s"),
        ({"heartbeat_every_s": 1.0}, "heartbeat_every_s"),
        ({"heartbeat_url": Secret("ftp://x")}, "heartbeat_url"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, object], says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        WatchSettings(**changes)  # type: ignore[arg-type]
