"""A tracker's id that was written down wrongly is told, with the lines to add."""

import pytest

from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.station.strangers import MOST, Strangers, lines_for, unheard
from tests.support.flights import T0, fold, report


@pytest.mark.parametrize(
    ("heard", "ours", "told"),
    [
        ("Q0ABC-12", "Q0ABC-11", True),
        ("Q0ABD-11", "Q0ABC-11", True),
        ("Q0ABC", "Q0ABC-11", True),
        ("30023401", "3002340", True),
        ("Q0XYZ-9", "Q0ABC-11", False),
    ],
)
def test_only_ids_like_ours_are_told_on_a_busy_network(heard: str, ours: str, told: bool) -> None:
    strangers = Strangers()
    for n in range(10):
        strangers.note(f"Z{n}Z{n}")
    strangers.note(heard)
    assert list(strangers.like([ours])) == ([heard] if told else [])


def test_where_hardly_anybody_is_heard_any_id_may_be_ours() -> None:
    strangers = Strangers()
    strangers.note("spare-tracker")
    assert list(strangers.like(["Q0ABC-11"])) == ["spare-tracker"]
    assert lines_for('a"b') == '[[payload.tracker]]\nid = "a\\"b"'


def test_a_network_without_end_is_bounded() -> None:
    strangers = Strangers()
    for n in range(5 * MOST):
        strangers.note(str(n))
    assert len(strangers.heard) == MOST


PLANNED = FlightSettings(
    payload="kanalas-1", trackers=(TrackerSettings(id="Q0HAB-11"),), launch_utc=T0
)


def test_packets_under_an_id_that_no_payload_has_are_told_with_the_lines_to_add() -> None:
    strangers = Strangers()
    strangers.note("Q0HAB-12")
    [(name, text, urgent)] = unheard(Flights((PLANNED,)), strangers, T0 - 90_000.0)
    assert (name, urgent) == ("tracker Q0HAB-12", False)
    assert text.startswith("Packets are coming from Q0HAB-12, which no payload has")
    assert '[[payload.tracker]], id = "Q0HAB-12"' in text


@pytest.mark.parametrize(
    ("at_s", "says", "urgent"),
    [
        (-7_300.0, "", False),
        (-7_200.0, "is to be launched in 2 h 00 min and was not heard", False),
        (300.0, "was to be launched 5 min ago and was not heard", False),
        (600.0, "was to be launched 10 min ago", True),
        (30_000.0, "", False),
    ],
)
def test_a_payload_that_is_not_heard_around_its_launch_is_told(
    at_s: float, says: str, urgent: bool
) -> None:
    found = list(unheard(Flights((PLANNED,)), Strangers(), T0 + at_s))
    assert len(found) == bool(says)
    for _, text, is_urgent in found:
        assert says in text
        assert is_urgent is urgent


def test_a_payload_that_is_heard_is_not_missed() -> None:
    told = fold([(T0 - 60.0, report(-60.0, 85.0))], PLANNED)
    assert list(unheard(told.flights, Strangers(), T0 + 700.0)) == []
