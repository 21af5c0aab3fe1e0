"""Each message once to each target: through refusals, silence, stops and crashes."""

import asyncio
import logging
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from groundstation.alerts.delivery import RetrySettings
from groundstation.alerts.services import UncertainDeliveryError
from groundstation.errors import DeliveryError
from groundstation.flight.alert_records import Landed, LandingMoved
from groundstation.records import AlertKind
from groundstation.store.batch import Batch
from groundstation.store.outbox import Dispatch, Nothing
from groundstation.store.writer import Store
from tests.support.alert_samples import Ear, message
from tests.support.keeper import until
from tests.support.outbox import delivering, figures


async def test_messages_arrive_in_order_and_once(tmp_path: Path) -> None:
    ear = Ear()
    async with Store.open(tmp_path / "station.db", ("ear",)) as store:
        await store.commit(Batch(messages=(message("a"),)))
        async with delivering(store, ear):
            await store.commit(Batch(messages=(message("b"), message("c"))))
            await store.commit(Batch(messages=(message("b"),)))
            await until(lambda: figures(store.path).delivered == 3)
        async with delivering(store, ear):
            await asyncio.sleep(0.05)
    assert ear.heard == ["a", "b", "c"]


async def test_a_refusal_is_tried_again_and_its_reason_kept(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    ear = Ear()
    ear.troubles = [DeliveryError("the service answered 500")] * 4
    caplog.set_level(logging.WARNING)
    async with Store.open(tmp_path / "station.db", ("ear",)) as store, delivering(store, ear):
        await store.commit(Batch(messages=(message("a"),)))
        await until(lambda: ear.heard == ["a"])
        await until(lambda: figures(store.path).delivered == 1)
        assert figures(store.path).last_error == "the service answered 500"
        assert figures(store.path).uncertain == 0
    assert ear.tried == ["a"] * 5
    # Said once, not at every try.
    assert [record.message for record in caplog.records if "did not take" in record.message] == [
        caplog.records[0].message
    ]


async def test_one_message_that_is_refused_does_not_hold_up_the_others(tmp_path: Path) -> None:
    class Picky(Ear):
        async def deliver(self, message: object) -> None:
            if message.alert.key.occasion == "bad":  # type: ignore[attr-defined]
                raise DeliveryError("too long")
            await super().deliver(message)  # type: ignore[arg-type]

    ear = Picky()
    slow = RetrySettings(first_s=60.0, most_s=300.0)
    async with (
        Store.open(tmp_path / "station.db", ("ear",)) as store,
        delivering(store, ear, retry=slow),
    ):
        await store.commit(Batch(messages=(message("bad"), message("good"))))
        await until(lambda: ear.heard == ["good"])
        await store.commit(Batch(messages=(message("later"),)))
        await until(lambda: ear.heard == ["good", "later"])
        await until(lambda: figures(store.path).pending == 1)


async def test_each_target_is_on_its_own(tmp_path: Path) -> None:
    deaf, ear = Ear("deaf"), Ear("ear")
    deaf.open.clear()
    async with (
        Store.open(tmp_path / "station.db", ("deaf", "ear")) as store,
        delivering(store, deaf, ear),
    ):
        await store.commit(Batch(messages=tuple(message(f"m{n}") for n in range(5))))
        await until(lambda: len(ear.heard) == 5)
        assert deaf.tried == ["m0"]
        deaf.open.set()
        await until(lambda: len(deaf.heard) == 5)
    assert deaf.heard == ear.heard


async def test_a_target_gets_the_kinds_it_asked_for(tmp_path: Path) -> None:
    ear = Ear(kinds=(AlertKind.LANDED,))
    async with Store.open(tmp_path / "station.db", ("ear",)) as store, delivering(store, ear):
        await store.commit(Batch(messages=(message("a"), message("b", Landed()))))
        await until(lambda: figures(store.path).delivered == 1)
        assert (figures(store.path).unwanted, figures(store.path).pending) == (1, 0)
    assert ear.tried == ["b"]


async def test_an_attempt_without_an_answer_ends_and_is_counted(tmp_path: Path) -> None:
    ear = Ear()
    ear.open.clear()
    retry = RetrySettings(first_s=0.02, most_s=0.05, attempt_s=0.1)
    async with (
        Store.open(tmp_path / "station.db", ("ear",)) as store,
        delivering(store, ear, retry=retry),
    ):
        await store.commit(Batch(messages=(message("a"), message("b"))))
        await until(lambda: len(ear.tried) >= 2)
        ear.open.set()
        await until(lambda: figures(store.path).delivered == 2)
        assert figures(store.path).uncertain >= 1
        assert figures(store.path).last_error == "no answer in time; it may have arrived"


async def test_a_defect_of_a_target_neither_ends_the_station_nor_tells_secrets(
    tmp_path: Path,
) -> None:
    ear = Ear()
    ear.troubles = [RuntimeError("token hunter2"), UncertainDeliveryError("the connection broke")]
    async with Store.open(tmp_path / "station.db", ("ear",)) as store, delivering(store, ear):
        await store.commit(Batch(messages=(message("a"),)))
        await until(lambda: figures(store.path).delivered == 1)
        assert figures(store.path).uncertain == 1
        assert figures(store.path).last_error == "the connection broke"
    assert b"hunter2" not in (tmp_path / "station.db").read_bytes()


async def test_a_newer_landing_point_replaces_one_that_could_not_be_sent(tmp_path: Path) -> None:
    ear = Ear()
    ear.open.clear()
    moved = LandingMoved()
    async with Store.open(tmp_path / "station.db", ("ear",)) as store, delivering(store, ear):
        await store.commit(Batch(messages=(message("burst"),)))
        await until(lambda: ear.tried == ["burst"])
        for number in range(4):
            await store.commit(Batch(messages=(message(f"m{number}", moved, thread="landing"),)))
        ear.open.set()
        await until(lambda: figures(store.path).delivered == 2)
        assert figures(store.path).superseded == 3
    assert ear.heard == ["burst", "m3"]


async def test_what_is_no_longer_useful_is_not_sent(tmp_path: Path) -> None:
    ear = Ear()
    now_utc = 5_000.0
    async with Store.open(tmp_path / "station.db", ("ear",), now=lambda: now_utc) as store:
        await store.commit(Batch(messages=(message("old", useful_for_s=60.0), message("new"))))
        now_utc += 61.0
        async with delivering(store, ear):
            await until(lambda: ear.heard == ["new"])
            assert figures(store.path).expired == 1
    assert ear.tried == ["new"]


async def test_a_planned_stop_waits_for_the_attempt_under_way(tmp_path: Path) -> None:
    ear = Ear()
    ear.open.clear()
    async with Store.open(tmp_path / "station.db", ("ear",)) as store:
        async with delivering(store, ear):
            await store.commit(Batch(messages=(message("a"), message("b"))))
            await until(lambda: ear.tried == ["a"])
            asyncio.get_running_loop().call_later(0.1, ear.open.set)
        assert (figures(store.path).delivered, figures(store.path).pending) == (1, 1)
    assert ear.heard == ["a"]


SENDER = """
import asyncio, sys
from pathlib import Path
from tests.support.alert_samples import message
from groundstation.alerts.delivery import deliver_forever
from groundstation.store.batch import Batch
from groundstation.store.writer import Store

class Slow:
    name, kinds = "ear", ()
    async def deliver(self, message):
        print("begin", message.alert.key.occasion, flush=True)
        await asyncio.to_thread(sys.stdin.readline)
        print("end", message.alert.key.occasion, flush=True)

async def main(path):
    async with Store.open(path, ("ear",)) as store:
        batch = Batch(messages=tuple(message(f"m{n:02d}") for n in range(40)))
        await store.commit(batch)
        await deliver_forever(store, (Slow(),))

asyncio.run(main(Path(sys.argv[1])))
"""


@pytest.mark.live
@pytest.mark.parametrize("seed", range(2))
def test_a_kill_in_the_middle_loses_nothing_and_doubles_only_what_it_cut_short(
    tmp_path: Path, seed: int
) -> None:
    path = tmp_path / "station.db"
    chance = random.Random(seed)
    lines: list[str] = []
    kills = 0
    while True:
        with subprocess.Popen(
            [sys.executable, "-c", SENDER, str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": str(Path(__file__).parent)},
        ) as child:
            assert child.stdin is not None
            assert child.stdout is not None
            # An attempt ends for each line that it is given, however fast it would be.
            ends = chance.randint(2, 8) if kills < 4 else 41
            child.stdin.write("\n" * ends)
            child.stdin.flush()
            for _ in range(chance.randint(5, 2 * ends + 1) if kills < 4 else 10**9):
                line = child.stdout.readline()
                lines.append(line.strip())
                if "end m39" in line:
                    break
            child.send_signal(signal.SIGKILL)
            lines += child.stdout.read().split("\n")
        if "end m39" in lines:
            break
        kills += 1
    arrived = [line.split()[1] for line in lines if line.startswith("end ")]
    assert set(arrived) == {f"m{n:02d}" for n in range(40)}
    # A kill hits one attempt at most: between the target's yes and our note of it.
    assert kills == 4
    assert len(arrived) - 40 <= kills
    assert arrived == sorted(arrived)


def test_waits_double_up_to_a_limit_and_differ_by_chance() -> None:
    retry, chance = RetrySettings(), random.Random(1)
    for attempt, longest_s in ((1, 2.0), (2, 4.0), (3, 8.0), (5, 32.0), (6, 60.0), (900, 60.0)):
        waits = [retry.wait_s(attempt, chance) for _ in range(200)]
        assert longest_s / 2.0 <= min(waits) < max(waits) <= longest_s
        assert len(set(waits)) == 200


async def test_between_two_attempts_the_outbox_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked without a pause, it would keep a small board's processor and its card busy."""
    ear = Ear()
    ear.troubles = [DeliveryError("the service answered 500")] * 2
    asked: list[str] = []
    claim = Store.claim

    async def counted(store: Store, target: str) -> Dispatch | Nothing:
        asked.append(target)
        return await claim(store, target)

    monkeypatch.setattr(Store, "claim", counted)
    patient = RetrySettings(first_s=0.4, most_s=0.4)
    async with (
        Store.open(tmp_path / "station.db", ("ear",)) as store,
        delivering(store, ear, retry=patient),
    ):
        await store.commit(Batch(messages=(message("a"),)))
        await until(lambda: figures(store.path).delivered == 1)
        # With nothing to bring it waits for news.
        await asyncio.sleep(0.3)
    # Once at the begin, and for each of three attempts one that finds it and one or two that find
    # nothing to do yet.
    assert len(asked) < 15
