"""A disk that is full, read-only or damaged, on real file systems."""

import asyncio
import random
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from groundstation.errors import StoreError
from groundstation.store import salvage, scribe
from groundstation.store.batch import Batch
from groundstation.store.lifeboat import Lifeboat
from groundstation.store.outbox import Dispatch
from groundstation.store.reader import Reader
from groundstation.store.salvage import set_aside_if_damaged
from groundstation.store.writer import Store
from tests.support.keeper import WAIT_S
from tests.support.small_disk import SmallDisk
from tests.support.store_samples import START_UTC, message, packet

pytestmark = pytest.mark.live

SOON_S = 0.05


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SmallDisk]:
    monkeypatch.setattr(scribe, "RETRY_S", SOON_S)
    with SmallDisk(tmp_path / "disk") as mounted:
        yield mounted


async def ashore(store: Store) -> None:
    async with asyncio.timeout(WAIT_S):
        number = 90_000
        while store.standing.trouble:
            await asyncio.sleep(SOON_S)
            number += 10
            await store.commit(packet(number))


async def many(store: Store) -> None:
    for number in range(1, 2_000, 2):
        await store.commit(packet(number))


def numbers(path: Path) -> list[int]:
    with Reader(path) as reader:
        return [number for number, _ in reader.frames() if number < 90_000]


async def test_a_full_disk_loses_nothing_and_is_caught_up(disk: SmallDisk) -> None:
    path = disk.folder / "station.db"
    async with Store.open(path, ("phone",), lifeboat=True) as store:
        await store.commit(packet(1))
        await store.commit(Batch(messages=(message("before"),)))
        disk.fill()
        for number in range(3, 400, 2):
            await store.commit(packet(number))
        assert "full" in store.standing.trouble
        assert store.standing.waiting > 100
        # What must be told now is told now, and not again afterwards.
        said = await store.commit(Batch(messages=(message("during"), message("before"))))
        assert said == {message("during").alert.key.text}
        for key in ("before", "during"):
            claimed = await store.claim("phone")
            assert isinstance(claimed, Dispatch)
            assert claimed.message.alert.key.occasion == key
            await store.delivered(claimed)
        disk.make_room()
        await ashore(store)
        assert store.standing == scribe.Standing()
    assert numbers(path) == list(range(1, 400, 2))
    with Reader(path) as reader:
        (figures,) = reader.outbox_counts()
        assert (figures.delivered, figures.pending, figures.uncertain) == (2, 0, 0)
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


async def test_what_is_in_memory_at_the_end_is_written_if_it_can_be(disk: SmallDisk) -> None:
    path = disk.folder / "station.db"
    async with Store.open(path, lifeboat=True) as store:
        disk.fill()
        for number in range(1, 200, 2):
            await store.commit(packet(number))
        assert store.standing.trouble
        disk.make_room()
    assert len(numbers(path)) == 100


async def test_a_station_starts_on_a_disk_that_is_read_only(disk: SmallDisk) -> None:
    path = disk.folder / "station.db"
    async with Store.open(path) as store:
        await store.commit(packet(1))
    disk.read_only()
    async with Store.open(path, lifeboat=True) as store:
        assert store.next_seq == 3
        await store.commit(packet(3))
        assert store.standing.trouble
        disk.writable()
        await ashore(store)
    assert numbers(path) == [1, 3]


async def test_and_where_nothing_was_ever_written(disk: SmallDisk) -> None:
    path = disk.folder / "station.db"
    disk.read_only()
    async with Store.open(path, lifeboat=True) as store:
        assert store.next_seq == 1
        await store.commit(packet(1))
        disk.writable()
        await ashore(store)
    assert numbers(path) == [1]


async def test_without_a_lifeboat_it_ends(disk: SmallDisk) -> None:
    path = disk.folder / "station.db"
    async with Store.open(path) as store:
        disk.fill()
        with pytest.raises(StoreError, match="make room on its disk"):
            await many(store)


async def test_the_memory_is_bounded(disk: SmallDisk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Lifeboat, "full", property(lambda boat: boat.bytes > 20_000))
    path = disk.folder / "station.db"
    async with Store.open(path, lifeboat=True) as store:
        disk.fill()
        with pytest.raises(StoreError, match="the memory is full"):
            await many(store)


async def filled(path: Path, packets: int) -> None:
    async with Store.open(path) as store:
        for number in range(1, 2 * packets, 2):
            await store.commit(packet(number))
        await store.commit(Batch(messages=(message("said"),)))


async def test_a_sound_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    assert set_aside_if_damaged(path, START_UTC) is None
    await filled(path, 20)
    assert set_aside_if_damaged(path, START_UTC) is None
    assert len(numbers(path)) == 20


@pytest.mark.parametrize("seed", range(6))
async def test_a_damaged_one_is_set_aside_and_read_as_far_as_it_goes(
    tmp_path: Path, seed: int
) -> None:
    """Pages in the middle are overwritten, as a failing card does."""
    path = tmp_path / "station.db"
    await filled(path, 2_000)
    whole = bytearray(path.read_bytes())
    rng = random.Random(seed)
    # The schema's own pages (about the first hundred kilobytes of 4 KiB pages) are another case.
    for _ in range(3):
        at = rng.randrange(30, len(whole) // 4096) * 4096
        whole[at : at + 4096] = rng.randbytes(4096)
    path.write_bytes(whole)
    found = set_aside_if_damaged(path, START_UTC)
    assert found is not None
    assert found.aside.read_bytes() == whole
    assert found.frames > 1_000
    assert len(numbers(path)) == found.frames
    async with Store.open(path) as store:
        assert store.next_seq > 2_000
        await store.commit(packet(90_001))


async def test_a_large_one_is_looked_at_where_a_flight_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "station.db"
    await filled(path, 2_000)
    monkeypatch.setattr(salvage, "CHECKED_BYTES", 10_000)
    assert set_aside_if_damaged(path, START_UTC) is None
    whole = bytearray(path.read_bytes())
    with sqlite3.connect(path) as connection:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
    assert pages * 4096 == len(whole)
    whole[:16] = b"not SQLite 3 any"
    path.write_bytes(whole)
    assert set_aside_if_damaged(path, START_UTC) is not None


async def test_where_nothing_can_be_read_a_new_one_begins(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    await filled(path, 20)
    path.write_bytes(random.Random(1).randbytes(8_192))
    found = set_aside_if_damaged(path, START_UTC)
    assert found is not None
    assert found.frames == 0
    async with Store.open(path) as store:
        await store.commit(packet(1))
    assert numbers(path) == [1]
