"""A week of traffic in half an hour: ``python -m benchmarks.soak --minutes 25``.

Two trackers over a broker, which fly once a day and lie about otherwise; a page that is asked each
second; state published. Prints how memory, files and the database grow, and how the page answers.
"""

import argparse
import asyncio
import contextlib
import json
import sqlite3
import statistics
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import aiohttp
import aiomqtt
import numpy as np

from benchmarks.figure import Figure
from groundstation.jsonout import iso_utc
from groundstation.simulation.flight import Truth, fly
from groundstation.simulation.profiles import Profile, settings_of
from tests.support.live_station import LiveStation
from tests.support.mosquitto import Mosquitto

DAYS = 7
DAY_S = 86_400.0
EVERY_S = 60.0
TRACKERS = ("tracker-1", "tracker-2")
FLIES_AT_S = 9.0 * 3600.0
LEAST_MINUTES = 1.1  # else it is more than the 10,000 times real time that run takes
WARM = 0.2
"""The share of the time after which memory should be flat."""

CONFIGURATION = """
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "tracker-1"
[[payload.tracker]]
id = "tracker-2"
[[source]]
name = "broker"
kind = "mqtt"
host = "127.0.0.1"
port = {port}
topics = ["soak"]
[source.decoder]
kind = "json"
[publish]
host = "127.0.0.1"
port = {port}
"""


@dataclass
class Seen:
    """What was looked at over the run, each with the share of it that was over."""

    shares: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    files: list[int] = field(default_factory=list)
    answers_ms: list[float] = field(default_factory=list)
    sent: int = 0

    def by_day(self) -> str:
        """The median memory of each day."""
        days: dict[int, list[float]] = {}
        for share, memory in zip(self.shares, self.memory_mb, strict=True):
            days.setdefault(min(int(share * DAYS), DAYS - 1), []).append(memory)
        return ", ".join(f"{statistics.median(days[day]):.1f}" for day in sorted(days))

    def slope_mb_a_day(self) -> float:
        warm = [n for n, share in enumerate(self.shares) if share > WARM]
        days = np.array([self.shares[n] * DAYS for n in warm])
        return float(np.polyfit(days, np.array([self.memory_mb[n] for n in warm]), 1)[0])


def place(truths: list[Truth], begin_utc: float, at_utc: float) -> tuple[float, float, float]:
    """Where the payload is: flying once a day, else where it lies."""
    day = min(int((at_utc - begin_utc) // DAY_S), DAYS - 1)
    truth = truths[day]
    since = at_utc - begin_utc - day * DAY_S - FLIES_AT_S
    n = int(np.clip(since, 0, len(truth.time_utc) - 1))
    return float(truth.latitude_deg[n]), float(truth.longitude_deg[n]), float(truth.altitude_m[n])


async def soak(folder: Path, minutes: float) -> tuple[Seen, Path, LiveStation]:
    seen = Seen()
    truths = [fly(settings_of(Profile.NORMAL, seed)) for seed in range(1, DAYS + 1)]
    begin_utc = float(truths[0].time_utc[0]) // DAY_S * DAY_S
    speed = DAYS * DAY_S / (60.0 * minutes)
    with Mosquitto(folder / "broker") as broker:
        station = LiveStation(folder, CONFIGURATION.format(port=broker.port), speed)
        await station.start(begin_utc)
        # What is published before it has subscribed, the broker gives to nobody.
        await station.until(lambda told: told["sources"][0]["state"] == "running")
        begun_s = time.monotonic()
        over = asyncio.Event()
        watching = asyncio.create_task(watch(station, seen, begun_s, 60.0 * minutes, over))
        async with aiomqtt.Client("127.0.0.1", broker.port) as client:
            at_utc = station.now_utc() + 60.0
            while at_utc < begin_utc + DAYS * DAY_S:
                await asyncio.sleep(max(0.0, at_utc - station.now_utc()) / speed)
                lat, lon, alt = place(truths, begin_utc, at_utc)
                for behind, tracker in enumerate(TRACKERS):
                    told = {
                        "tracker": tracker,
                        "time": iso_utc(at_utc + 5.0 * behind),
                        "lat": lat,
                        "lon": lon,
                        "alt_m": alt + 3.0 * behind,
                    }
                    await client.publish("soak", json.dumps(told), qos=1)
                    seen.sent += 1
                at_utc += EVERY_S
        await asyncio.sleep(3.0)
        over.set()
        await watching
        await station.stop()
    return seen, station.database, station


async def watch(
    station: LiveStation, seen: Seen, begun_s: float, length_s: float, over: asyncio.Event
) -> None:
    async with aiohttp.ClientSession() as client:
        while not over.is_set():
            asked_s = time.monotonic()
            with contextlib.suppress(aiohttp.ClientError, TimeoutError):
                async with client.get(f"{station.address}/api/state") as answer:
                    await answer.read()
                seen.answers_ms.append(1_000.0 * (time.monotonic() - asked_s))
            proc = Path(f"/proc/{station.pid}")
            pages = int((proc / "statm").read_text().split()[1])
            seen.shares.append((asked_s - begun_s) / length_s)
            seen.memory_mb.append(pages * 4096 / 1e6)
            seen.files.append(len(list((proc / "fd").iterdir())))
            await asyncio.sleep(1.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=25.0)
    given = parser.parse_args()
    if given.minutes < LEAST_MINUTES:
        parser.error(f"--minutes is at least {LEAST_MINUTES:g}: a station can be hurried no more")
    with tempfile.TemporaryDirectory() as folder:
        seen, database, station = asyncio.run(soak(Path(folder), given.minutes))
        with contextlib.closing(sqlite3.connect(database)) as connection:
            (frames,) = connection.execute("SELECT count(*) FROM frame").fetchone()
            kinds = Counter(
                dict(connection.execute("SELECT kind, count(*) FROM alert GROUP BY kind"))
            )
        size = database.stat().st_size
        faults = station.log.count("Traceback")
    slow = statistics.quantiles(seen.answers_ms, n=100)[98]
    slope = seen.slope_mb_a_day()
    files = statistics.mode(seen.files[: len(seen.files) // 3]), max(seen.files[-30:])
    flights = min(kinds[kind] for kind in ("launched", "burst", "landed"))
    figures = [
        Figure(name="messages kept", measured=f"{frames:,} of {seen.sent:,}", goal="all",
               good=frames == seen.sent),
        Figure(name="flights told", measured=f"{flights}", goal=f"{DAYS}", good=flights == DAYS),
        Figure(name="memory after warm-up, a day", measured=f"{slope:+.2f} MB"
               f" (by day {seen.by_day()})", goal="0.5 MB", good=slope < 0.5),
        Figure(name="open files, early and late", measured=f"{files[0]}, {files[1]}",
               goal="no more", good=files[1] <= files[0] + 2),
        Figure(name="database", measured=f"{size / 1e6:.1f} MB, {size / frames:.0f} bytes a"
               " message", goal="2,500 bytes", good=size / frames < 2_500),
        Figure(name="page, 99th percentile", measured=f"{slow:.0f} ms", goal="100 ms",
               good=slow < 100.0),
        Figure(name="faults in the log", measured=f"{faults}", goal="0", good=faults == 0),
    ]  # fmt: skip
    width = max(len(figure.name) for figure in figures)
    for figure in figures:
        mark = "ok  " if figure.good else "MISS"
        print(f"{mark}  {figure.name:{width}}  {figure.measured}  (goal {figure.goal})")
    sys.exit(0 if all(figure.good for figure in figures) else 1)


if __name__ == "__main__":
    main()
