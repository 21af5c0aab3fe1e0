"""A clock that jumps: time in the station does not, until it is followed, and then all of it."""

import json
import time
from pathlib import Path

import pytest

from groundstation import clock as clock_module
from groundstation.alerts.wording import WordingSettings
from groundstation.clock import SystemClock
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import AlertKind, Frame, Phase
from groundstation.station.core import Core
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

YEARS_S = 20 * 365.25 * 86_400.0


class Machine:
    """The machine's clocks, as a test sets them."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *, kept: bool = False) -> None:
        self.utc, self.monotonic = 1_100_000_000.0, 50.0
        monkeypatch.setattr(time, "time", lambda: self.utc)
        monkeypatch.setattr(time, "monotonic", lambda: self.monotonic)
        monkeypatch.setattr(clock_module.SystemClock, "is_kept", lambda _: kept)

    def passes(self, seconds: float) -> None:
        self.utc += seconds
        self.monotonic += seconds


def test_a_jump_is_noticed_and_followed_when_told(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch)
    clock = SystemClock()
    machine.passes(10.0)
    assert clock.now_utc() == 1_100_000_010.0
    assert clock.jumped_s() == 0.0
    machine.utc += YEARS_S
    assert clock.now_utc() == 1_100_000_010.0
    assert clock.jumped_s() == pytest.approx(YEARS_S)
    clock.follow(clock.jumped_s())
    assert clock.now_utc() == pytest.approx(1_100_000_010.0 + YEARS_S)
    assert clock.jumped_s() == 0.0
    machine.utc += 0.5
    assert clock.jumped_s() == 0.0
    assert clock.now_utc() == pytest.approx(1_100_000_010.5 + YEARS_S)


def test_it_does_not_begin_before_what_was_stored(monkeypatch: pytest.MonkeyPatch) -> None:
    Machine(monkeypatch)
    clock = SystemClock()
    clock.not_before(1_100_003_600.0)
    assert clock.now_utc() == pytest.approx(1_100_003_600.0)
    clock.not_before(1_100_000_000.0 + YEARS_S)
    assert clock.now_utc() == pytest.approx(1_100_003_600.0)
    Machine(monkeypatch, kept=True)
    clock = SystemClock()
    clock.not_before(1_100_003_600.0)
    assert clock.now_utc() == pytest.approx(1_100_000_000.0)


class Flown:
    """A station whose clock is set in the middle of a climb."""

    def __init__(self, machine: Machine, store: Store, *, timed: bool) -> None:
        self.machine = machine
        self.timed = timed
        tracker = TrackerSettings(id="Q0HAB-11", interval_s=10.0)
        self.clock = SystemClock()
        self.flights = Flights((FlightSettings(payload="kanalas-1", trackers=(tracker,)),))
        self.core = Core.of(
            flights=self.flights,
            decoders={"x": JsonDecoder(JsonSettings())},
            store=store,
            wording=WordingSettings(),
            clock=self.clock,
        )

    def message(self, height: float, true_utc: float) -> bytes:
        told = {"tracker": "Q0HAB-11", "lat": 47.1, "lon": 20.3 + height / 1e5, "alt_m": height}
        stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(true_utc))
        return json.dumps(told | ({"time": stamp} if self.timed else {})).encode()

    async def hear(self, heights: range, ahead_s: float = 0.0) -> None:
        """One packet every ten seconds; the true time is ``ahead_s`` ahead of the machine's."""
        for height in heights:
            self.machine.passes(10.0)
            data = self.message(float(height), self.machine.utc + ahead_s)
            frame = Frame(source="x", received_utc=self.clock.now_utc(), data=data)
            await self.core.pipeline.put(frame)
            await self.core.pipeline.tick(self.clock.now_utc())
            await self.core.pipeline.work()

    @property
    def kinds(self) -> list[AlertKind]:
        return [message.alert.kind for message in self.core.telling.messages]


@pytest.mark.parametrize("timed", [True, False])
async def test_a_flight_lives_through_a_jump_of_years(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, timed: bool
) -> None:
    machine = Machine(monkeypatch)
    path = tmp_path / "station.db"
    async with Store.open(path, now=lambda: 0.0) as store:
        flown = Flown(machine, store, timed=timed)
        # What the packets say is right all the time; the machine is twenty years behind.
        await flown.hear(range(100, 3_000, 50), ahead_s=0.0 if not timed else 500.0)
        assert flown.flights.state("kanalas-1").motion.phase is Phase.ASCENT
        machine.utc += YEARS_S
        await flown.hear(range(3_000, 6_000, 50), ahead_s=0.0 if not timed else 500.0 - YEARS_S)
        state = flown.flights.state("kanalas-1")
        assert state.motion.phase is Phase.ASCENT
        assert state.motion.last is not None
        assert state.motion.last.altitude_m == 5_950.0
        assert state.motion.first is not None
        assert state.motion.last.time_utc - state.motion.first.time_utc == pytest.approx(
            1_170.0, abs=15.0
        )
        assert abs(flown.clock.now_utc() - machine.utc) < 1.0
        assert flown.kinds == [AlertKind.LAUNCHED]
    # And a restart goes on with it.
    async with Store.open(path, now=lambda: 0.0) as store:
        again = Flown(machine, store, timed=timed)
        with Reader(path) as reader:
            await again.core.restoring.restore(reader)
        state = again.flights.state("kanalas-1")
        assert state.motion.phase is Phase.ASCENT
        assert state.motion.last is not None
        assert state.motion.last.altitude_m == 5_950.0
        assert again.kinds == [AlertKind.LAUNCHED]


async def test_packets_set_a_clock_that_nothing_keeps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine = Machine(monkeypatch)
    async with Store.open(tmp_path / "station.db", now=lambda: 0.0) as store:
        flown = Flown(machine, store, timed=True)
        await flown.hear(range(100, 3_000, 50), ahead_s=YEARS_S)
        assert flown.clock.now_utc() == pytest.approx(machine.utc + YEARS_S, abs=2.0)
        assert flown.flights.state("kanalas-1").motion.phase is Phase.ASCENT
        assert flown.kinds == [AlertKind.LAUNCHED]


async def test_packets_do_not_set_a_clock_that_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or anybody on the air could."""
    machine = Machine(monkeypatch, kept=True)
    async with Store.open(tmp_path / "station.db", now=lambda: 0.0) as store:
        flown = Flown(machine, store, timed=True)
        await flown.hear(range(100, 2_000, 50), ahead_s=YEARS_S)
        assert flown.clock.now_utc() == pytest.approx(machine.utc, abs=2.0)
