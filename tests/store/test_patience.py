"""Who is told when: a second person, at night, not too often."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from groundstation.flight.alert_records import Message
from groundstation.records import Urgency
from groundstation.store.batch import Batch
from groundstation.store.outbox import Dispatch, Nothing
from groundstation.store.patience import Patience, quiet_time
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.store.test_outbox import Clock
from tests.support.store_samples import message

NIGHT = (22 * 60, 6 * 60)


def with_urgency(key: str, urgency: Urgency) -> Message:
    made = message(key)
    return replace(made, alert=replace(made.alert, urgency=urgency, useful_for_s=9_000.0))


async def claimed(store: Store, target: str) -> str | None:
    found = await store.claim(target)
    if isinstance(found, Nothing):
        return None
    assert isinstance(found, Dispatch)
    await store.delivered(found)
    return found.message.alert.key.occasion


async def test_the_second_person_is_called_only_if_the_first_does_not_answer(
    tmp_path: Path,
) -> None:
    clock = Clock()
    patience = {"second": Patience(unseen_s=300.0)}
    targets = ("first", "second")
    path = tmp_path / "station.db"
    async with Store.open(path, targets, now=clock, patience=patience) as store:
        await store.commit(Batch(messages=(message("a"), message("b"))))
        assert await claimed(store, "first") == "a"
        assert await store.claim("second") == Nothing(next_try_utc=clock.now_utc + 300.0)
        clock.now_utc += 60.0
        assert await store.acknowledge(message("a").alert.key.text)
        assert not await store.acknowledge(message("unknown").alert.key.text)
        clock.now_utc += 241.0
        # Nobody has seen b; a restart in between changes nothing.
    async with Store.open(path, targets, now=clock, patience=patience) as store:
        await store.begin_deliveries(targets)
        assert await claimed(store, "second") == "b"
        assert await claimed(store, "second") is None
    with Reader(path) as reader:
        assert reader.acknowledged_keys() == {message("a").alert.key.text}


@pytest.mark.parametrize(
    ("clock_text", "urgency", "until"),
    [
        ("23:30", Urgency.NORMAL, "06:00"),
        ("02:00", Urgency.QUIET, "06:00"),
        ("02:00", Urgency.HIGH, None),
        ("06:00", Urgency.NORMAL, None),
        ("21:59", Urgency.NORMAL, None),
    ],
)
def test_at_night_only_what_is_urgent(clock_text: str, urgency: Urgency, until: str | None) -> None:
    """In the station's own time zone: in Budapest it is an hour later than UTC in winter."""
    hour, minute = map(int, clock_text.split(":"))
    now = datetime(2026, 1, 15, hour, minute, tzinfo=UTC).timestamp() - 3_600.0
    patience = Patience(quiet=NIGHT, timezone="Europe/Budapest")
    found = patience.not_before_utc(with_urgency("a", urgency), now)
    if until is None:
        assert found == 0.0
        return
    local = datetime.fromtimestamp(found + 3_600.0, UTC)
    assert f"{local:%H:%M}" == until
    assert 0.0 < found - now < 86_400.0


@pytest.mark.parametrize(
    ("quiet", "clock_text", "until"),
    [
        ("22:30-06:15", "22:29", None),
        ("22:30-06:15", "22:30", "06:15"),
        ("22:30-06:15", "06:14", "06:15"),
        ("22:30-06:15", "06:15", None),
        ("13:10-14:45", "13:09", None),
        ("13:10-14:45", "13:50", "14:45"),
        ("13:10-14:45", "14:46", None),
    ],
)
def test_quiet_begins_and_ends_to_the_minute(
    quiet: str, clock_text: str, until: str | None
) -> None:
    """As the configuration has it."""
    now = datetime.fromisoformat(f"2026-01-15T{clock_text}:00Z").timestamp()
    patience = Patience(quiet=quiet_time(quiet))
    found = patience.not_before_utc(with_urgency("a", Urgency.NORMAL), now)
    if until is None:
        assert found == 0.0
    else:
        assert f"{datetime.fromtimestamp(found, UTC):%H:%M}" == until
        assert 0.0 < found - now < 86_400.0


@pytest.mark.parametrize("text", ["", "22-06", "24:00-06:00", "22:60-06:00", "22:00", "22:00-6"])
def test_what_is_no_time_of_day_is_none(text: str) -> None:
    assert quiet_time(text) is None


async def test_not_more_in_an_hour_than_is_wanted(tmp_path: Path) -> None:
    clock = Clock()
    patience = {"phone": Patience(most_an_hour=2)}
    async with Store.open(
        tmp_path / "station.db", ("phone",), now=clock, patience=patience
    ) as store:
        rows = [with_urgency(str(n), Urgency.NORMAL) for n in range(4)]
        await store.commit(Batch(messages=(*rows, with_urgency("urgent", Urgency.HIGH))))
        told = [await claimed(store, "phone") for _ in range(3)]
        assert told == ["0", "1", "urgent"]
        waiting = await store.claim("phone")
        assert waiting == Nothing(next_try_utc=clock.now_utc + 3_600.0)
        clock.now_utc += 3_601.0
        assert [await claimed(store, "phone") for _ in range(3)] == ["2", "3", None]
