"""The supervisor and the health it leaves, with sources made up for the test."""

import asyncio
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from groundstation.clock import RehearsalClock, SystemClock
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.errors import SourceError
from groundstation.recordings.read_any import read_recording
from groundstation.records import Frame
from groundstation.sources.build import backoff_of
from groundstation.sources.health import QUIET_AFTER_S, HealthRecorder, SourceState
from groundstation.sources.recording_source import RecordingSettings, RecordingSource
from groundstation.sources.serial_port import SerialSettings
from groundstation.sources.source import Emit
from groundstation.sources.supervisor import BackoffSettings, supervise
from groundstation.sources.tcp_lines import TcpSettings
from tests.support.keeper import Keeper

REHEARSAL = Path(__file__).resolve().parents[2] / "groundstation" / "resources" / "rehearsal.txt"


class Failing:
    """Fails in the given ways, one a run, and then ends well."""

    name = "made-up"

    def __init__(self, *ways: Exception) -> None:
        self._ways = list(ways)
        self.runs = 0

    async def run(self, emit: Emit, health: HealthRecorder) -> None:  # noqa: ARG002
        self.runs += 1
        await asyncio.sleep(0)
        if self._ways:
            raise self._ways.pop(0)


async def test_any_failure_is_tried_again(caplog: pytest.LogCaptureFixture) -> None:
    source = Failing(SourceError("unplugged"), ZeroDivisionError("ours"), SourceError("again"))
    health = HealthRecorder("made-up", "made-up", SystemClock())
    await supervise(source, Keeper(), health, BackoffSettings(first_s=0.001))
    assert source.runs == 4
    seen = health.snapshot()
    assert (seen.state, seen.failures, seen.last_error) == (SourceState.FINISHED, 3, "again")
    assert "a fault in the program" in caplog.text
    assert "ZeroDivisionError: ours" in caplog.text


def test_pauses_grow_to_a_limit_and_differ() -> None:
    backoff = BackoffSettings(first_s=0.5, most_s=60.0)
    chance = random.Random(1)
    for failures in range(1, 2000):
        most = min(60.0, 0.5 * 2 ** min(failures - 1, 20))
        assert most / 2 <= backoff.pause_s(failures, chance) <= most
    assert len({backoff.pause_s(9, chance) for _ in range(20)}) == 20


def test_health_tells_quiet_from_receiving() -> None:
    start = 1_778_920_200.0
    clock = RehearsalClock(start, 1e-9)
    health = HealthRecorder("radio", "serial", clock)
    assert health.snapshot().state is SourceState.OPENING
    health.opened()
    assert health.snapshot().state is SourceState.RECEIVING
    old = Frame(source="radio", received_utc=clock.now_utc() - QUIET_AFTER_S - 1.0, data=b"x")
    health.received(old)
    assert health.snapshot().state is SourceState.RECEIVING  # open for less than that
    late = RehearsalClock(clock.now_utc() + QUIET_AFTER_S + 1.0, 1e-9)
    health._clock = late
    assert health.snapshot().state is SourceState.QUIET
    assert health.snapshot().since_utc == pytest.approx(start, abs=1.0)


class Stamping(Keeper):
    """Keeps how late each frame came by the station's clock, in seconds, and how late by when it
    was said to be awaited."""

    def __init__(self, clock: RehearsalClock, health: HealthRecorder) -> None:
        super().__init__()
        self.late_s: list[float] = []
        self.beside_awaited_s: set[float] = set()
        self._clock = clock
        self._health = health

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        self.late_s.append(self._clock.now_utc() - frame.received_utc)
        assert self._health.awaited_utc is not None
        self.beside_awaited_s.add(self._health.awaited_utc - frame.received_utc)
        await super().__call__(frame, stored)


async def test_a_recording_comes_in_its_own_time() -> None:
    """However slow the machine: never before its time, and nothing of it is left out."""
    frames = read_recording(REHEARSAL).frames
    clock = RehearsalClock(frames[0].received_utc, 20_000.0)
    health = HealthRecorder("rehearsal", "recording", clock)
    keeper = Stamping(clock, health)
    settings = RecordingSettings(name="rehearsal", path=REHEARSAL)
    await supervise(RecordingSource(settings, clock), keeper, health, BackoffSettings())
    assert min(keeper.late_s) >= 0.0
    assert keeper.beside_awaited_s == {0.0}
    assert health.awaited_utc is None
    assert health.snapshot().state is SourceState.FINISHED
    assert [frame.data for frame in keeper.frames] == [frame.data for frame in frames]
    assert {frame.source for frame in keeper.frames} == {"rehearsal"}


def test_a_device_is_looked_for_again_soon_and_a_server_left_in_peace() -> None:
    serial = SerialSettings(name="x", port="/dev/x", decoder=AprsSettings())
    tcp = TcpSettings(name="x", host="h", port=1, decoder=AprsSettings())
    chance = random.Random(1)
    assert max(backoff_of(serial).pause_s(n, chance) for n in range(1, 20)) <= 3.0
    assert max(backoff_of(tcp).pause_s(n, chance) for n in range(1, 20)) > 20.0
