"""A tracker's clock that is wrong is told to the person."""

from dataclasses import replace

from groundstation.flight.fold import begin
from groundstation.flight.gate import GateState
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.flight.tracker_clock import TrackerClock
from groundstation.station.off_clocks import off_clocks

STATE = begin(FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="*"),)))


def told(clock: TrackerClock) -> list[str]:
    state = replace(STATE, gate=GateState(clocks=(("Q0HAB-11", clock),)))
    return [text for _, text in off_clocks(state)]


def test_a_right_clock_is_no_news() -> None:
    assert told(TrackerClock(known=True)) == []


def test_an_hour_off_is_told_with_what_was_done_about_it() -> None:
    (text,) = told(TrackerClock(known=True, off_s=-3_600.0))
    assert text.startswith("The clock of Q0HAB-11 is 60 min behind; its times are mended by that.")
    (text,) = told(TrackerClock(known=True, off_s=86_400.0 * 7))
    assert "7.0 days ahead" in text


def test_where_either_may_be_wrong_both_are_named() -> None:
    (text,) = told(TrackerClock(usual_s=2_800.0))
    assert "47 min ahead of this station's clock: one of the two is wrong" in text
