"""What a search notes comes back from the disk as it was told."""

from dataclasses import replace
from pathlib import Path

from groundstation.search.found import Condition, Found
from groundstation.search.looks import Look, LookKind
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

LOOKS = (
    Look(
        payload="kanalas-1", time_utc=1.0, kind=LookKind.SEARCHED, area=True, reach_m=40.0,
        chance=0.75, who="Anna", note="the hedge", shape=((47.1, 20.3), (47.1, 20.4), (47.2, 20.4)),
    ),
    Look(
        payload="kanalas-2", time_utc=2.0, kind=LookKind.HEARD, reach_m=1_500.0, chance=0.9,
        shape=((46.9, 20.1),),
    ),
)  # fmt: skip
FOUND = Found(
    payload="kanalas-1", time_utc=3.0, told_utc=4.0, latitude_deg=47.15, longitude_deg=20.35,
    condition=Condition.DAMAGED, who="Anna", note="in a ditch",
)  # fmt: skip


async def test_looks_and_finds_come_back_and_a_look_taken_back_counts_no_more(
    tmp_path: Path,
) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path) as store:
        numbers = [await store.add_look(look) for look in LOOKS]
        await store.add_found(FOUND)
        kept = [replace(look, number=n) for look, n in zip(LOOKS, numbers, strict=True)]
        with Reader(path) as reader:
            assert list(reader.looks()) == kept
            assert list(reader.found()) == [FOUND]
        assert await store.take_back_look(numbers[0])
        assert not await store.take_back_look(numbers[0])
        with Reader(path) as reader:
            assert list(reader.looks()) == kept[1:]
