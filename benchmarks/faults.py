"""A real flight through the live station while things go wrong: ``python -m benchmarks.faults``.

Needs root (disks are mounted) and a folder of flights. Prints for each fault what was
acknowledged, what of that was lost, and what the phone was told; ends with 1 where anything
acknowledged was lost, or an alert was not told.
"""

import argparse
import asyncio
import contextlib
import os
import random
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path

import aiomqtt

from benchmarks.disk_faults import corrupted, full, power_cut, read_only
from benchmarks.far_away import FarAway, far_away
from benchmarks.fault_row import HEAD, Row
from benchmarks.jumping import set_wrong_by
from benchmarks.rig import BEFORE_S, Rig, kept, rig
from benchmarks.tracks import Track, read_tracks
from tests.support.line_server import LineServer
from tests.support.mosquitto import Mosquitto
from tests.support.pty_device import PtyDevice

BY_THE_MOMENT = ("landing", "silent", "heard", "touchdown", "should", "needs", "well")
"""Told or not by when an estimate is made or a packet comes; not due in every run."""

FLOOD = b"noise " * 2_000


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


async def network_gone(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """The way to the phone's service: gone, its name not told, its name refused."""
    far = rig.far
    assert far is not None
    for number in range(rounds):
        share = rig.length_s / rounds
        await asyncio.sleep(chance.uniform(0.1, 0.3) * share)
        match number % 3:
            case 0:
                far.cut()
            case 1:
                far.names = "silent"
            case _:
                far.names = "refused"
        await asyncio.sleep(0.5 * share)
        if number % 3 == 0:
            far.mend()
        far.names = "told"
        row.rounds += 1


async def clock_jumps(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """Started in 1970 without a network; right, years ahead and years behind by turns."""
    for number in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / (rounds + 1))
        years = (0.0, 3.0, 0.0, -7.0)[number % 4]
        set_wrong_by(rig.jumping, years * YEAR_S)
        row.rounds += 1
    row.note = "at the speed of life, around the burst"


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
YEAR_S = 365.25 * 86_400.0
AROUND_S = 150.0
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
    live: bool = False


KINDS = {
    "none": Kind(nothing, 1, 60.0),
    "process killed": Kind(killed, 200, 1.7),
    "power cut": Kind(power_cut, 200, 0.8),
    "disk full": Kind(full, 4, 20.0),
    "disk read-only": Kind(read_only, 1, 60.0),
    "database corrupt": Kind(corrupted, 8, 8.0, may_lose=True),
    "phone service failing": Kind(deaf_phone, 8, 12.0),
    "network and names gone": Kind(network_gone, 6, 15.0),
    "no fault, at its own speed": Kind(nothing, 1, 2.0 * AROUND_S, live=True),
    "clock jumps by years": Kind(clock_jumps, 12, 2.0 * AROUND_S / 12, live=True),
    "a source that floods": Kind(flooded, 1, 60.0, more=FLOODED),
    "broker gone": Kind(broker_gone, 1, 80.0, more=BROKERED),
    "serial adapter unplugged": Kind(unplugged, 6, 20.0, more=ON_SERIAL),
}


QUIET = {False: "none", True: "no fault, at its own speed"}


async def suffered(
    name: str, kind: Kind, rounds: int, track: Track, folder: Path, due: frozenset[str]
) -> tuple[Row, frozenset[str]]:
    """What became of it, and which alerts were told at all."""
    row = Row(name)
    if kind.live:
        track = track.around_burst(AROUND_S, time.time() + BEFORE_S)
        # Before everything it is 1970, unless nothing is to go wrong.
        os.environ["JUMPING"] = str(folder / "wrong-by")
        begins = time.time() if kind.fault is clock_jumps else 0.0
        set_wrong_by(folder / "wrong-by", -begins)
    length_s = float(track.time_s[-1] - track.time_s[0])
    speed = 1.0 if kind.live else length_s / (rounds * kind.round_s)
    async with contextlib.AsyncExitStack() as stack:
        far: FarAway | None = None
        if kind.fault is network_gone:
            far = await stack.enter_async_context(far_away(folder))
        made = await stack.enter_async_context(
            rig(folder, track, speed, kind.more, far=far, live=kind.live)
        )
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
    parser.add_argument("--every", type=float, default=0.0, help="seconds between fixes at least")
    parser.add_argument(
        "--quiet-s", type=float, default=60.0, help="for the flight without a fault"
    )
    parser.add_argument("--share", type=float, default=1.0, help="of the usual rounds")
    parser.add_argument("names", nargs="*", help="only these faults")
    given = parser.parse_args()
    track = next(one for one in read_tracks(given.flights) if one.name == given.flight)
    if given.every:
        track = track.every(given.every)
    print(HEAD)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        kinds = KINDS | {"none": Kind(nothing, 1, given.quiet_s)}
        names = list(given.names or kinds)
        # What is due is what a flight without a fault tells.
        names[:0] = [
            QUIET[live] for live in (False, True) if any(kinds[n].live == live for n in names)
        ]
        due: dict[bool, frozenset[str]] = {False: frozenset(), True: frozenset()}
        for name in dict.fromkeys(names):
            live = kinds[name].live
            rounds = max(1, round(given.share * kinds[name].rounds))
            at = Path(folder) / name.replace(" ", "-")
            at.mkdir()
            row, due[live] = asyncio.run(suffered(name, kinds[name], rounds, track, at, due[live]))
            print(row.text(), flush=True)
            rows.append(row)
    sys.exit(0 if all(row.good for row in rows) else 1)


if __name__ == "__main__":
    main()
