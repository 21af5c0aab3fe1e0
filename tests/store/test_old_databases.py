"""What older versions wrote is opened, brought up to date and read (``old/README.md``)."""

import lzma
import sqlite3
from collections import Counter
from pathlib import Path

import pytest

from groundstation.flight.alert_records import Alert, Burst
from groundstation.flight.events import Estimated, Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import AlertKind, Phase
from groundstation.search.found import Condition
from groundstation.station.restart_events import said_before
from groundstation.store.migrate import steps
from groundstation.store.reader import Reader
from groundstation.store.sighting_rows import PersonTold
from groundstation.store.writer import Store
from tests.support.store_samples import packet

TOLD_ONCE = (AlertKind.LAUNCHED, AlertKind.BURST)
OLD = Path(__file__).parent / "old"
NUMBERS = range(1, len(steps()) + 1)
TRACKER = "Q0HAB-11"
TOP_M, TOUCHDOWN = 32_100.0, (47.7514, 20.3771)
"""What the simulator said of the flight."""


@pytest.fixture(params=NUMBERS)
def number(request: pytest.FixtureRequest) -> int:
    asked: int = request.param
    return asked


@pytest.fixture
def database(number: int, tmp_path: Path) -> Path:
    path = tmp_path / "station.db"
    path.write_bytes(lzma.decompress((OLD / f"{number:04d}.sqlite.xz").read_bytes()))
    return path


async def brought_up_to_date(path: Path, targets: tuple[str, ...] = ()) -> None:
    async with Store.open(path, targets):
        pass


async def test_it_is_of_its_schema_and_brought_up_to_date(number: int, database: Path) -> None:
    with sqlite3.connect(database) as plain:
        before = plain.execute("SELECT count(*) FROM _sqlite_migrations").fetchone()
    assert before == (number,)
    await brought_up_to_date(database)
    with sqlite3.connect(database) as plain:
        after = plain.execute("SELECT count(*) FROM _sqlite_migrations").fetchone()
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
    assert after == (len(steps()),)


async def test_all_of_it_is_read(number: int, database: Path) -> None:
    await brought_up_to_date(database)
    with sqlite3.connect(database) as plain:
        counts = {
            table: plain.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("frame", "fix", "phase", "landing", "alert")
        }
    with Reader(database) as reader:
        assert reader.payloads() == ("kanalas-1",)
        frames = list(reader.frames())
        assert len(frames) == counts["frame"] == 136
        assert all(b"Q0HAB-11>" in one.data for _, one in frames if b"!" in one.data)
        fixes = [fix for _, fix in reader.fixes("kanalas-1")]
        assert len(fixes) == counts["fix"] == 46
        highest = max(fix.altitude_m or 0.0 for fix in fixes)
        assert TOP_M - 1_000.0 < highest <= TOP_M + 100.0
        assert {fix.tracker for fix in fixes} == {TRACKER}
        phases = [change.phase for change in reader.phases("kanalas-1")]
        assert phases == [Phase.ASCENT, Phase.DESCENT]
        landings = list(reader.landings("kanalas-1", 0.0, float("inf")))
        assert len(landings) == counts["landing"] > 30
        last = max(landings, key=lambda landing: landing.time_utc)
        assert (last.latitude_deg, last.longitude_deg) == pytest.approx(TOUCHDOWN, abs=0.05)
        messages = reader.recent_messages(100)
        assert len(messages) == counts["alert"]
        kinds = Counter(one.alert.kind for one in messages)
        assert kinds[AlertKind.LAUNCHED] == kinds[AlertKind.BURST] == 1
        [burst] = [one for one in messages if one.alert.kind is AlertKind.BURST]
        assert isinstance(burst.alert.facts, Burst)
        assert burst.alert.facts.altitude_m == pytest.approx(highest, abs=1.0)
        assert "burst" in burst.title
        # The later a thing was added, the later it can have been written.
        assert len(reader.acknowledged_keys()) == (number >= 3)
        assert [look.note for look in reader.looks()] == ["the hedge"] * (number >= 4)
        assert [found.condition for found in reader.found()] == [Condition.WHOLE] * (number >= 4)
        areas = {name for landing in landings for name, _ in landing.inside}
        assert areas == ({"marsh"} if number >= 5 else set())
        told = [type(one.event).__name__ for one in reader.told_by_people()]
        assert told == ["Sighted", "Sighted", "Sighted", "Withdrawn"] * (number >= 8)
        assert not reader.clock_jumped()


async def test_a_restart_on_it_goes_on_with_the_flight(database: Path) -> None:
    await brought_up_to_date(database)
    flights = Flights(
        (FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id=TRACKER),)),)
    )
    said = []
    with Reader(database) as reader:
        for _, event in reader.events_since():
            match event:
                case Observed():
                    said += list(flights.observed(event))
                case Estimated():
                    said += list(flights.estimated(event.landing))
                case PersonTold():
                    said += list(flights.sighted(event.payload, event.event))
        told_before = said_before(reader, ("kanalas-1",))
    state = flights.state("kanalas-1")
    assert state.motion.phase is Phase.DESCENT
    assert state.motion.burst is not None
    assert abs(state.motion.burst.altitude_m - TOP_M) < 1_000.0
    # Told by that version, though it counted the flight from another moment: not told again.
    keys = {one.key for one in said if isinstance(one, Alert) and one.kind in TOLD_ONCE}
    assert len(keys) == 2
    assert all(map(told_before, keys))


async def test_it_takes_new_packets(database: Path) -> None:
    await brought_up_to_date(database)
    with Reader(database) as reader:
        last = max(seq for seq, _ in reader.events_since())
    async with Store.open(database) as store:
        first = store.next_seq
        assert first > last
        await store.commit(packet(first))
    async with Store.open(database) as store:
        assert store.next_seq == first + 2
    with Reader(database) as reader:
        assert len(list(reader.frames())) == 137
