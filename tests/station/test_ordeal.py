"""A flight with everything going wrong: killed twenty times, a broker restarted, a deaf target.

f19 comes by three ways at once, 100 times as fast as it was heard. What the station had not taken
when it was killed is lost on the line and the radio; the broker keeps it.
"""

import asyncio
import json
import random
import re
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.support.feeds import Feeds, Packet, configuration, read_packets, senders
from tests.support.http_target import HttpTarget
from tests.support.keeper import WAIT_S, until
from tests.support.line_server import LineServer
from tests.support.live_station import LiveStation
from tests.support.mosquitto import Mosquitto
from tests.support.pty_device import PtyDevice
from tests.support.smtp import SmtpTarget

SPEED = 100.0
KILLS = 20
DEAF_AT_S, DEAF_S = 60.0, 60.0
RUNS = "is running"
STARTING_S = 1.0
"""What a start takes, about: the station's clock begins that much late."""

TARGETS = """
[[target]]
name = "phone"
kind = "apprise"
url = {{ file = "{folder}/phone.url" }}
[[target]]
name = "mail"
kind = "apprise"
url = {{ file = "{folder}/mail.url" }}
"""

pytestmark = [pytest.mark.live, pytest.mark.slow, pytest.mark.timeout(600)]


@dataclass(frozen=True)
class Aftermath:
    database: Path
    published: list[bytes]
    by_phone: list[str]
    by_mail: list[str]
    kills: int
    log: str


async def ordeal(folder: Path, packets: list[Packet], broker: Mosquitto) -> Aftermath:
    chance = random.Random(20261125)
    device = PtyDevice(folder / "usb-radio")
    device.plug_in()
    async with LineServer() as line, HttpTarget() as phone:
        with SmtpTarget() as mail:
            (folder / "phone.url").write_text(f"json://127.0.0.1:{phone.port}/")
            (folder / "mail.url").write_text(
                f"mailto://127.0.0.1:{mail.port}/?from=base@station.example&to=car@station.example"
                "&mode=insecure"
            )
            sources = configuration(
                senders(packets),
                line_port=line.port,
                device=device.link,
                broker_port=broker.port,
                topic="f19",
            )
            station = LiveStation(folder, sources + TARGETS.format(folder=folder), SPEED)
            feeds = Feeds(line, device, broker.port, "f19")
            await feeds.session()
            begun_s = time.monotonic()

            def flight_utc() -> float:
                return packets[0].received_utc + SPEED * (time.monotonic() - begun_s - 5.0)

            async def keep_starting(kills: int) -> None:
                length_s = (packets[-1].received_utc - packets[0].received_utc) / SPEED
                moments = sorted(chance.uniform(3.0, length_s) for _ in range(kills))
                await station.start(flight_utc() + SPEED * STARTING_S, wait=False)
                runs = 0
                for number, moment in enumerate(moments):
                    await asyncio.sleep(max(0.0, begun_s + 5.0 + moment - time.monotonic()))
                    # Every other time it is on its feet, however long that takes; else as it comes.
                    if number % 2 == 0:
                        await until(lambda seen=runs: station.log.count(RUNS) > seen)  # type: ignore[misc]
                    runs = station.log.count(RUNS)
                    await station.kill()
                    await station.start(flight_utc() + SPEED * STARTING_S, wait=False)

            async def go_deaf() -> None:
                """From before the burst for a minute, for both targets; and a broker restarted."""
                await asyncio.sleep(DEAF_AT_S)
                phone.status, mail.refusing = 500, True
                await asyncio.sleep(DEAF_S / 2)
                await asyncio.to_thread(broker.terminate)
                await asyncio.sleep(1.0)
                await asyncio.to_thread(broker.start)
                await asyncio.sleep(DEAF_S / 2)
                phone.status, mail.refusing = 200, False

            publishing = asyncio.create_task(feeds.publish_forever())
            try:
                async with asyncio.TaskGroup() as group:
                    group.create_task(keep_starting(KILLS))
                    group.create_task(go_deaf())
                    for packet in packets:
                        await asyncio.sleep(max(0.0, packet.received_utc - flight_utc()) / SPEED)
                        await feeds.send(packet)
                await _everything_delivered(station, feeds)
                assert await station.stop() == 0, station.log
            finally:
                publishing.cancel()
                await station.kill()
                device.pull_out()
            return Aftermath(
                station.database,
                feeds.published,
                [body["message"] for body in phone.accepted],
                [mail.text for mail in mail.mails],
                KILLS,
                station.log,
            )


async def _everything_delivered(station: LiveStation, feeds: Feeds) -> None:
    async with asyncio.timeout(WAIT_S):
        while True:
            told = await station.state()
            if (
                told is not None
                and len(feeds.published) == len(feeds.by_broker)
                and _kept(station.database) >= set(feeds.by_broker)
                and all(target["waiting"] == 0 for target in told["targets"])
                and told["payloads"][0]["phase"] == "landed"
            ):
                return
            await asyncio.sleep(0.5)


def _kept(database: Path) -> set[bytes]:
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:
        rows = connection.execute("SELECT data FROM frame WHERE source = 'broker'")
        return {data for (data,) in rows}


@pytest.fixture(scope="module")
def aftermath(shared: Path, tmp_path_factory: pytest.TempPathFactory) -> Aftermath:
    folder = tmp_path_factory.mktemp("killed")
    packets = read_packets(shared / "flights" / "packets" / "f19.txt")
    with Mosquitto(folder / "broker") as broker:
        return asyncio.run(ordeal(folder, packets, broker))


def test_what_was_acknowledged_is_on_disk(aftermath: Aftermath) -> None:
    """The broker forgets a message when the station acknowledges it: all of them are here."""
    assert _kept(aftermath.database) == set(aftermath.published)
    assert len(aftermath.published) > 200


def test_every_position_counts_once(aftermath: Aftermath) -> None:
    """By the broker all of them came, so the flight is whole, and none of it is doubled."""
    sent = {
        (told["tracker"], told.get("time"), told["lat"], told["lon"], told["alt_m"])
        for told in map(json.loads, aftermath.published)
    }
    with sqlite3.connect(aftermath.database) as connection:
        [(fixes,)] = connection.execute("SELECT count(*) FROM fix").fetchall()
        [(ahead,)] = connection.execute(
            "SELECT count(*) FROM verdict WHERE reason = 'bad-time'"
        ).fetchall()
    # Where a busy machine starts the station slowly, its clock begins too late, and what comes then
    # is of its future.
    assert 0 <= len(sent) - fixes <= ahead


def test_it_is_still_one_flight(aftermath: Aftermath) -> None:
    with sqlite3.connect(aftermath.database) as connection:
        rows = connection.execute("SELECT kind, count(*) FROM alert GROUP BY kind").fetchall()
    kinds = dict(rows)
    assert kinds["launched"] == kinds["burst"] == kinds["landed"] == 1
    assert kinds.get("touchdown-soon", 0) <= 1
    assert kinds.keys() <= {
        "launched", "burst", "landed", "touchdown-soon", "landing-moved", "silent",
        "heard-again", "should-be-down",
    }  # fmt: skip


@pytest.mark.parametrize("target", ["phone", "mail"])
def test_every_alert_arrives_once(
    aftermath: Aftermath, target: str, record_property: Callable[[str, object], None]
) -> None:
    """But for those under way when the station was killed: those are counted as uncertain."""
    with sqlite3.connect(aftermath.database) as connection:
        rows = connection.execute(
            "SELECT body, state, uncertain FROM alert JOIN delivery ON alert.id = alert_id"
            " WHERE target = ?",
            (target,),
        ).fetchall()
    states = Counter(state for _, state, _ in rows)
    assert states["delivered"] >= 4
    assert states.keys() <= {"delivered", "superseded"}, states
    texts = aftermath.by_phone if target == "phone" else aftermath.by_mail
    heard = Counter(_id(text) for text in texts)
    uncertain = {_id(body) for body, _, uncertain in rows if uncertain}
    assert {_id(body) for body, state, _ in rows if state == "delivered"} <= heard.keys()
    twice = {one for one, times in heard.items() if times > 1}
    assert twice <= uncertain
    record_property(f"heard twice by {target}", len(twice))


def _id(text: str) -> str:
    found = re.findall(r"#([0-9a-f]{6})\b", text)
    assert found, text
    return str(found[-1])


def test_the_log_is_clean(aftermath: Aftermath) -> None:
    assert aftermath.log.count(RUNS) > aftermath.kills / 2
    assert "Traceback" not in aftermath.log
