"""Real packets of 23 real flights through the live daemon, 200 to 400 times as fast as they were
heard.

Each flight comes by three ways at once, and is held against ``aprslib`` (somebody else's parser of
APRS) and against the recorded tracks.
"""

import asyncio
import csv
import sqlite3
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import aprslib
import numpy as np
import pytest
from ambiance import Atmosphere

from tests.conftest import shared_folder
from tests.support.feeds import Feeds, Packet, configuration, kiss_frame, read_packets, senders
from tests.support.keeper import WAIT_S
from tests.support.line_server import LineServer
from tests.support.live_station import LiveStation
from tests.support.mosquitto import Mosquitto
from tests.support.pty_device import PtyDevice

SLOWEST, FASTEST = 200.0, 400.0
"""Times real time. The longest flights hold hours in which nothing is heard."""

LONGEST_S = 75.0  # real seconds that a flight may take before it is hurried
AT_ONCE = 12
LEAD_S = 10.0
"""Real seconds between the start and the first packet, for the start-up."""

NAMES = [f"f{number:02d}" for number in range(3, 26)]

# Damaged copies of a position that was heard whole, and one altitude that nothing can have had.
# aprslib takes each for a position of its own; the gate does not.
NO_POSITIONS_OF_THEIR_OWN = {
    "f07": [b"/141542h4031.12N/08854.07WO202/009/A=018439"],
    "f24": [b"/154232h4039.68N/08819.31WO026/011/A=060:40"],
    "f25": [
        b"/133219h4025.00N/08850.26WO000/000/A=000839",
        b"/154846h4037.72N/08826.93WO070/058/A=088300",
    ],
}
FLOATED = {"f08"}
"""It drifted at 28 km for a quarter of an hour before it burst."""

pytestmark = [pytest.mark.live, pytest.mark.slow, pytest.mark.timeout(900)]


@dataclass(frozen=True)
class Flown:
    """What one flight left in the station."""

    packets: list[Packet]
    database: Path
    sent_by_radio: int
    sent_by_broker: list[bytes]
    exit_code: int
    log: str

    def rows(self, query: str, *values: Any) -> list[Any]:
        with sqlite3.connect(self.database) as connection:
            return connection.execute(query, values).fetchall()


async def fly(name: str, packets: list[Packet], folder: Path, broker: Mosquitto) -> Flown:
    device = PtyDevice(folder / "usb-radio")
    device.plug_in()
    length_s = packets[-1].received_utc - packets[0].received_utc
    speed = min(max(length_s / LONGEST_S, SLOWEST), FASTEST)
    try:
        async with LineServer() as line:
            station = LiveStation(
                folder,
                configuration(
                    senders(packets),
                    line_port=line.port,
                    device=device.link,
                    broker_port=broker.port,
                    topic=name,
                ),
                speed,
            )
            feeds = Feeds(line, device, broker.port, name, patient=True)
            await feeds.session()
            publishing = asyncio.create_task(feeds.publish_forever())
            try:
                await station.start(packets[0].received_utc - LEAD_S * speed)
                await line.connected()
                for packet in packets:
                    ahead_s = packet.received_utc - station.now_utc()
                    await asyncio.sleep(max(0.0, ahead_s / speed))
                    await feeds.send(packet)
                frames = len(packets) + feeds.by_radio + len(feeds.by_broker)
                await _all_stored(station, frames, speed)
                code = await station.stop()
            finally:
                publishing.cancel()
                await station.kill()
    finally:
        device.pull_out()
    return Flown(packets, station.database, feeds.by_radio, feeds.by_broker, code, station.log)


async def _all_stored(station: LiveStation, frames: int, speed: float) -> None:
    """Wait until as many frames are counted, and a moment for what follows from the last one."""
    async with asyncio.timeout(WAIT_S):
        told = await station.until(lambda told: told["counts"]["frames"] >= frames)
        then = datetime.fromisoformat(told["now"]) + timedelta(seconds=speed)
        await station.until(lambda told: datetime.fromisoformat(told["now"]) >= then)


@pytest.fixture(scope="module")
def flown(shared: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Flown]:
    folder = tmp_path_factory.mktemp("flights")

    every = {name: read_packets(shared / "flights" / "packets" / f"{name}.txt") for name in NAMES}
    longest_first = sorted(
        every.items(), key=lambda item: item[1][0].received_utc - item[1][-1].received_utc
    )

    async def all_of_them(broker: Mosquitto) -> dict[str, Flown]:
        turn = asyncio.Semaphore(AT_ONCE)

        async def one(name: str, packets: list[Packet]) -> Flown:
            async with turn:
                (folder / name).mkdir()
                return await fly(name, packets, folder / name, broker)

        async with asyncio.TaskGroup() as group:
            tasks = [group.create_task(one(name, packets)) for name, packets in longest_first]
        return {name: task.result() for (name, _), task in zip(longest_first, tasks, strict=True)}

    with Mosquitto(folder / "broker") as broker:
        return asyncio.run(all_of_them(broker))


@dataclass(frozen=True)
class Track:
    """The recorded track, cleaned by others."""

    quality: str
    time_s: "np.ndarray[Any, np.dtype[np.float64]]"
    altitude_m: "np.ndarray[Any, np.dtype[np.float64]]"

    @property
    def top(self) -> int:
        return int(np.argmax(self.altitude_m))


def track(shared: Path, name: str) -> Track:
    with (shared / "flights" / "index.csv").open() as file:
        quality = next(row["quality"] for row in csv.DictReader(file) if row["name"] == name)
    with (shared / "flights" / "tracks" / f"{name}.csv").open() as file:
        rows = list(csv.DictReader(file))
    times = np.array([np.datetime64(row["time"].rstrip("Z"), "ms") for row in rows])
    return Track(
        quality,
        times.astype("datetime64[ms]").astype(float) / 1000.0,
        np.array([float(row["alt_m"]) for row in rows]),
    )


def distinct_positions(packets: list[Packet], name: str) -> int:
    """How many positions aprslib finds, each counted once."""
    found = set()
    for packet in packets:
        if any(text in packet.line for text in NO_POSITIONS_OF_THEIR_OWN.get(name, [])):
            continue
        try:
            told = aprslib.parse(packet.line.decode("latin-1"))
        except (aprslib.ParseError, aprslib.UnknownFormat):
            continue
        if "latitude" in told:
            keys = ("from", "raw_timestamp", "latitude", "longitude", "altitude")
            found.add(tuple(told.get(key) for key in keys))
    return len(found)


@pytest.mark.parametrize("name", NAMES)
def test_every_frame_is_kept_with_its_fate(flown: dict[str, Flown], name: str) -> None:
    flight = flown[name]
    assert flight.exit_code == 0, flight.log
    assert "Traceback" not in flight.log
    kept = Counter(data for (data,) in flight.rows("SELECT data FROM frame WHERE source = 'line'"))
    assert kept == Counter(packet.line for packet in flight.packets)
    kisses = [kiss_frame(packet.line) for packet in flight.packets]
    assert flight.sent_by_radio == sum(kiss is not None for kiss in kisses)
    [(radio,)] = flight.rows("SELECT count(*) FROM frame WHERE source = 'radio'")
    assert radio == flight.sent_by_radio
    kept = Counter(data for (data,) in flight.rows("SELECT data FROM frame WHERE source='broker'"))
    assert kept == Counter(flight.sent_by_broker)
    # Every frame has a report, and every report a verdict or the reason why it has none.
    assert flight.rows("SELECT id FROM frame WHERE id NOT IN (SELECT frame_id FROM report)") == []
    assert (
        flight.rows(
            "SELECT id FROM report WHERE reason IS NULL"
            " AND id NOT IN (SELECT report_id FROM verdict)"
        )
        == []
    )
    assert flight.rows("SELECT * FROM report WHERE reason IS NOT NULL AND detail = ''") == []
    assert flight.rows("SELECT * FROM verdict WHERE standing = 'rejected' AND detail = ''") == []


@pytest.mark.parametrize("name", NAMES)
def test_every_position_counts_once(flown: dict[str, Flown], name: str) -> None:
    flight = flown[name]
    [(accepted,)] = flight.rows("SELECT count(*) FROM verdict WHERE standing != 'rejected'")
    assert accepted == distinct_positions(flight.packets, name)
    assert flight.rows("SELECT count(*) FROM fix") == [(accepted,)]


@pytest.mark.parametrize("name", NAMES)
def test_what_happened_is_told_once_and_nothing_else(
    flown: dict[str, Flown], shared: Path, name: str
) -> None:
    flight, real = flown[name], track(shared, name)
    told = flight.rows("SELECT kind, time_utc, facts FROM alert ORDER BY id")
    kinds = Counter(kind for kind, _, _ in told)
    assert kinds["launched"] == 1
    assert kinds["burst"] == 1
    # Heard, not sent: a burst counts from when the packets after the highest one arrived.
    heights = flight.rows(
        "SELECT received_utc, altitude_m FROM fix WHERE late = 0 ORDER BY report_id"
    )
    top = max(range(len(heights)), key=lambda n: heights[n][1] or 0.0)
    [burst_utc] = [at for kind, at, _ in told if kind == "burst"]
    if name not in FLOATED:
        assert heights[top][0] <= burst_utc <= heights[min(top + 2, len(heights) - 1)][0]
    assert kinds["floating"] == (1 if name in FLOATED else 0)
    assert kinds["landed"] == (1 if _rests(real) else 0)
    assert kinds["touchdown-soon"] <= 1
    assert kinds["should-be-down"] <= 1
    assert not kinds.keys() & {"still-climbing", "altitude-frozen", "trackers-disagree"}
    assert kinds["falling-slowly"] == 0
    assert kinds["falling-fast"] == (1 if _fall_rate_ms(real) > 15.4 else 0)
    assert kinds["moved-after-landing"] <= kinds["landed"]
    for kind, at, _ in told:
        if kind == "silent":
            _is_silent(flight, at)


def _rests(real: Track) -> bool:
    """Whether it was heard from the ground for some minutes (quality A: stationary fixes)."""
    down = real.altitude_m[real.top :] < real.altitude_m[-1] + 60.0
    times = real.time_s[real.top :][down]
    return bool(real.quality == "A" and len(times) >= 2)


def _fall_rate_ms(real: Track) -> float:
    """The fall rate that the descent would have had in air as at sea level (ISA by ambiance)."""
    time_s, height_m = real.time_s[real.top :], real.altitude_m[real.top :]
    rates = -np.diff(height_m) / np.diff(time_s)
    middle_m = (height_m[1:] + height_m[:-1]) / 2.0
    high = middle_m > 3_000.0
    density = Atmosphere(middle_m[high]).density
    return float(np.median(rates[high] * np.sqrt(density / 1.225)))


def _is_silent(flight: Flown, at_utc: float) -> None:
    """Nothing of the payload had come for three minutes before."""
    [(heard,)] = flight.rows("SELECT max(received_utc) FROM fix WHERE received_utc < ?", at_utc)
    assert at_utc - heard >= 170.0


def test_the_folder_is_the_expected_one() -> None:
    folder = shared_folder()
    if folder is None:
        pytest.skip("no folder of real flights")
    assert [path.stem for path in sorted((folder / "flights" / "packets").glob("*.txt"))] == NAMES
