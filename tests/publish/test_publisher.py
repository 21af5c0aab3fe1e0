"""Two stations and a broker: what one hears the other keeps, once, through the broker's restart."""

import asyncio
import json
import sqlite3
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import aiomqtt
import pytest

from groundstation.errors import ConfigurationError
from groundstation.publish.publisher import Publisher
from groundstation.publish.settings import PublishSettings
from groundstation.records import Frame
from groundstation.store.batch import Batch
from groundstation.store.writer import Store
from tests.support.feeds import Packet, read_packets, senders
from tests.support.keeper import WAIT_S, until
from tests.support.line_server import LineServer
from tests.support.live_station import LiveStation
from tests.support.mosquitto import Mosquitto

RETAINED = {"fix", "phase", "landing"}
SPEED = 600.0
REHEARSAL = Path(__file__).resolve().parents[2] / "groundstation" / "resources" / "rehearsal.txt"


def receiver(packets: list[Packet], line_port: int, broker: Mosquitto, name: str) -> str:
    trackers = "".join(f'[[payload.tracker]]\nid = "{one}"\n' for one in senders(packets))
    return f"""
[[payload]]
name = "kanalas-1"
{trackers}
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = {line_port}
[source.decoder]
kind = "aprs"
[publish]
host = "127.0.0.1"
port = {broker.port}
forward = true
state = false
station = "{name}"
"""


def base(packets: list[Packet], broker: Mosquitto) -> str:
    trackers = "".join(f'[[payload.tracker]]\nid = "{one}"\n' for one in senders(packets))
    return f"""
[[payload]]
name = "kanalas-1"
{trackers}
[[source]]
name = "receivers"
kind = "mqtt"
host = "127.0.0.1"
port = {broker.port}
topics = ["rehearsal/groundstation/frames/+"]
[source.decoder]
kind = "forwarded"
decoder = {{ kind = "aprs" }}
[publish]
host = "127.0.0.1"
port = {broker.port}
"""


def rows(database: Path, query: str) -> list[Any]:
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:
        return connection.execute(query).fetchall()


def kept(database: Path) -> list[Any]:
    return rows(database, "SELECT received_utc, data FROM frame")


def told_apart(database: Path) -> int:
    """How many frames differ when passed on: the same words in one millisecond are one."""
    return len({(round(received_utc, 3), bytes(data)) for received_utc, data in kept(database)})


@pytest.mark.live
@pytest.mark.slow
@pytest.mark.timeout(600)
async def test_a_base_merges_what_two_receivers_hear(tmp_path: Path) -> None:
    """Each hears two thirds of the packets, so a third comes by both; the broker restarts."""
    text = [line for line in REHEARSAL.read_bytes().split(b"\n") if line[:1].isdigit()]
    plain = tmp_path / "packets.txt"
    plain.write_bytes(b"\n".join(text))
    packets = read_packets(plain)
    start = packets[0].received_utc - 15.0 * SPEED
    with Mosquitto(tmp_path / "broker") as broker:
        async with LineServer() as west, LineServer() as east:
            stations = {
                "west": LiveStation(
                    tmp_path / "west", receiver(packets, west.port, broker, "west"), SPEED
                ),
                "east": LiveStation(
                    tmp_path / "east", receiver(packets, east.port, broker, "east"), SPEED
                ),
                "home": LiveStation(tmp_path / "home", base(packets, broker), SPEED),
            }
            home = stations["home"]
            try:
                await asyncio.gather(*(one.start(start) for one in stations.values()))
                await west.connected()
                await east.connected()
                sent: Counter[str] = Counter()
                for number, packet in enumerate(packets):
                    ahead_s = packet.received_utc - home.now_utc()
                    await asyncio.sleep(max(0.0, ahead_s / SPEED))
                    for name, line, left_out in (("west", west, 0), ("east", east, 1)):
                        if number % 3 != left_out:
                            sent[name] += 1
                            await line.send(packet.line + b"\r\n")
                    if number == len(packets) // 2:
                        await asyncio.to_thread(broker.terminate)
                        await asyncio.sleep(0.5)
                        await asyncio.to_thread(broker.start)

                def all_there() -> bool:
                    at_home = rows(home.database, "SELECT DISTINCT receiver, data FROM frame")
                    return all(
                        len(kept(stations[name].database)) == sent[name] for name in sent
                    ) and len(at_home) == sum(told_apart(stations[one].database) for one in sent)

                await until(all_there)
                alerts = "SELECT DISTINCT kind FROM alert"
                await until(lambda: {("launched",), ("burst",)} <= set(rows(home.database, alerts)))
                # What would be told twice comes in the same breath.
                await asyncio.sleep(1.0)
                told = await home.state()
                retained = await _retained(broker)
            finally:
                for one in stations.values():
                    await one.kill()
    # What was on its way when the broker went came twice, and is one packet all the same.
    heard = rows(home.database, "SELECT DISTINCT receiver, data FROM frame")
    by = Counter(str(name) for name, _ in heard)
    assert by == {
        f"rehearsal/groundstation/frames/{name}": told_apart(stations[name].database)
        for name in sent
    }
    assert told is not None
    assert {
        one["name"].rpartition("/")[2]: one["frames"] for one in told["sources"][0]["receivers"]
    }.keys() == sent.keys()
    # Each position counts once, whoever heard it, as if one station had heard all.
    (fixes,) = rows(home.database, "SELECT count(*), count(DISTINCT time_utc) FROM fix")
    assert fixes[0] == fixes[1]
    kinds = dict(rows(home.database, "SELECT kind, count(*) FROM alert GROUP BY kind"))
    assert kinds["launched"] == kinds["burst"] == 1
    landing = retained["rehearsal/groundstation/kanalas-1/landing"]
    assert landing["kind"] == "landing"
    assert landing["region_90"]["type"] in ("Polygon", "MultiPolygon")


async def _retained(broker: Mosquitto) -> dict[str, dict[str, Any]]:
    """What a new subscriber is told at once, until it has one of each kind."""
    found: dict[str, dict[str, Any]] = {}
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        await client.subscribe("rehearsal/groundstation/kanalas-1/#")
        async with asyncio.timeout(WAIT_S):
            async for message in client.messages:
                if message.retain:
                    assert isinstance(message.payload, bytes)
                    found[message.topic.value] = json.loads(message.payload)
                if {topic.rsplit("/", 1)[1] for topic in found} >= RETAINED:
                    return found
    return found


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"host": ""}, "host"),
        ({"prefix": "a/#"}, "prefix"),
        ({"station": ""}, "station"),
        ({"port": 0}, "port"),
        ({"key_file": Path("key.pem")}, "cert_file"),
        ({"cert_file": Path("own.pem")}, "tls is not true"),
        ({"websocket_path": "mqtt"}, "must begin with /"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, object], says: str) -> None:
    given: dict[str, object] = {"host": "127.0.0.1"}
    with pytest.raises(ConfigurationError, match=says):
        PublishSettings(**(given | changes))  # type: ignore[arg-type]


async def test_it_begins_with_what_comes_from_now_on(tmp_path: Path) -> None:
    """Flights of long ago do not go out when publishing is first asked for; after that nothing is
    left out, not even what was heard while no broker was there."""
    path = tmp_path / "station.db"

    async def keep(first_id: int) -> None:
        async with Store.open(path) as store:
            frame = Frame(source="line", received_utc=1.7e9 + first_id, data=b"%d" % first_id)
            await store.commit(Batch(frames=((first_id, frame),)))

    await keep(1)
    settings = PublishSettings(host="127.0.0.1", forward=True)
    assert Publisher(settings, path, list)._frames() == []
    await keep(5)
    again = Publisher(settings, path, list)
    assert [number for number, _ in again._frames()] == [5]


@pytest.mark.live
@pytest.mark.parametrize("way", ["certificate", "websocket"])
async def test_it_publishes_by_a_certificate_of_its_own_or_a_websocket(
    tmp_path: Path, way: str, caplog: pytest.LogCaptureFixture
) -> None:
    async with Store.open(tmp_path / "station.db"):
        pass
    proved = way == "certificate"
    with Mosquitto(
        tmp_path / "broker", tls=proved, client_certificates=proved, websockets=not proved
    ) as broker:
        mine: dict[str, Any] = {"transport": "websockets"}
        if proved:
            mine = {"tls": True, "ca_file": broker.ca_file}
            mine |= {"cert_file": broker.client_cert, "key_file": broker.client_key}
        settings = PublishSettings(host="127.0.0.1", port=broker.port, station="b", **mine)
        running = asyncio.create_task(Publisher(settings, tmp_path / "station.db", list).run())
        await until(lambda: "groundstation/stations/b" in broker.log())
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        if not proved:
            return
        # On a slow machine the first try may have had no answer in time.
        caplog.clear()
        stranger = replace(settings, cert_file=None, key_file=None)
        running = asyncio.create_task(Publisher(stranger, tmp_path / "station.db", list).run())
        await until(lambda: "want a certificate of ours" in caplog.text)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


@pytest.mark.live
async def test_the_broker_tells_that_a_station_is_gone(tmp_path: Path) -> None:
    """In order by its own word, and without a word by its last will."""
    with Mosquitto(tmp_path / "broker") as broker:
        settings = PublishSettings(host="127.0.0.1", port=broker.port, prefix="club", station="b")
        async with Store.open(tmp_path / "station.db"):
            pass
        told: list[bool] = []

        async def watched() -> None:
            async with aiomqtt.Client("127.0.0.1", broker.port) as client:
                await client.subscribe("club/stations/b", qos=1)
                async for message in client.messages:
                    assert isinstance(message.payload, bytes)
                    told.append(json.loads(message.payload)["up"])

        watching = asyncio.create_task(watched())
        for _ in range(2):
            begun = len(told)
            publisher = Publisher(settings, tmp_path / "station.db", list)
            running = asyncio.create_task(publisher.run())
            # A new subscriber is told what is retained first.
            await until(lambda at=begun: told[at:][-1:] == [True])  # type: ignore[misc]
            running.cancel()
            await until(lambda: told[-1:] == [False])
            await asyncio.gather(running, return_exceptions=True)
        begun = len(told)
        script = (
            "import asyncio, os, sys; from pathlib import Path;"
            "from groundstation.publish.publisher import Publisher;"
            "from groundstation.publish.settings import PublishSettings;"
            "settings = PublishSettings(host='127.0.0.1', port=int(sys.argv[1]), prefix='club',"
            " station='b');"
            "asyncio.run(Publisher(settings, Path(sys.argv[2]), list).run())"
        )
        killed = await asyncio.create_subprocess_exec(
            sys.executable, "-c", script, str(broker.port), str(tmp_path / "station.db")
        )
        await until(lambda: told[begun:] == [True])
        killed.kill()
        await killed.wait()
        await until(lambda: told[begun:] == [True, False])
        watching.cancel()
        await asyncio.gather(watching, return_exceptions=True)
