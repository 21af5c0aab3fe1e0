"""Reports whose time could not be read are kept once, and displace nothing."""

from dataclasses import replace

from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.records import Reason, Verdict
from tests.support.flights import ANY, T0, report


def verdict(flights: Flights, number: int, *, unread: bool) -> Verdict:
    told = report(60.0, 1_000.0)
    if unread:
        told = replace(told, time_utc=None, time_unread="75:42:34")
    event = Observed(report_id=number, source="x", received_utc=T0 + 60.0 + number, report=told)
    [found] = [one for one in flights.observed(event) if isinstance(one, Verdict)]
    return found


def test_by_three_ways_it_is_one_fix() -> None:
    flights = Flights((ANY,))
    first, *copies = (verdict(flights, number, unread=True) for number in (1, 2, 3))
    assert first.fix is not None
    assert first.fix.time_unknown
    # So that no reader of the store takes it for a point of the track.
    assert first.fix.late
    assert [one.reason for one in copies] == [Reason.DUPLICATE, Reason.DUPLICATE]


def test_the_same_place_with_its_time_is_no_copy_of_it() -> None:
    flights = Flights((ANY,))
    verdict(flights, 1, unread=True)
    timed = verdict(flights, 2, unread=False)
    assert timed.fix is not None
    assert not timed.fix.time_unknown
