"""Packets through decode, gate, flight and store, beside sqlite3 writing the same rows."""

import asyncio
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.figure import Figure
from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.recordings.read_any import read_recording
from groundstation.records import Frame
from groundstation.station.core import Core
from groundstation.store.writer import Store

ROUNDS = 3
GOAL = 0.05
TABLES = ("frame", "report", "verdict", "fix", "phase", "landing", "alert", "delivery")


class _AsInLife(RehearsalClock):
    """Of the recording's time, but a rehearsal makes each estimate before the next packet."""

    rehearsal = False


def measure(recording: Path) -> list[Figure]:
    frames = read_recording(recording).frames
    ratios, rates = [], []
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as name:
            ours = Path(name) / "ours.db"
            took_s = asyncio.run(_through(frames, ours))
            plain_s = _plainly(ours, Path(name) / "plain.db")
            rates.append(len(frames) / took_s)
            ratios.append(plain_s / took_s)
    ratio = statistics.median(ratios)
    return [
        Figure(
            name="packets through the station, of sqlite3 alone writing the same rows",
            measured=f"{ratio:.3f} ({statistics.median(rates):.0f} packets/s)",
            goal=f">= {GOAL}",
            good=ratio >= GOAL,
        )
    ]


async def _through(frames: Sequence[Frame], path: Path) -> float:
    """Seconds until every frame is acknowledged, with an estimate about once a second."""
    clock = _AsInLife(frames[0].received_utc)
    flights = Flights((FlightSettings(payload="flight", trackers=(TrackerSettings(id="*"),)),))
    decoders = {frames[0].source: AprsDecoder(AprsSettings())}
    async with Store.open(path, ("nobody",)) as store:
        core = Core.of(
            flights=flights,
            decoders=decoders,
            store=store,
            wording=WordingSettings(),
            clock=clock,
        )
        left = len(frames)
        done = asyncio.Event()

        def stored() -> None:
            nonlocal left
            left -= 1
            if left == 0:
                done.set()

        working = [
            asyncio.create_task(core.pipeline.run()),
            asyncio.create_task(core.estimator.run(core.pipeline.put_estimate)),
        ]
        begun = time.perf_counter()
        for frame in frames:
            await core.pipeline.put(frame, stored)
        await done.wait()
        took_s = time.perf_counter() - begun
        for task in working:
            task.cancel()
        await asyncio.gather(*working, return_exceptions=True)
    return took_s


def _plainly(filled: Path, empty: Path) -> float:
    """Seconds that ``executemany`` takes for the rows of ``filled``, in one transaction."""
    with sqlite3.connect(filled) as source:
        tables = source.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL").fetchall()
        rows = {name: source.execute(f"SELECT * FROM {name}").fetchall() for name in TABLES}
    target = sqlite3.connect(empty)
    target.execute("PRAGMA journal_mode = WAL")
    target.execute("PRAGMA synchronous = FULL")
    for (statement,) in tables:
        target.execute(statement)
    target.commit()
    begun = time.perf_counter()
    for name, values in rows.items():
        if values:
            marks = ", ".join("?" * len(values[0]))
            target.executemany(f"INSERT INTO {name} VALUES ({marks})", values)
    target.commit()
    took_s = time.perf_counter() - begun
    target.close()
    return took_s
