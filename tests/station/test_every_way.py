"""The same real flight by every way at once: the same fixes, and the same alerts."""

import asyncio
import contextlib
import sqlite3
from collections import Counter
from collections.abc import AsyncIterator
from pathlib import Path

import aiohttp
import aiomqtt
import pytest
from aiohttp import web

from groundstation.clock import RehearsalClock
from groundstation.config import load
from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.records import Report
from groundstation.sources import http_poll, mailbox
from groundstation.station.station import run_station
from tests.support import ways
from tests.support.dovecot import PASSWORD, USER, Dovecot
from tests.support.feeds import Packet, kiss_frame, read_packets
from tests.support.keeper import until
from tests.support.line_server import LineServer
from tests.support.mosquitto import Mosquitto, free_port
from tests.support.pty_device import PtyDevice
from tests.support.ways import Doors, Said, way_settings

pytestmark = [pytest.mark.live, pytest.mark.slow]

SPEED = 120.0
LEAD_S = 1_200.0
AFTER_S = 240.0
INTERVAL_S = 0.2
"""How often services and the mailbox are asked: every 24 s of the station's time."""

SILENT_AFTER = "6 h"
"""Longer than the flight: a gap that a busy machine makes, at this speed, is none of the air's."""

# What is told of a moved landing point depends on the moment at which an estimate is made, and that
# on how busy the machine is.
BY_THE_MOMENT = "landing-moved"


class Leashed(RehearsalClock):
    """Goes no further than ``leash_utc``: on a busy machine a packet waits for its time, and the
    time for the packet."""

    def __init__(self, start_utc: float, speed: float) -> None:
        super().__init__(start_utc, speed)
        self.leash_utc = start_utc
        self._stood_s = 0.0

    def now_utc(self) -> float:
        now_utc = super().now_utc() - self._stood_s
        if now_utc > self.leash_utc:
            self._stood_s += now_utc - self.leash_utc
            return self.leash_utc
        return now_utc

    async def reaches(self, utc: float) -> None:
        self.leash_utc = utc
        while (ahead_s := utc - self.now_utc()) > 0.0:  # noqa: ASYNC110 - it may stand still
            await asyncio.sleep(ahead_s / self.speed)


def positions(packets: list[Packet]) -> list[Said]:
    """Each position once, in the order heard."""
    decoder = AprsDecoder(AprsSettings())
    found: dict[float, Said] = {}
    for packet in packets:
        for report in decoder.decode(packet.line, packet.received_utc):
            if isinstance(report, Report) and report.time_utc is not None:
                found.setdefault(report.time_utc, Said(packet.received_utc, report))
    return list(found.values())


def renamed(line: bytes, tracker: str) -> bytes:
    sender, _, rest = line.partition(b">")
    assert sender
    return tracker.encode() + b">" + rest


class World:
    """Everything outside the station."""

    def __init__(self, doors: Doors, lines: LineServer, columns: LineServer) -> None:
        self.said: list[Said] = []
        self._doors = doors
        self._lines = lines
        self._columns = columns

    async def serve(self, request: web.Request) -> web.Response:
        name = request.match_info["name"]
        return web.Response(text=ways.ANSWERS[name](self.said, name))

    async def send_packet(self, packet: Packet, radio: PtyDevice) -> None:
        await self._lines.send(renamed(packet.line, "Q0HAB-1") + b"\r\n")
        frame = kiss_frame(renamed(packet.line, "Q0HAB-2"))
        if frame is not None:
            await radio.put(frame)

    async def send(
        self,
        said: Said,
        client: aiohttp.ClientSession,
        broker: aiomqtt.Client,
        imap: Dovecot,
        receiver: PtyDevice,
    ) -> None:
        self.said.append(said)
        await self._columns.send(ways.as_delimited(said, "columns"))
        await receiver.put(ways.as_nmea(said))
        await broker.publish("json", ways.as_json(said, "json"), qos=1)
        await broker.publish("packed", ways.as_packed(said, "packed"), qos=1)
        await broker.publish("forwarded", ways.as_forwarded(said, "forwarded"), qos=1)
        doors, token = self._doors, {"Authorization": f"Bearer {ways.TOKEN}"}
        for port, what in (
            (doors.push_json, {"data": ways.as_json(said, "push-json"), "headers": token}),
            (doors.push_form, {"data": ways.as_form(said)}),
        ):
            async with client.post(f"http://127.0.0.1:{port}/", **what) as answer:
                assert answer.status == 200, await answer.text()
        await asyncio.to_thread(imap.put, ways.as_mail(said))


@contextlib.asynccontextmanager
async def service() -> AsyncIterator[tuple[str, web.Application]]:
    """Answers by ``app["world"]``."""
    app = web.Application()

    async def get(request: web.Request) -> web.Response:
        world: World = app["world"]
        return await world.serve(request)

    app.router.add_get("/{name}", get)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    yield f"http://127.0.0.1:{runner.addresses[0][1]}", app
    await runner.cleanup()


def configuration(sources: dict[str, str], folder: Path) -> Path:
    payloads = "".join(
        f'[[payload]]\nname = "{name}"\n[payload.alerts]\nsilent_at_least_s = "{SILENT_AFTER}"\n'
        f'[[payload.tracker]]\nid = "{name}"\n'
        for name in sources
    )
    listed = "".join(f'[[source]]\nname = "{name}"\n{text}' for name, text in sources.items())
    path = folder / "station.toml"
    path.write_text(
        f'[station]\nname = "base"\ndata_dir = "{folder}/data"\n[web]\nport = {free_port()}\n'
        f"{payloads}{listed}"
    )
    return path


@pytest.mark.timeout(600)
async def test_every_way_tells_the_same_flight(
    shared: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(http_poll, "LEAST_S", 0.01)
    monkeypatch.setattr(mailbox, "LEAST_S", 0.01)
    packets = read_packets(shared / "flights" / "packets" / "f06.txt")
    first = {said.received_utc: said for said in positions(packets)}
    radio, receiver = PtyDevice(tmp_path / "usb-radio"), PtyDevice(tmp_path / "usb-receiver")
    radio.plug_in()
    receiver.plug_in()
    with (
        Mosquitto(tmp_path / "broker") as broker,
        Dovecot(tmp_path / "imap") as imap,
    ):
        async with LineServer() as lines, LineServer() as columns, service() as (url, app):
            doors = Doors(
                line=lines.port,
                columns=columns.port,
                radio=radio.link,
                receiver=receiver.link,
                broker=broker.port,
                push_json=free_port(),
                push_form=free_port(),
                service=url,
                imap=imap.port,
                user=USER,
                password=PASSWORD,
            )
            world = app["world"] = World(doors, lines, columns)
            sources = way_settings(doors, INTERVAL_S)
            path = configuration(sources, tmp_path)
            settings = load(path, {"PUSH_TOKEN": ways.TOKEN, "MAIL_PASSWORD": PASSWORD})
            clock = Leashed(packets[0].received_utc - LEAD_S, SPEED)
            ready = asyncio.Event()
            station = asyncio.create_task(run_station(settings, clock, ready=lambda _: ready.set()))
            async with (
                aiohttp.ClientSession() as client,
                aiomqtt.Client("127.0.0.1", broker.port) as publisher,
            ):
                await ready.wait()
                await lines.connected()
                await columns.connected()
                for packet in packets:
                    await clock.reaches(packet.received_utc)
                    await world.send_packet(packet, radio)
                    said = first.get(packet.received_utc)
                    if said is not None:
                        await world.send(said, client, publisher, imap, receiver)
                await until(lambda: all(len(fixes(tmp_path, n)) == len(first) for n in sources))
                await clock.reaches(packets[-1].received_utc + AFTER_S)
            station.cancel()
            await asyncio.gather(station, return_exceptions=True)
    radio.pull_out()
    receiver.pull_out()
    told = {name: alerts(tmp_path, name) for name in sources}
    expected = fixes(tmp_path, "json")
    assert len(expected) == len(first)
    for name in sources:
        found = fixes(tmp_path, name)
        assert len(found) == len(expected), name
        # Times to the second, places to 2 m, heights to the metre: what all notations can tell.
        for mine, theirs in zip(found, expected, strict=True):
            assert mine == pytest.approx(theirs, rel=0.0, abs=1.0), name
        assert told[name] == told["json"], name
    assert told["json"]["launched"] == told["json"]["burst"] == 1


def fixes(folder: Path, payload: str) -> list[tuple[float, ...]]:
    """Time in seconds, latitude and longitude in steps of about 2 m, height in metres."""
    with sqlite3.connect(f"file:{folder}/data/rehearsal.db?mode=ro", uri=True) as connection:
        rows = connection.execute(
            "SELECT time_utc, latitude_deg, longitude_deg, altitude_m FROM fix WHERE payload = ?"
            " ORDER BY time_utc",
            (payload,),
        ).fetchall()
    return [(time, lat * 5e4, lon * 5e4, height) for time, lat, lon, height in rows]


def alerts(folder: Path, payload: str) -> Counter[str]:
    with sqlite3.connect(f"file:{folder}/data/rehearsal.db?mode=ro", uri=True) as connection:
        rows = connection.execute(
            "SELECT kind FROM alert WHERE payload = ? AND kind != ?", (payload, BY_THE_MOMENT)
        ).fetchall()
    return Counter(kind for (kind,) in rows)
