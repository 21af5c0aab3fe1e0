"""Two receivers in networks of their own, each with its radio; a base hears them over a broker."""

import asyncio
import sqlite3
from collections import Counter
from pathlib import Path

import pytest

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.records import Report
from tests.support.feeds import Packet, kiss_frame, read_packets, senders
from tests.support.keeper import until
from tests.support.live_station import LiveStation
from tests.support.mosquitto import Mosquitto
from tests.support.namespaces import Namespaces
from tests.support.pty_device import PtyDevice

pytestmark = [pytest.mark.live, pytest.mark.slow]

SPEED = 400.0
NAMES = ("west", "east")


def receiver(trackers: str, device: PtyDevice, broker: Mosquitto, name: str) -> str:
    return f"""
[[payload]]
name = "flight"
{trackers}
[[source]]
name = "radio"
kind = "serial"
port = "{device.link}"
[source.decoder]
kind = "aprs"
framing = "ax25"
[publish]
host = "{broker.address}"
port = {broker.port}
forward = true
state = false
station = "{name}"
"""


def base(trackers: str, broker: Mosquitto) -> str:
    return f"""
[[payload]]
name = "flight"
{trackers}
[[source]]
name = "receivers"
kind = "mqtt"
host = "{broker.address}"
port = {broker.port}
topics = ["rehearsal/groundstation/frames/+"]
client_id = "base"
[source.decoder]
kind = "forwarded"
decoder = {{ kind = "aprs", framing = "ax25" }}
"""


def on_the_air(packets: list[Packet]) -> list[tuple[Packet, bytes]]:
    found = [(packet, kiss_frame(packet.line)) for packet in packets]
    return [(packet, frame) for packet, frame in found if frame is not None]


def positions(packets: list[Packet]) -> set[tuple[str, float]]:
    """What a station would take for a fix if it heard all of them itself."""
    decoder = AprsDecoder(AprsSettings())
    found = set()
    for packet in packets:
        for report in decoder.decode(packet.line, packet.received_utc):
            if isinstance(report, Report) and report.time_utc is not None:
                found.add((report.tracker, report.time_utc))
    return found


@pytest.mark.timeout(600)
async def test_the_base_ends_with_every_packet_once(shared: Path, tmp_path: Path) -> None:
    """West hears the first two thirds of a real flight, east the last two thirds. The broker is
    restarted in the middle, and then west loses its network for a while."""
    packets = read_packets(shared / "flights" / "packets" / "f06.txt")
    air = on_the_air(packets)
    third = len(air) // 3
    hears = {"west": range(2 * third), "east": range(third, len(air))}
    trackers = "".join(f'[[payload.tracker]]\nid = "{one}"\n' for one in senders(packets))
    radios = {name: PtyDevice(tmp_path / f"radio-{name}") for name in NAMES}
    for radio in radios.values():
        radio.plug_in()
    with (
        Namespaces(NAMES) as networks,
        Mosquitto(tmp_path / "broker", address=networks.address) as broker,
    ):
        stations = {
            name: LiveStation(
                tmp_path / name,
                receiver(trackers, radios[name], broker, name),
                SPEED,
                networks.inside(name),
            )
            for name in NAMES
        }
        home = LiveStation(tmp_path / "home", base(trackers, broker), SPEED)
        start = packets[0].received_utc - 15.0 * SPEED
        try:
            await home.start(start)
            for station in stations.values():
                await station.start(home.now_utc(), wait=False)
            for station in stations.values():
                await until(lambda now=station: "radio" in now.log and now.database.exists())  # type: ignore[misc]
            await asyncio.sleep(3.0)
            for number, (packet, frame) in enumerate(air):
                ahead_s = packet.received_utc - home.now_utc()
                await asyncio.sleep(max(0.0, ahead_s / SPEED))
                for name in NAMES:
                    if number in hears[name]:
                        await radios[name].put(frame)
                if number == len(air) // 2:
                    await asyncio.to_thread(broker.terminate)
                    await asyncio.sleep(0.5)
                    await asyncio.to_thread(broker.start)
                if number == len(air) // 2 + 10:
                    networks.cut("west")
                if number == len(air) // 2 + 40:
                    networks.mend("west")
            sent = Counter({name: len(numbers) for name, numbers in hears.items()})
            await until(lambda: Counter({n: len(kept(one)) for n, one in stations.items()}) == sent)
            apart = Counter({name: told_apart(one) for name, one in stations.items()})
            await until(lambda: heard(home) == apart and {"launched", "burst"} <= told(home))
            # What would be told twice or thrice comes in the same breath.
            await asyncio.sleep(1.0)
        finally:
            for station in (*stations.values(), home):
                await station.kill()
            for radio in radios.values():
                radio.pull_out()
    assert heard(home) == apart
    with sqlite3.connect(home.database) as connection:
        fixes = connection.execute("SELECT tracker, time_utc FROM fix").fetchall()
        kinds = dict(connection.execute("SELECT kind, count(*) FROM alert GROUP BY kind"))
    assert len(fixes) == len(set(fixes))
    missing = positions([packet for packet, _ in air]) - set(fixes)
    assert not missing, missing
    assert kinds["launched"] == kinds["burst"] == 1


def kept(station: LiveStation) -> list[tuple[float, bytes]]:
    """What a station holds: when it heard a frame, and the frame."""
    with sqlite3.connect(f"file:{station.database}?mode=ro", uri=True) as connection:
        return connection.execute("SELECT received_utc, data FROM frame").fetchall()


def told_apart(station: LiveStation) -> int:
    """How many of its frames differ when passed on: the same words in one millisecond are one."""
    return len({(round(received_utc, 3), data) for received_utc, data in kept(station)})


def told(home: LiveStation) -> set[str]:
    """The kinds of alerts that the base raised."""
    with sqlite3.connect(f"file:{home.database}?mode=ro", uri=True) as connection:
        return {kind for (kind,) in connection.execute("SELECT DISTINCT kind FROM alert")}


def heard(home: LiveStation) -> Counter[str]:
    """How many different frames the base holds of each receiver."""
    with sqlite3.connect(f"file:{home.database}?mode=ro", uri=True) as connection:
        rows = connection.execute(
            "SELECT receiver, count(*) FROM (SELECT DISTINCT receiver, data FROM frame)"
            " GROUP BY receiver"
        ).fetchall()
    return Counter({topic.rpartition("/")[2]: count for topic, count in rows})
