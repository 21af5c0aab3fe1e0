"""A tracker's id that was written down wrongly is told, with the lines to add."""

import pytest

from groundstation.station.strangers import MOST, Strangers, lines_for


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
