"""Trackers whose clocks are wrong, in words for the person."""

from collections.abc import Iterator

from groundstation.flight.state import FlightState
from groundstation.flight.tracker_clock import FUTURE_S


def off_clocks(state: FlightState) -> Iterator[tuple[str, str]]:
    """The tracker, and what is wrong with its clock, one for each that is."""
    for tracker, clock in state.gate.clocks:
        if clock.off_s:
            way = "ahead" if clock.off_s > 0.0 else "behind"
            yield (
                tracker,
                f"The clock of {tracker} is {_amount(abs(clock.off_s))} {way}; its times are "
                "mended by that. Look at its time zone and daylight saving.",
            )
        elif clock.usual_s > FUTURE_S:
            yield (
                tracker,
                f"The times of {tracker} are {_amount(clock.usual_s)} ahead of this station's "
                "clock: one of the two is wrong. Look at both.",
            )


def _amount(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    if minutes < 120:
        return f"{minutes} min"
    hours = minutes / 60.0
    return f"{hours:g} h" if hours < 48.0 else f"{hours / 24.0:.1f} days"
