"""Whatever a decoder makes of the bytes comes back from the database as it was."""

import math
import re
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.errors import StoreError
from groundstation.flight.alert_records import Burst
from groundstation.flight.events import Estimated, HeightHeard, Observed
from groundstation.records import (
    Frame,
    Height,
    HeightReport,
    Phase,
    PhaseChange,
    Reason,
    Report,
    Unreadable,
    Verdict,
)
from groundstation.store.batch import Batch
from groundstation.store.fix_rows import (
    REPORT_COLUMNS,
    frame_row,
    report_row,
    row_report,
    telemetry_text,
    text_telemetry,
)
from groundstation.store.migrate import migrate
from groundstation.store.reader import Reader
from groundstation.store.write_batch import INSERT_FRAME, INSERT_REPORT
from groundstation.store.writer import Store
from tests.support.store_samples import (
    START_UTC,
    fix,
    frame,
    landing,
    message,
    noise,
    packet,
    report,
)

any_float = st.floats()
maybe = st.none() | any_float
any_text = st.text(st.characters(), max_size=12)
reports = st.builds(
    Report,
    tracker=any_text,
    latitude_deg=any_float,
    longitude_deg=any_float,
    altitude_m=maybe,
    time_utc=maybe,
    uncertainty_m=any_float,
    course_deg=maybe,
    speed_ms=maybe,
    satellites=st.none() | st.integers(),
    valid=st.booleans(),
    telemetry=st.lists(st.tuples(any_text, any_float), max_size=4).map(tuple),
    comment=any_text,
    path=st.lists(any_text, max_size=3).map(tuple),
)


@pytest.fixture(scope="module")
def table() -> Iterator[sqlite3.Connection]:
    """The real tables, in memory."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    migrate(connection, Path(":memory:"))
    connection.execute(INSERT_FRAME, frame_row(1, frame(1)))
    yield connection
    connection.close()


def exactly(value: object) -> str:
    """All there is to a record: a not-a-number is not equal to itself, but its repr is.

    SQLite alone of all values does not keep the sign of zero.
    """
    return re.sub(r"(?<![\w.-])-0\.0(?![\d.e])", "0.0", repr(value))


@given(reports)
def test_any_report_comes_back_bit_for_bit(table: sqlite3.Connection, told: Report) -> None:
    table.execute("DELETE FROM report")
    table.execute(INSERT_REPORT, report_row(2, 1, told))
    row = table.execute(f"SELECT {REPORT_COLUMNS} FROM report").fetchone()
    assert exactly(row_report(row)) == exactly(told)


async def test_a_report_that_no_column_can_hold_goes_all_the_way(tmp_path: Path) -> None:
    told = replace(report(1), latitude_deg=math.nan, satellites=10**30, tracker="Q0\ud800")
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(Batch(frames=((1, frame(1)),), reports=((2, 1, told),)))
    with Reader(tmp_path / "station.db") as reader:
        [(_, event)] = reader.events_since()
    assert isinstance(event, Observed)
    assert repr(event.report) == repr(told)


@given(st.lists(st.tuples(any_text, any_float), max_size=6).map(tuple))
def test_telemetry_keeps_its_order_and_its_doubles(pairs: tuple[tuple[str, float], ...]) -> None:
    assert repr(text_telemetry(telemetry_text(pairs))) == repr(pairs)


async def test_frames_come_back_with_their_bytes(tmp_path: Path) -> None:
    data = bytes(range(256)) * 3
    odd = Frame(source="lora\udc80", receiver="", received_utc=0.1 + 0.2, data=data)
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(Batch(frames=((1, odd), (5, frame(2)))))
    with Reader(tmp_path / "station.db") as reader:
        assert list(reader.frames()) == [(1, replace(odd, source="lora?")), (5, frame(2))]
        assert list(reader.frames(START_UTC)) == [(5, frame(2))]


async def test_events_come_back_in_the_order_in_which_they_happened(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(packet(1))
        await store.commit(noise(3))
        await store.commit(Batch(landings=((5, landing(5)),)))
        await store.commit(packet(6))
        await store.commit(Batch(landings=((8, landing(8)),)))
    with Reader(tmp_path / "station.db") as reader:
        events = list(reader.events_since())
        later = list(reader.events_since(START_UTC + 6))
    assert events == [
        (2, Observed(report_id=2, source="serial", received_utc=START_UTC + 1, report=report(1))),
        (5, Estimated(landing=landing(5))),
        (7, Observed(report_id=7, source="serial", received_utc=START_UTC + 6, report=report(6))),
        (8, Estimated(landing=landing(8))),
    ]
    assert later == events[2:]


async def test_a_height_without_a_place_comes_back_as_what_it_was(tmp_path: Path) -> None:
    """As an event in its turn, with its verdict; it is no fix."""
    read = HeightReport(
        tracker="Q0HAB-11", pressure_pa=1_234.5, time_utc=START_UTC, path=("Q0DEF",),
        telemetry=(("battery_v", 3.7),), comment="cold",
    )  # fmt: skip
    believed = Height(
        payload="kanalas-1", tracker="Q0HAB-11", source="serial", time_utc=START_UTC,
        received_utc=START_UTC + 1, altitude_m=29_600.0, by_pressure=True,
    )  # fmt: skip
    height = Batch(
        frames=((1, frame(1)),),
        reports=((2, 1, read),),
        verdicts=(Verdict(report_id=2, height=believed),),
    )
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(height)
        await store.commit(packet(3))
    with Reader(tmp_path / "station.db") as reader:
        (seq, event), _ = reader.events_since()
        (standing,) = reader._connection.execute(
            "SELECT standing FROM verdict WHERE report_id = 2"
        ).fetchone()
    assert (seq, standing) == (2, "accepted")
    assert event == HeightHeard(
        report_id=2, source="serial", received_utc=START_UTC + 1, report=read
    )


async def test_an_unreadable_frame_keeps_its_reason(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(noise(1))
    with Reader(tmp_path / "station.db") as reader:
        row = reader._connection.execute("SELECT * FROM report").fetchone()
    assert row_report(row) == Unreadable(
        reason=Reason.CHECKSUM, detail="the checksum says 1A, the line says 1B"
    )


async def test_a_later_verdict_replaces_the_earlier_one(tmp_path: Path) -> None:
    jump = Verdict(report_id=2, reason=Reason.JUMP, detail="40 km in 1 s")
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(replace(packet(1), verdicts=(jump,)))
        with Reader(store.path) as reader:
            assert list(reader.fixes("kanalas-1")) == []
        confirmed = Verdict(report_id=2, fix=fix(1))
        second = packet(3)
        await store.commit(replace(second, verdicts=(confirmed, *second.verdicts)))
        with Reader(store.path) as reader:
            assert list(reader.fixes("kanalas-1")) == [(2, fix(1)), (4, fix(3))]
            assert reader._connection.execute("SELECT * FROM verdict").fetchall() == [
                (2, "accepted", None, "", 4),
                (4, "accepted", None, "", 4),
            ]
        await store.commit(Batch(verdicts=(jump,)))
        with Reader(store.path) as reader:
            assert list(reader.fixes("kanalas-1")) == [(4, fix(3))]


async def test_late_fixes_are_marked_and_sorted_by_their_own_time(tmp_path: Path) -> None:
    late = fix(1, late=True)
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(packet(5))
        await store.commit(
            Batch(
                frames=((7, frame(7)),),
                reports=((8, 7, report(1)),),
                verdicts=(Verdict(report_id=8, fix=late),),
            )
        )
    with Reader(tmp_path / "station.db") as reader:
        assert list(reader.fixes("kanalas-1")) == [(8, late), (6, fix(5))]
        standing = reader._connection.execute("SELECT standing FROM verdict").fetchall()
        assert standing == [("accepted",), ("late",)]


async def test_a_phase_that_is_found_again_is_kept_once(tmp_path: Path) -> None:
    change = PhaseChange(
        payload="kanalas-1", time_utc=START_UTC + 9, phase=Phase.ASCENT, since_utc=START_UTC
    )
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(Batch(phases=(change,)))
        await store.commit(Batch(phases=(replace(change, time_utc=START_UTC + 10),)))
    with Reader(tmp_path / "station.db") as reader:
        assert reader.phases("kanalas-1") == (change,)


async def test_messages_come_back_without_the_outlines_of_their_regions(tmp_path: Path) -> None:
    said, second = message("with / in it"), message("two")
    async with Store.open(tmp_path / "station.db") as store:
        assert await store.commit(Batch(messages=(said,))) == {said.alert.key.text}
        assert await store.commit(Batch(messages=(said, second))) == {second.alert.key.text}
    with Reader(tmp_path / "station.db") as reader:
        newest, oldest = reader.recent_messages(9)
        assert reader.spoken_keys() == {said.alert.key, second.alert.key}
        assert reader.recent_messages(1) == (newest,)
    assert newest.alert.key == second.alert.key
    bare = Burst(altitude_m=30_120.5, landing=replace(landing(4), region_50=(), region_90=()))
    assert oldest == replace(said, alert=replace(said.alert, facts=bare))


async def test_a_number_that_is_none_does_not_stop_the_station(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        broken = replace(landing(1), descent_rate_ms=math.nan, radius_90_m=math.inf)
        await store.commit(Batch(landings=((1, broken),)))
    with Reader(tmp_path / "station.db") as reader:
        assert repr(list(reader.landings("kanalas-1", 0.0, math.inf))) == repr([broken])


async def test_nothing_of_a_batch_is_kept_where_a_part_of_it_fails(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        bad = replace(packet(1), reports=((2, 99, report(1)),))
        with pytest.raises(StoreError, match=r"station\.db failed: FOREIGN KEY"):
            await store.commit(bad)
        await store.commit(packet(3))
    with Reader(tmp_path / "station.db") as reader:
        assert [seq for seq, _ in reader.frames()] == [3]
