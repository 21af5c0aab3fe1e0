"""A station that goes on from a snapshot is where the one that folds all anew would be."""

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchmarks.restart import core_of, filled, heard
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.recordings.read_any import read_recording
from groundstation.records import Report
from groundstation.station import restoring
from groundstation.station.core import Core
from groundstation.store import snapshots
from groundstation.store.reader import Reader
from groundstation.store.snapshots import Snapshot, load, save
from groundstation.store.writer import Store
from tests.support.flights import first_is_quick

REPLAY = Path(__file__).resolve().parents[2] / "replay"
SETTINGS = FlightSettings(
    payload="any", trackers=(TrackerSettings(id="*"),), members=100, estimate_every_s=600.0
)


def events(path: Path) -> Iterator[Observed]:
    recording = read_recording(path)
    number = 0
    for frame in recording.frames:
        for read in recording.decode(frame):
            number += 1
            if isinstance(read, Report):
                yield Observed(
                    report_id=number,
                    source=frame.source,
                    received_utc=frame.received_utc,
                    report=read,
                )


def fold(flights: Flights, told: list[Observed], clock: float) -> list[object]:
    """All that comes of ``told``, with an estimate now and then."""
    outcomes: list[object] = []
    for event in told:
        for now in ticks_between(clock, event.received_utc):
            outcomes += flights.tick(now)
        clock = event.received_utc
        outcomes += flights.observed(event)
        for payload in flights.due():
            landing = flights.estimate(payload)
            if landing is not None:
                outcomes += flights.estimated(landing)
    return outcomes


def kept(flights: Flights, path: Path) -> Snapshot:
    snapshot = Snapshot(
        seq=1,
        now_utc=0.0,
        rests_on="",
        settings="",
        states=tuple(flights.state(name) for name in flights.payloads),
        vehicles=flights.vehicles.last,
    )
    save(path, snapshot)
    again = load(path)
    assert again == snapshot
    return again


@pytest.mark.parametrize("name", first_is_quick("hard.txt", "normal.csv"))
@pytest.mark.parametrize("seed", first_is_quick(*range(3)))
def test_it_goes_on_as_if_nothing_had_been(name: str, seed: int, tmp_path: Path) -> None:
    told = list(events(REPLAY / name))
    cut = random.Random(seed).randrange(1, len(told) - 1)
    flights = Flights((SETTINGS,))
    fold(flights, told[:cut], told[0].received_utc)
    resumed = Flights((SETTINGS,))
    resumed.resume(kept(flights, tmp_path / "flights.state").states)
    rest, clock = told[cut : cut + 60], told[cut - 1].received_utc
    assert fold(resumed, rest, clock) == fold(flights, rest, clock)
    assert resumed.state("any") == flights.state("any")


@pytest.mark.slow
@pytest.mark.parametrize("name", [f"f{n:02d}" for n in (1, 3, 6, 8, 13, 19)])
def test_any_state_of_a_recorded_flight_can_be_kept(
    name: str, shared: Path, tmp_path: Path
) -> None:
    told = list(events(shared / "flights" / "tracks" / f"{name}.csv"))[::5]
    cuts = sorted(random.Random(name).sample(range(1, len(told)), 3))
    flights, begin, clock = Flights((SETTINGS,)), 0, told[0].received_utc
    for cut in cuts:
        fold(flights, told[begin:cut], clock)
        begin, clock = cut, told[cut - 1].received_utc
        kept(flights, tmp_path / "flights.state")


def test_one_of_another_program_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "flights.state"
    kept(Flights((SETTINGS,)), path)
    monkeypatch.setattr(snapshots, "program", lambda: "another")
    assert load(path) is None


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{", '{"program": 1}', '{"program": "P", "snapshot": ["Path", "/etc"]}'],
)
def test_a_damaged_one_is_none(text: str, tmp_path: Path) -> None:
    path = tmp_path / "flights.state"
    path.write_text(text.replace("P", snapshots.program(), 1))
    assert load(path) is None
    assert load(tmp_path / "missing") is None


class EndedError(Exception):
    """As by a power cut."""


async def test_what_is_ended_in_the_midst_of_folding_goes_on_from_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a board that restarts over and over, each time before it has folded all, never flies."""
    monkeypatch.setattr(restoring, "GIVE_WAY_S", -1.0)
    monkeypatch.setattr(restoring, "KEEP_S", -1.0)
    path, state, fixes = tmp_path / "station.db", tmp_path / "station.state", heard(0.5)[::120]
    await filled(path, fixes)
    now_utc = fixes[-1].received_utc + 10.0
    starts = 0
    while True:
        starts += 1
        async with Store.open(path, ("nobody",)) as store:
            core, kept_times = core_of(store, now_utc), 0

            async def keep(core: Core = core) -> None:
                nonlocal kept_times
                kept_times += 1
                await core.snapshots.keep_as_it_stands()
                if kept_times == 40:
                    raise EndedError

            with Reader(path) as reader:
                try:
                    await core.restoring.restore(reader, snapshot=load(state), keep=keep)
                except EndedError:
                    continue
        break
    assert starts > 2
    async with Store.open(path, ("nobody",)) as store:
        whole = core_of(store, now_utc)
        with Reader(path) as reader:
            await whole.restoring.restore(reader)
    assert core.flights.state("kanalas-1") == whole.flights.state("kanalas-1")
