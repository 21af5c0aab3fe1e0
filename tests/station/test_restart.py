"""A restart: what the store holds, folded again, is where the station was."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.recordings.read_any import Recording, read_recording
from groundstation.records import Frame, Phase, Report, Unreadable
from groundstation.station.core import Core
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.flights import first_is_quick

HARD = Path(__file__).resolve().parents[2] / "replay" / "hard.txt"
SETTINGS = FlightSettings(
    payload="kanalas-1", trackers=(TrackerSettings(id="*"),), members=100, estimate_every_s=60.0
)


@pytest.fixture(scope="module")
def recording() -> Recording:
    return read_recording(HARD)


@asynccontextmanager
async def working(
    path: Path, recording: Recording, now_utc: float
) -> AsyncIterator[tuple[Core, Flights]]:
    flights = Flights((SETTINGS,))
    async with Store.open(path, ("nobody",)) as store:
        core = Core.of(
            flights=flights,
            decoders={HARD.name: recording.decoder},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(now_utc, 1e-6),
        )
        with Reader(path) as reader:
            await core.restoring.restore(reader)
        task = asyncio.create_task(core.pipeline.run())
        yield core, flights
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def feed(core: Core, frames: Sequence[Frame]) -> None:
    done = asyncio.Event()
    for frame in frames[:-1]:
        await core.pipeline.put(frame)
    await core.pipeline.put(frames[-1], done.set)
    await done.wait()


@pytest.mark.parametrize("share", first_is_quick(0.8, 0.3, 1.0))
async def test_the_same_state_and_the_same_estimate(
    recording: Recording, tmp_path: Path, share: float
) -> None:
    path = tmp_path / "station.db"
    frames = recording.frames[: int(share * len(recording.frames))]
    async with working(path, recording, frames[0].received_utc) as (core, flights):
        await feed(core, frames)
        before = flights.state("kanalas-1")
        made = flights.estimate("kanalas-1")
    async with working(path, recording, frames[-1].received_utc) as (_, flights):
        after = flights.state("kanalas-1")
        assert after.motion == before.motion
        assert after.gate == before.gate
        assert flights.estimate("kanalas-1") == made
    assert made is not None
    assert after.motion.phase is not Phase.PRELAUNCH


@pytest.mark.slow
async def test_stopped_half_way_it_goes_on_as_one_flight(
    recording: Recording, tmp_path: Path
) -> None:
    frames = recording.frames
    async with working(tmp_path / "whole.db", recording, frames[0].received_utc) as (
        core,
        flights,
    ):
        await feed(core, frames)
        whole = flights.state("kanalas-1")
    path = tmp_path / "cut.db"
    for start in range(0, len(frames), len(frames) // 4):
        part = frames[start : start + len(frames) // 4]
        async with working(path, recording, part[0].received_utc) as (core, flights):
            await feed(core, part)
            state = flights.state("kanalas-1")
    assert state.motion == whole.motion
    with Reader(path) as reader, Reader(tmp_path / "whole.db") as other:
        told = [message.alert.kind for message in reader.recent_messages(100)]
        assert len(told) == len(set(reader.spoken_keys()))
        phases = [change.phase for change in reader.phases("kanalas-1")]
        assert phases == [change.phase for change in other.phases("kanalas-1")]


class Broken:
    """A decoder with a fault of ours in it."""

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        raise ZeroDivisionError(f"{len(data)} bytes at {received_utc}")


async def test_a_fault_of_ours_does_not_stop_the_station(
    recording: Recording, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The frame is kept with a reason and acknowledged, or it would come again for ever."""
    path = tmp_path / "station.db"
    frames = recording.frames[:3]
    broken = replace(recording, decoder=Broken())
    async with working(path, broken, frames[0].received_utc) as (core, _):
        await feed(core, frames)
    assert "ZeroDivisionError" in caplog.text
    with Reader(path) as reader:
        assert [frame.data for _, frame in reader.frames()] == [frame.data for frame in frames]


async def test_a_report_that_broke_the_flight_logic_does_not_break_the_restart(
    recording: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_flights: Flights, _event: object) -> None:
        raise ZeroDivisionError

    path = tmp_path / "station.db"
    frames = recording.frames[:3]
    monkeypatch.setattr(Flights, "observed", broken)
    for _ in range(2):
        async with working(path, recording, frames[0].received_utc) as (core, _):
            await feed(core, frames)


@pytest.mark.parametrize("share", first_is_quick(0.35, 0.9))
async def test_a_snapshot_saves_the_way_there_and_changes_nothing(
    recording: Recording, tmp_path: Path, share: float
) -> None:
    path = tmp_path / "station.db"
    cut = int(share * len(recording.frames))
    frames = recording.frames[: cut + 40]
    async with working(path, recording, frames[0].received_utc) as (core, flights):
        await feed(core, frames[:cut])
        with Reader(path) as reader:
            early = core.snapshots.snapshot(reader)
        assert early is not None
        await feed(core, frames[cut:])
        before = flights.state("kanalas-1")
    async with Store.open(path, ("nobody",)) as store:
        again = Flights((SETTINGS,))
        folded: list[object] = []
        observed = again.observed
        again.observed = lambda event: folded.append(event) or observed(event)  # type: ignore[func-returns-value, method-assign]
        core = Core.of(
            flights=again,
            decoders={HARD.name: recording.decoder},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(frames[-1].received_utc, 1e-6),
        )
        with Reader(path) as reader:
            await core.restoring.restore(reader, snapshot=early)
        after = again.state("kanalas-1")
    assert after.motion == before.motion
    assert after.gate == before.gate
    assert 0 < len(folded) < 80


async def test_a_snapshot_of_other_events_is_not_gone_on_from(
    recording: Recording, tmp_path: Path
) -> None:
    """As when the database was put back from an older copy."""
    frames = recording.frames[:200]
    async with working(tmp_path / "a.db", recording, frames[0].received_utc) as (core, _):
        await feed(core, frames)
        with Reader(tmp_path / "a.db") as reader:
            snapshot = core.snapshots.snapshot(reader)
    assert snapshot is not None
    path = tmp_path / "b.db"
    async with working(path, recording, frames[0].received_utc) as (core, flights):
        await feed(core, frames[:100])
        right = flights.state("kanalas-1")
    async with Store.open(path, ("nobody",)) as store:
        again = Flights((SETTINGS,))
        core = Core.of(
            flights=again,
            decoders={HARD.name: recording.decoder},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(frames[100].received_utc, 1e-6),
        )
        with Reader(path) as reader:
            await core.restoring.restore(reader, snapshot=snapshot)
    assert again.state("kanalas-1").motion == right.motion


async def test_a_payload_that_is_renamed_in_flight_is_not_launched_again(
    recording: Recording, tmp_path: Path
) -> None:
    path = tmp_path / "station.db"
    frames = recording.frames[: len(recording.frames) // 2]
    async with working(path, recording, frames[0].received_utc) as (core, _):
        await feed(core, frames)
    async with Store.open(path, ("nobody",)) as store:
        flights = Flights((replace(SETTINGS, payload="renamed"),))
        core = Core.of(
            flights=flights,
            decoders={HARD.name: recording.decoder},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(frames[-1].received_utc + 1.0, 1e-6),
        )
        with Reader(path) as reader:
            before = reader.spoken_keys()
            await core.restoring.restore(reader)
        assert flights.state("renamed").motion.phase is Phase.ASCENT
        with Reader(path) as reader:
            assert reader.spoken_keys() == before
