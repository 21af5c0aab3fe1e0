"""How long a restart takes, by how much was stored: with a snapshot, and with all folded anew.

    python -m benchmarks.restart [HOURS ...]

Each case is a tracker that was heard each second for so many hours, at home, on the road and in
flight, in a real database; processor seconds of reading it back, on this machine.
"""

import asyncio
import sys
import tempfile
import time
from pathlib import Path

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.jsonout import iso_utc
from groundstation.records import Frame
from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.season import Heard, heard_of
from groundstation.simulation.settings import HOME, LAUNCH_UTC, Site
from groundstation.simulation.stretches import drive, flight, rest
from groundstation.station.core import Core
from groundstation.store.reader import Reader
from groundstation.store.snapshots import Snapshot, load, save
from groundstation.store.writer import Store

DEFAULT_HOURS = (6.0, 24.0, 48.0)
SETTINGS = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="*", interval_s=1.0),))


def heard(hours: float) -> tuple[Heard, ...]:
    """A fix a second: at home, a drive, a flight, and at rest until the hours are full."""
    rng = stream(1, Stream.PLAN)
    at_home = rest(rng, LAUNCH_UTC - 3_600.0, HOME, 900.0)
    driven = drive(rng, *at_home.end, Site())
    flown = flight(rng, *driven.end, seed=7)
    lying_s = max(3_600.0 * hours - (flown.end[0] - LAUNCH_UTC + 3_600.0), 60.0)
    lain = rest(rng, *flown.end, lying_s)
    return heard_of((at_home, driven, flown, lain), interval_s=1.0, lost_share=0.0).heard


def frame(fix: Heard) -> Frame:
    data = (
        f'{{"tracker":"Q0HAB-11","time":"{iso_utc(fix.time_utc)}","lat":{fix.latitude_deg:.6f},'
        f'"lon":{fix.longitude_deg:.6f},"alt_m":{fix.altitude_m:.1f}}}'
    )
    return Frame(source="x", received_utc=fix.received_utc, data=data.encode())


def core_of(store: Store, now_utc: float) -> Core:
    return Core.of(
        flights=Flights((SETTINGS,)),
        decoders={"x": JsonDecoder(JsonSettings())},
        store=store,
        wording=WordingSettings(),
        clock=RehearsalClock(now_utc, 1e-6),
    )


async def filled(path: Path, fixes: tuple[Heard, ...]) -> Snapshot:
    async with Store.open(path, ("nobody",)) as store:
        core = core_of(store, fixes[0].received_utc)
        working = asyncio.create_task(core.pipeline.run())
        done = asyncio.Event()
        for fix in fixes[:-1]:
            await core.pipeline.put(frame(fix))
        await core.pipeline.put(frame(fixes[-1]), done.set)
        await done.wait()
        working.cancel()
        await asyncio.gather(working, return_exceptions=True)
        with Reader(path) as reader:
            snapshot = core.snapshots.snapshot(reader)
    assert snapshot is not None
    return snapshot


async def _restart_s(path: Path, now_utc: float, state: Path | None) -> float:
    async with Store.open(path, ("nobody",)) as store:
        begun = time.process_time()
        core = core_of(store, now_utc)
        with Reader(path) as reader:
            await core.restoring.restore(reader, snapshot=None if state is None else load(state))
        return time.process_time() - begun


def main() -> None:
    for hours in tuple(map(float, sys.argv[1:])) or DEFAULT_HOURS:
        with tempfile.TemporaryDirectory() as folder:
            path, state = Path(folder) / "station.db", Path(folder) / "station.state"
            fixes = heard(hours)
            save(state, asyncio.run(filled(path, fixes)))
            now_utc = fixes[-1].received_utc + 10.0
            quick = asyncio.run(_restart_s(path, now_utc, state))
            anew = asyncio.run(_restart_s(path, now_utc, None))
            kb = state.stat().st_size / 1_000.0
        print(
            f"{hours:4.0f} h at 1 Hz, {len(fixes):7,} fixes: {quick:5.2f} s with a snapshot"
            f" ({kb:.0f} kB), {anew:6.2f} s folded anew"
        )


if __name__ == "__main__":
    main()
