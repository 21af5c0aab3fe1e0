"""A real flight through the live station while things go wrong: ``python -m benchmarks.faults``.

Needs root (disks are mounted) and a folder of flights. Prints for each fault what was
acknowledged, what of that was lost, and what the phone was told; ends with 1 where anything
acknowledged was lost, or an alert was not told.
"""

import argparse
import asyncio
import contextlib
import random
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path

import aiomqtt

from benchmarks.rig import Rig, break_down, kept, mounted, rig, unmounted
from benchmarks.tracks import Track, read_tracks
from tests.support.line_server import LineServer
from tests.support.mosquitto import Mosquitto
from tests.support.pty_device import PtyDevice

BY_THE_MOMENT = ("landing", "silent", "heard", "touchdown", "should", "needs", "well")
"""Told or not by when an estimate is made or a packet comes; not due in every run."""

FLOOD = b"noise " * 2_000


@dataclass(slots=True)
class Row:
    """What became of one fault."""

    fault: str
    rounds: int = 0
    acknowledged: int = 0
    lost: int = 0
    due: int = 0
    delivered: int = 0
    doubled: int = 0
    outage_s: float = 0.0
    note: str = ""

    @property
    def good(self) -> bool:
        return self.lost == 0 and self.delivered == self.due and self.rounds > 0

    def text(self) -> str:
        return (
            f"{'ok  ' if self.good else 'FAIL'}  {self.fault:28} {self.rounds:6}"
            f" {self.acknowledged:12,} {self.lost:5} {self.due:4} {self.delivered:9}"
            f" {self.doubled:7} {self.outage_s:8.1f} s  {self.note}"
        )


HEAD = (
    "      fault                        rounds acknowledged  lost  due delivered doubled"
    "    longest outage"
)

Fault = Callable[[Rig, Row, random.Random, int], Awaitable[None]]


async def nothing(_rig: Rig, row: Row, _chance: random.Random, _rounds: int) -> None:
    row.rounds = 1


async def killed(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """kill -9, and started again at once."""
    for _ in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / rounds)
        await rig.station.kill()
        await rig.start()
        row.rounds += 1


async def power_cut(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """The disk as it would be found: copied without what was not synced, and opened."""
    unsynced = rig.disk / "unsynced"
    gone = 0
    for number in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / rounds)
        # A file that nobody syncs shows that the cut really takes something away.
        with unsynced.open("ab") as file:
            file.write(b"%d\n" % number)
        image = rig.folder / "cut.img"
        taken = rig.stopped_copy(image)
        if taken:
            lost, unsynced_lost = await asyncio.to_thread(_look, rig, image, taken, number + 1)
            row.lost += lost
            gone += unsynced_lost
            row.rounds += 1
    row.note = f"of a file without syncs, {gone} lines"
    if gone == 0:
        row.lost += 1
        row.note = "a file without syncs lost nothing, so this shows nothing"


def _look(rig: Rig, image: Path, taken: frozenset[bytes], lines: int) -> tuple[int, int]:
    """How many acknowledged messages, and lines of the file without syncs, the cut has taken."""
    at = rig.folder / "cut"
    mounted(image, at)
    try:
        unsynced = at / "unsynced"
        found = len(unsynced.read_bytes().split()) if unsynced.exists() else 0
        return len(taken - kept(at / "data" / "rehearsal.db")), lines - found
    finally:
        unmounted(at)
        image.unlink()


async def full(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """No room for a while."""
    filler = rig.disk / "filler"
    for _ in range(rounds):
        share = rig.length_s / rounds
        await asyncio.sleep(chance.uniform(0.1, 0.4) * share)
        with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(4096))
        await asyncio.sleep(0.4 * share)
        filler.unlink()
        row.rounds += 1
        await asyncio.sleep(0.1 * share)


async def read_only(rig: Rig, row: Row, chance: random.Random, _rounds: int) -> None:
    """The file system gives up in flight and stays read-only; alerts go out from memory."""
    await asyncio.sleep(chance.uniform(0.2, 0.5) * rig.length_s)
    break_down(rig.disk)
    rig.insists = False
    row.rounds += 1
    row.note = "nothing is acknowledged after it; alerts go on"


async def corrupted(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """Killed, two pages of its database overwritten, started again."""
    gone = 0
    for _ in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / (rounds + 1))
        await rig.station.kill()
        path = rig.station.database
        with path.open("r+b") as file:
            pages = path.stat().st_size // 4096
            for page in chance.sample(range(30, max(pages, 33)), 2):
                file.seek(page * 4096)
                file.write(chance.randbytes(4096))
        await rig.start(wait=True)
        row.rounds += 1
        gone = len(rig.acknowledged - kept(path))
    row.note = f"damaged pages took {gone} packets with them; all others were read"


async def deaf_phone(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """The service that is to tell the phone: 500, 429, slow, gone."""
    for number in range(rounds):
        share = rig.length_s / rounds
        await asyncio.sleep(chance.uniform(0.1, 0.3) * share)
        match number % 4:
            case 0:
                rig.phone.status = 500
            case 1:
                rig.phone.status = 429
            case 2:
                rig.phone.delay_s = 3.0
            case _:
                await rig.phone.stop()
        await asyncio.sleep(0.4 * share)
        rig.phone.status, rig.phone.delay_s = 200, 0.0
        if number % 4 == 3:
            await rig.phone.start()
        row.rounds += 1


async def flooded(rig: Rig, row: Row, _chance: random.Random, rounds: int) -> None:
    """A line that sends rubbish as fast as it is taken."""
    async with LineServer(FLOODED_PORT) as line:
        until = time.monotonic() + 0.8 * rig.length_s
        sent = 0
        while time.monotonic() < until:
            await line.send(FLOOD + b"\n")
            sent += len(FLOOD)
            await asyncio.sleep(0.002)
        row.rounds, row.note = rounds, f"{sent / 1e6:.0f} MB of rubbish"


async def broker_gone(rig: Rig, row: Row, _chance: random.Random, _rounds: int) -> None:
    """The same positions over a broker too, which is away for two fifths of the flight."""
    broker = Mosquitto(rig.folder / "broker", port=BROKER_PORT)
    broker.start()
    # A broker keeps nothing for a subscriber that it has never seen.
    while "running" not in await _source_states(rig, "broker"):  # noqa: ASYNC110
        await asyncio.sleep(0.2)
    begun_s = time.monotonic()

    async def publish() -> None:
        for number in range(0, len(rig.track.time_s), 10):
            body = rig.message(number, over="broker")
            while time.monotonic() - begun_s < 0.9 * rig.length_s:
                with contextlib.suppress(aiomqtt.MqttError):
                    async with aiomqtt.Client("127.0.0.1", BROKER_PORT, timeout=1.0) as client:
                        await client.publish("flight", body, qos=1)
                        rig.acknowledged.add(body)
                        break
                await asyncio.sleep(0.2)

    publishing = asyncio.create_task(publish())
    await asyncio.sleep(0.2 * rig.length_s)
    await asyncio.to_thread(broker.terminate)
    await asyncio.sleep(0.4 * rig.length_s)
    await asyncio.to_thread(broker.start)
    await publishing
    # The broker keeps what it took until the station is back.
    until = time.monotonic() + 90.0
    while time.monotonic() < until:
        if rig.acknowledged <= await asyncio.to_thread(kept, rig.station.database):
            break
        await asyncio.sleep(1.0)
    await asyncio.to_thread(broker.kill)
    row.rounds = 1
    row.note = f"away for {0.4 * rig.length_s * rig.speed / 60.0:.0f} min of the flight"


async def _source_states(rig: Rig, name: str) -> list[str]:
    told = await rig.station.state() or {"sources": []}
    return [one["state"] for one in told["sources"] if one["name"] == name]


async def unplugged(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """A serial adapter that is pulled out and put in again; a radio waits for nobody."""
    device = PtyDevice(SERIAL_LINK)
    number = heard = 0
    for _ in range(rounds):
        device.plug_in()
        before = len(await asyncio.to_thread(_over_serial, rig.station.database))
        until = time.monotonic() + chance.uniform(0.4, 0.6) * rig.length_s / rounds
        while time.monotonic() < until:
            device.offer(rig.message(number, over="serial") + b"\n")
            number += 1
            await asyncio.sleep(0.2)
        heard += len(await asyncio.to_thread(_over_serial, rig.station.database)) > before
        device.pull_out()
        await asyncio.sleep(0.3 * rig.length_s / rounds)
        row.rounds += 1
    row.note = f"heard again {heard} times"
    row.lost += row.rounds - heard


def _over_serial(database: Path) -> set[bytes]:
    return {data for data in kept(database) if b'"serial"' in data}


BROKER_PORT = 48_212
BROKERED = f"""
[[source]]
name = "broker"
kind = "mqtt"
host = "127.0.0.1"
port = {BROKER_PORT}
topics = ["flight"]
[source.decoder]
kind = "json"
time_format = "unix"
"""
SERIAL_LINK = Path(tempfile.gettempdir()) / "groundstation-faults-usb"
ON_SERIAL = f"""
[[source]]
name = "radio"
kind = "serial"
port = "{SERIAL_LINK}"
[source.decoder]
kind = "json"
time_format = "unix"
"""
FLOODED_PORT = 48_211
FLOODED = f"""
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = {FLOODED_PORT}
[source.decoder]
kind = "aprs"
"""


@dataclass(frozen=True, slots=True)
class Kind:
    """A fault, how often, and how many seconds each round takes."""

    fault: Fault
    rounds: int
    round_s: float
    more: str = ""
    may_lose: bool = False


KINDS = {
    "none": Kind(nothing, 1, 60.0),
    "process killed": Kind(killed, 200, 1.7),
    "power cut": Kind(power_cut, 200, 0.8),
    "disk full": Kind(full, 4, 20.0),
    "disk read-only": Kind(read_only, 1, 60.0),
    "database corrupt": Kind(corrupted, 8, 8.0, may_lose=True),
    "phone service failing": Kind(deaf_phone, 8, 12.0),
    "a source that floods": Kind(flooded, 1, 60.0, more=FLOODED),
    "broker gone": Kind(broker_gone, 1, 80.0, more=BROKERED),
    "serial adapter unplugged": Kind(unplugged, 6, 20.0, more=ON_SERIAL),
}


async def suffered(
    name: str, kind: Kind, rounds: int, track: Track, folder: Path, due: frozenset[str]
) -> tuple[Row, frozenset[str]]:
    """What became of it, and which alerts were told at all."""
    row = Row(name)
    speed = float(track.time_s[-1] - track.time_s[0]) / (rounds * kind.round_s)
    async with rig(folder, track, speed, kind.more) as made:
        async with asyncio.TaskGroup() as group:
            group.create_task(made.fly())
            await asyncio.sleep(6.0)
            await kind.fault(made, row, random.Random(20261126), rounds)
        await made.settled()
        row.acknowledged = len(made.acknowledged)
        if not kind.may_lose:
            row.lost += len(made.acknowledged - kept(made.station.database))
        told = made.alerts()
        due = due or frozenset(told) - set(BY_THE_MOMENT)
        row.due = len(due)
        row.delivered = sum(told[one] >= 1 for one in due)
        row.doubled = made.doubled()
        row.outage_s = made.worst_s
    return row, due


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, help="the folder with recorded flights")
    parser.add_argument("--flight", default="f01", help="which of them; at best one fix a second")
    parser.add_argument("--share", type=float, default=1.0, help="of the usual rounds")
    parser.add_argument("names", nargs="*", help="only these faults")
    given = parser.parse_args()
    track = next(one for one in read_tracks(given.flights) if one.name == given.flight)
    print(HEAD)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        due: frozenset[str] = frozenset()
        # What is due is what a flight without a fault tells.
        for name in dict.fromkeys(("none", *(given.names or KINDS))):
            rounds = max(1, round(given.share * KINDS[name].rounds))
            at = Path(folder) / name.replace(" ", "-")
            at.mkdir()
            row, due = asyncio.run(suffered(name, KINDS[name], rounds, track, at, due))
            print(row.text(), flush=True)
            rows.append(row)
    sys.exit(0 if all(row.good for row in rows) else 1)


if __name__ == "__main__":
    main()
