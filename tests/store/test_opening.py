"""Opening a database: new, old, newer, in use, damaged."""

import asyncio
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.errors import StoreError
from groundstation.store import migrate
from groundstation.store.batch import Batch
from groundstation.store.connection import connect_writing
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.store_samples import frame, landing, packet


async def test_the_next_id_is_above_all_others_after_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "station.db"
    async with Store.open(path) as store:
        assert store.next_seq == 1
        await store.commit(packet(1))
    async with Store.open(path) as store:
        assert store.next_seq == 3
        await store.commit(Batch(landings=((7, landing(7)),)))
    async with Store.open(path) as store:
        assert store.next_seq == 8


async def test_the_writer_is_durable_and_strict(tmp_path: Path) -> None:
    connection = connect_writing(tmp_path / "station.db")
    migrate.migrate(connection, tmp_path / "station.db")
    values = {
        name: connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
    }
    # 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
    assert values == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 5_000,
    }
    loose = connection.execute(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND NOT strict "
        "AND name NOT LIKE 'sqlite%' AND name NOT LIKE '_sqlite%'"
    ).fetchall()
    assert loose == []
    connection.close()


def test_a_step_runs_once_and_a_step_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "station.db"
    connection = connect_writing(path)
    migrate.migrate(connection, path)
    migrate.migrate(connection, path)
    good = dict(migrate.steps())
    broken = good | {"0009_more": "CREATE TABLE more (a TEXT) STRICT;\nSELECT nothing;\n"}
    monkeypatch.setattr(migrate, "steps", lambda: broken)
    with pytest.raises(StoreError, match="it is unchanged"):
        migrate.migrate(connection, path)
    assert not connection.execute("SELECT 1 FROM sqlite_schema WHERE name = 'more'").fetchone()
    with pytest.raises(StoreError, match="start the station once to bring it up to date"):
        migrate.refuse_older(connection, path)
    mended = good | {"0009_more": "CREATE TABLE more (a TEXT) STRICT;\n"}
    monkeypatch.setattr(migrate, "steps", lambda: mended)
    migrate.migrate(connection, path)
    assert migrate.applied(connection, path) == [*good, "0009_more"]
    connection.close()


async def test_a_database_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path):
        pass
    with sqlite3.connect(path) as other:
        other.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
            "VALUES ('groundstation', '0099_later', '2030-01-01')"
        )
    other.close()
    with pytest.raises(StoreError, match=r"newer version .*'0099_later'.*install that version"):
        async with Store.open(path):
            pass
    with pytest.raises(StoreError, match="newer version"):
        Reader(path)


async def test_a_second_station_is_refused(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db"):
        with pytest.raises(StoreError, match="in use by another running station"):
            async with Store.open(tmp_path / "station.db"):
                pass


async def test_what_is_no_database_is_named(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("not a database at all, " * 100)
    with pytest.raises(StoreError, match=r"notes\.txt can't be used .* name another file"):
        async with Store.open(path):
            pass
    with pytest.raises(StoreError, match=r"notes\.txt can't be used"):
        Reader(path)
    with pytest.raises(StoreError, match="there is no database"):
        Reader(tmp_path / "none.db")
    sqlite3.connect(tmp_path / "empty.db").execute("CREATE TABLE t (a)").connection.close()
    with pytest.raises(StoreError, match="never one of its databases"):
        Reader(tmp_path / "empty.db")
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="can't be opened"):
        async with Store.open(tmp_path / "file" / "station.db"):
            pass


async def test_a_reader_can_not_write(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(packet(1))
        with Reader(store.path) as reader:
            assert len(list(reader.frames())) == 1
            with pytest.raises(sqlite3.OperationalError, match="readonly"):
                reader._connection.execute("DELETE FROM report")


async def test_a_reader_in_another_thread_sees_each_commit(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        with Reader(store.path) as reader:
            for seq in (1, 3, 5):
                await store.commit(packet(seq))
                seen = await asyncio.to_thread(lambda: [seq for seq, _ in reader.frames()])
                assert seen[-1] == seq


async def test_nothing_is_taken_after_the_end(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        pass
    with pytest.raises(StoreError, match="is closed"):
        await store.commit(packet(1))


async def test_what_waits_is_written_on_leaving(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        waiting = [asyncio.ensure_future(store.commit(packet(seq))) for seq in range(1, 400, 2)]
        await asyncio.sleep(0)
    await asyncio.gather(*waiting)
    with Reader(tmp_path / "station.db") as reader:
        assert len(list(reader.frames())) == 200


async def test_one_bad_batch_does_not_take_its_neighbours_with_it(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        twice = [packet(1), packet(3), packet(3), packet(5)]
        results = await asyncio.gather(*map(store.commit, twice), return_exceptions=True)
    assert [isinstance(result, StoreError) for result in results] == [False, False, True, False]
    with Reader(tmp_path / "station.db") as reader:
        assert [seq for seq, _ in reader.frames()] == [1, 3, 5]


async def test_a_waiter_that_is_cancelled_harms_nobody(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        gone = asyncio.ensure_future(store.commit(packet(1)))
        await asyncio.sleep(0)
        gone.cancel()
        await store.commit(packet(3))
    with Reader(tmp_path / "station.db") as reader:
        assert [seq for seq, _ in reader.frames()] == [1, 3]


async def test_a_full_disk_is_named_and_what_was_committed_stays(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db") as store:
        await store.commit(packet(1))
        # SQLite's own limit gives the same error as a disk without room (SQLITE_FULL).
        pages = await store._do(lambda db: db.execute("PRAGMA page_count").fetchone()[0])
        await store._do(lambda db: db.execute(f"PRAGMA max_page_count = {pages}").fetchone())
        big = replace(packet(3), frames=((3, replace(frame(3), data=bytes(100_000))),))
        with pytest.raises(StoreError, match=r"disk is full; make room on its disk"):
            await store.commit(big)
        await store._do(lambda db: db.execute("PRAGMA max_page_count = 100000").fetchone())
        await store.commit(packet(5))
    with Reader(tmp_path / "station.db") as reader:
        assert [seq for seq, _ in reader.frames()] == [1, 5]


async def test_a_database_of_the_first_version_is_brought_up_to_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "station.db"
    first = {"0001_first": migrate.steps()["0001_first"]}
    with monkeypatch.context() as then:
        then.setattr(migrate, "steps", lambda: first)
        connection = connect_writing(path)
        migrate.migrate(connection, path)
        # As the program of that time wrote it.
        connection.execute(
            "INSERT INTO frame (id, source, receiver, received_utc, data)"
            " VALUES (1, 's', '', 9.0, x'41')"
        )
        connection.execute(
            "INSERT INTO report (id, frame_id, tracker, latitude_deg, longitude_deg, uncertainty_m,"
            " valid, comment) VALUES (2, 1, 'Q0HAB-11', 47.1, 20.3, 1.0, 1, '')"
        )
        connection.commit()
        connection.close()
    with pytest.raises(StoreError, match="start the station once"):
        Reader(path)
    async with Store.open(path) as store:
        assert store.next_seq == 3
        await store.commit(packet(3))
    with Reader(path) as reader:
        assert [number for number, _ in reader.frames()] == [1, 3]
        assert len(list(reader.events_since())) == 2
