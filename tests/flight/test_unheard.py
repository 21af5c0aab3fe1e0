"""What messages that did not come say. The tracker's own chances are our choice; what follows from
them is arithmetic."""

import numpy as np
import pytest

from groundstation.flight.missed_messages import Due, log_likelihood
from groundstation.physics.courses import COUNT, Courses


def flights(top_m: list[float]) -> Courses:
    n = len(top_m)
    return Courses.of(
        launch_s=np.zeros(n),
        from_m=100.0,
        top_m=np.array(top_m),
        float_s=np.zeros(n),
        climb_ms=np.full((n, COUNT), 5.0),
        fall_rate_ms=np.full((n, COUNT), 6.0),
        ground_m=100.0,
    )


def test_messages_due_are_those_between_and_those_since() -> None:
    due = Due.of(np.array([0.0, 610.0, 2_400.0]), 600.0, 3_700.0)
    assert due.time_s == pytest.approx([610.0, 1_206.7, 1_803.3, 2_400.0, 3_000.0, 3_600.0], abs=1)
    assert due.came.tolist() == [True, False, False, True, False, False]


def test_nothing_is_due_again_right_after_a_message() -> None:
    assert Due.of(np.array([0.0, 600.0]), 600.0, 800.0).came.tolist() == [True]


def test_a_long_silence_is_one_above_the_ceiling() -> None:
    """Heard to 3000 s (15 km), not from there on: a flight that went on to 30 km, not one that
    burst at 16 km and would have been heard all the way down."""
    due = Due.of(np.arange(0.0, 3_001.0, 600.0), 600.0, 7_000.0)
    low, high = log_likelihood(flights([16_000.0, 33_000.0]), due, ceiling_m=18_000.0)
    assert high > low + 3.0
    low, high = log_likelihood(flights([16_000.0, 33_000.0]), due, ceiling_m=None)
    assert high > low + 1.0


def test_without_a_message_missing_it_says_nothing() -> None:
    due = Due.of(np.arange(0.0, 3_001.0, 600.0), 600.0, 3_100.0)
    assert log_likelihood(flights([20_000.0, 33_000.0]), due, None).tolist() == [0.0, 0.0]
