"""Trackers whose clocks are wrong, or become so."""

import pytest

from groundstation.flight.tracker_clock import TrackerClock, seen


def times(offsets_s: list[float], every_s: float = 60.0) -> list[float | None]:
    """How far ahead of reception each report is taken to be, None where it is refused."""
    clock, taken = TrackerClock(), list[float | None]()
    for n, offset in enumerate(offsets_s):
        received = 1e9 + n * every_s
        clock, refused = seen(clock, received + offset, received)
        taken.append(None if refused else offset - clock.off_s)
    return taken


@pytest.mark.parametrize("hours", [1, -1, 24, -24, 0.5, -5.5, 7 * 24 * 1024, -7 * 24 * 1024])
def test_a_clock_that_changes_by_whole_half_hours_is_mended(hours: float) -> None:
    by = 3_600.0 * hours
    taken = times([-2.0, -1.0, -3.0] + [by - 2.0] * 4)
    assert taken[:3] == [-2.0, -1.0, -3.0]
    assert taken[5:] == [-2.0, -2.0]


def test_a_clock_that_is_an_hour_behind_from_the_start_is_mended() -> None:
    assert times([-3_602.0] * 5)[2:] == [-2.0] * 3


def test_and_once_more_when_it_is_put_right() -> None:
    assert times([-3_602.0] * 4 + [-2.0] * 4)[-1] == -2.0


def test_late_packets_are_late_and_nothing_else() -> None:
    late = [-2.0, -900.0, -1_800.0, -3.0, -2_700.0, -3_600.0, -1_750.0, -2.0]
    assert times(late) == late


def test_a_backlog_that_is_worked_off_is_late_and_nothing_else() -> None:
    backlog = [-3_600.0 + 55.0 * n for n in range(60)]
    assert times(backlog, every_s=5.0) == backlog


@pytest.mark.parametrize("sent_every_s", [1.0, 10.0, 30.0])
def test_a_backlog_that_comes_at_once_is_late_and_nothing_else(sent_every_s: float) -> None:
    """A broker that was away for an hour gives all of it in a second, and then what is new."""
    backlog = [-3_600.0 + sent_every_s * n for n in range(int(3_600.0 / sent_every_s))]
    assert times(backlog, every_s=0.001) == backlog


def test_a_delay_that_stays_the_same_is_left_alone() -> None:
    """Mails that come forty minutes late all day were sent then all the same."""
    assert times([-2_400.0] * 6) == [-2_400.0] * 6


@pytest.mark.parametrize("years", [3.0, 7.0])
def test_where_our_own_clock_jumps_ahead_by_years_the_packets_are_right(years: float) -> None:
    """Julian years are whole half hours, too; a clock that nothing keeps may jump by any time."""
    ahead_s = years * 365.25 * 86_400.0
    assert times([-2.0, *[-ahead_s] * 6]) == [-2.0, *[-ahead_s] * 6]


def test_where_our_own_clock_is_behind_the_packets_are_right() -> None:
    """A small computer without a clock battery: the station's clock follows them then."""
    assert times([3_600.0] * 5) == [None, None, 3_600.0, 3_600.0, 3_600.0]
