"""Copies while it is in use, and room made without touching a flight."""

import asyncio
import errno
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.errors import StoreError
from groundstation.records import Reason, Unreadable
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.upkeep import back_up
from groundstation.store.writer import Store
from tests.support.store_samples import START_UTC, frame, packet


async def test_a_copy_is_whole_and_the_newest_are_kept(tmp_path: Path) -> None:
    path, folder = tmp_path / "station.db", tmp_path / "copies"
    async with Store.open(path) as store:
        for number in range(1, 4_000, 2):
            await store.commit(packet(number))

        async def go_on() -> None:
            for number in range(4_001, 5_000, 2):
                await store.commit(packet(number))

        for day in range(5):
            _, made = await asyncio.gather(
                go_on() if day == 0 else asyncio.sleep(0.0),
                asyncio.to_thread(back_up, path, folder, START_UTC + 86_400.0 * day, 3),
            )
    kept = sorted(folder.iterdir())
    assert len(kept) == 3
    assert kept[-1] == made
    with sqlite3.connect(made) as copy, sqlite3.connect(path) as original:
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        count = "SELECT count(*) FROM frame"
        assert copy.execute(count).fetchone() == original.execute(count).fetchone()
    with Reader(made) as reader:
        assert len(list(reader.frames())) == 2_500


async def test_where_it_cannot_be_copied_the_older_stay(tmp_path: Path) -> None:
    path, folder = tmp_path / "station.db", tmp_path / "copies"
    async with Store.open(path) as store:
        await store.commit(packet(1))
    back_up(path, folder, START_UTC, 3)
    with pytest.raises(StoreError, match="can't be copied"):
        back_up(path, Path("/proc/nowhere"), START_UTC, 3)
    assert len(list(folder.iterdir())) == 1


async def test_only_what_is_of_no_flight_makes_room(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    noise = Unreadable(reason=Reason.UNREADABLE, detail="Noise.")
    async with Store.open(path) as store:
        for number in range(1, 100, 2):
            await store.commit(packet(number))
        strange = [(n, replace(frame(n), data=b"noise")) for n in range(1_001, 1_101, 2)]
        reports = [(n + 1, n, noise) for n, _ in strange]
        await store.commit(Batch(frames=tuple(strange), reports=tuple(reports)))
        assert await store.tidy(START_UTC + 1_051.0) == 25
        assert await store.tidy(START_UTC + 1_051.0) == 0
    with Reader(path) as reader:
        assert len(list(reader.frames())) == 50 + 25
        assert len(list(reader.events_since())) == 50
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


async def test_a_folder_that_lets_nothing_be_removed_is_an_error_like_any(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a file system that became read-only in the middle of a copy."""
    path, folder = tmp_path / "station.db", tmp_path / "copies"
    async with Store.open(path) as store:
        await store.commit(packet(1))

    def refuses(self: Path, *_: object, **__: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system", str(self))

    monkeypatch.setattr(Path, "replace", refuses)
    monkeypatch.setattr(Path, "unlink", refuses)
    with pytest.raises(StoreError, match="Read-only file system"):
        back_up(path, folder, START_UTC, 3)
