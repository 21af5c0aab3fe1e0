"""The outbox as a table: claimed, delivered, put off, expired, superseded."""

from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.flight.alert_records import LandingMoved, Message
from groundstation.store.batch import Batch
from groundstation.store.outbox import Dispatch, Nothing, TargetFigures
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.store_samples import landing, message


class Clock:
    """Real time as a test sets it."""

    def __init__(self) -> None:
        self.now_utc = 1_000_000.0

    def __call__(self) -> float:
        return self.now_utc


async def claimed(store: Store, target: str = "phone") -> Dispatch:
    dispatch = await store.claim(target)
    assert isinstance(dispatch, Dispatch), dispatch
    return dispatch


def figures(path: Path, target: str = "phone") -> TargetFigures:
    with Reader(path) as reader:
        return {one.target: one for one in reader.outbox_counts()}[target]


async def test_messages_are_claimed_in_order_once_for_each_target(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db", ("mail", "phone")) as store:
        await store.commit(Batch(messages=(message("a"), message("b"))))
        first = await claimed(store)
        second = await claimed(store)
        assert [d.message.alert.key.occasion for d in (first, second)] == ["a", "b"]
        assert (first.attempt, first.uncertain) == (1, 0)
        assert await store.claim("phone") == Nothing(next_try_utc=None)
        await store.delivered(first)
        assert (await claimed(store, "mail")).message.alert.key.occasion == "a"
        assert (figures(store.path).pending, figures(store.path).delivered) == (1, 1)
        assert figures(store.path, "mail").pending == 2


async def test_a_failed_attempt_comes_back_when_it_is_time(tmp_path: Path) -> None:
    clock = Clock()
    async with Store.open(tmp_path / "station.db", ("phone",), now=clock) as store:
        await store.commit(Batch(messages=(message("a"), message("b"))))
        await store.postpone(
            await claimed(store), wait_s=30.0, reason="answered 500", may_have_arrived=False
        )
        b = await claimed(store)
        await store.postpone(b, wait_s=60.0, reason="no answer", may_have_arrived=True)
        assert await store.claim("phone") == Nothing(next_try_utc=clock.now_utc + 30.0)
        clock.now_utc += 30.0
        again = await claimed(store)
        assert (again.message.alert.key.occasion, again.attempt, again.uncertain) == ("a", 2, 0)
        # The target took one: it is up again, so the other need not wait out its time.
        await store.delivered(again)
        again = await claimed(store)
        assert (again.message.alert.key.occasion, again.attempt, again.uncertain) == ("b", 2, 1)
        assert figures(store.path).last_error == "no answer"
        await store.delivered(again)
        assert figures(store.path).uncertain == 1


async def test_what_is_no_longer_useful_expires(tmp_path: Path) -> None:
    clock = Clock()
    async with Store.open(tmp_path / "station.db", ("phone",), now=clock) as store:
        await store.commit(Batch(messages=(message("a", useful_for_s=100.0), message("b"))))
        await store.postpone(
            await claimed(store), wait_s=10.0, reason="down", may_have_arrived=False
        )
        clock.now_utc += 99.0
        assert (await claimed(store)).message.alert.key.occasion == "a"
        await store.begin_deliveries(("phone",))
        clock.now_utc += 1.0
        assert (await claimed(store)).message.alert.key.occasion == "b"
        assert figures(store.path).expired == 1


async def test_a_newer_message_of_a_thread_takes_the_place_of_an_older(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db", ("mail", "phone")) as store:
        await store.commit(Batch(messages=(message("m1", thread="landing"), message("burst"))))
        under_way = await claimed(store, "mail")
        await store.commit(Batch(messages=(message("m2", thread="landing"),)))
        # The phone has not begun with the first: it gets the newer one only, after the burst.
        keys = [(await claimed(store)).message.alert.key.occasion for _ in range(2)]
        assert keys == ["burst", "m2"]
        assert figures(store.path).superseded == 1
        # Mail had begun with the first: that attempt counts if it succeeds, and is the last.
        assert figures(store.path, "mail").superseded == 0
        await store.postpone(under_way, wait_s=0.0, reason="down", may_have_arrived=False)
        assert figures(store.path, "mail").superseded == 1
        keys = [(await claimed(store, "mail")).message.alert.key.occasion for _ in range(2)]
        assert keys == ["burst", "m2"]


async def test_an_attempt_that_a_crash_cut_short_is_tried_again_and_counted(
    tmp_path: Path,
) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path, ("phone",)) as store:
        old, new = message("m1", thread="landing"), message("m2", thread="landing")
        await store.commit(Batch(messages=(message("a"), old)))
        assert (await claimed(store)).message.alert.key.occasion == "a"
        assert (await claimed(store)).message.alert.key.occasion == "m1"
        await store.commit(Batch(messages=(new,)))
    async with Store.open(path, ("phone",)) as store:
        assert await store.begin_deliveries(("phone",)) == 2
        again = await claimed(store)
        assert (again.message.alert.key.occasion, again.attempt, again.uncertain) == ("a", 2, 1)
        # What is out of date is not risked a second time.
        assert (await claimed(store)).message.alert.key.occasion == "m2"
        assert figures(path).superseded == 1


async def test_a_target_that_is_gone_or_does_not_care_leaves_nothing_waiting(
    tmp_path: Path,
) -> None:
    path = tmp_path / "station.db"
    async with Store.open(path, ("mail", "phone")) as store:
        await store.commit(Batch(messages=(message("a"),)))
        await store.unwanted(await claimed(store))
        assert (figures(path).unwanted, figures(path).pending) == (1, 0)
    async with Store.open(path, ("phone",)) as store:
        await store.begin_deliveries(("phone",))
        assert (figures(path, "mail").failed, figures(path, "mail").pending) == (1, 0)
        assert figures(path, "mail").last_error == "this target is no longer configured"


async def test_the_listener_hears_of_new_messages_only(tmp_path: Path) -> None:
    async with Store.open(tmp_path / "station.db", ("phone",)) as store:
        heard = store.listen()
        await store.commit(Batch())
        assert not heard.is_set()
        await store.commit(Batch(messages=(message("a"),)))
        assert heard.is_set()
        heard.clear()
        await store.commit(Batch(messages=(message("a"),)))
        assert not heard.is_set()


async def test_each_target_is_told_a_move_from_the_point_it_was_told_itself(tmp_path: Path) -> None:
    """The phone took the burst's point and missed the next; the mail took both. So the third is
    another move to each. Also after a restart."""

    def moved(number: int) -> Message:
        facts = LandingMoved(landing=replace(landing(4), latitude_deg=47.0 + number))
        one = message(f"m{number}", thread="landing")
        return replace(one, alert=replace(one.alert, facts=facts))

    path = tmp_path / "station.db"
    async with Store.open(path, ("phone", "mail")) as store:
        await store.commit(Batch(messages=(moved(1),)))
        for target in ("phone", "mail"):
            await store.delivered(await claimed(store, target))
        await store.commit(Batch(messages=(moved(2),)))
        await store.delivered(await claimed(store, "mail"))
    async with Store.open(path, ("phone", "mail")) as store:
        await store.commit(Batch(messages=(moved(3),)))
        found = {target: await claimed(store, target) for target in ("phone", "mail")}
    # A degree of latitude is 111.2 km on a sphere of 6,371 km.
    moves = {target: dispatch.message.alert.moved for target, dispatch in found.items()}
    assert moves["phone"] is not None
    assert moves["mail"] is not None
    assert moves["phone"].distance_m == pytest.approx(2 * 111_200.0, rel=0.01)
    assert moves["mail"].distance_m == pytest.approx(111_200.0, rel=0.01)
    assert all(dispatch.reworded for dispatch in found.values())
