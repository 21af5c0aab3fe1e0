"""Trackers whose clocks are wrong, in words for the person."""

from collections.abc import Iterator

from groundstation.flight.state import FlightState
from groundstation.flight.tracker_clock import FUTURE_S
from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number


def off_clocks(state: FlightState) -> Iterator[tuple[str, str]]:
    """The tracker, and what is wrong with its clock, one for each that is."""
    for tracker, clock in state.gate.clocks:
        if clock.off_s:
            ahead = N_(
                "The clock of {tracker} is {amount} ahead; its times are mended by that. Look at"
                " its time zone and daylight saving."
            )
            behind = N_(
                "The clock of {tracker} is {amount} behind; its times are mended by that. Look at"
                " its time zone and daylight saving."
            )
            amount = _amount(abs(clock.off_s))
            text = ahead if clock.off_s > 0.0 else behind
            yield tracker, _(text, tracker=tracker, amount=amount)
        elif clock.usual_s > FUTURE_S:
            yield (
                tracker,
                _(
                    "The times of {tracker} are {amount} ahead of this station's clock: one of the"
                    " two is wrong. Look at both.",
                    tracker=tracker,
                    amount=_amount(clock.usual_s),
                ),
            )


def _amount(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    if minutes < 120:
        return _("{minutes} min", minutes=minutes)
    hours = minutes / 60.0
    if hours < 48.0:
        return _("{hours} h", hours=number(hours, 0 if hours == int(hours) else 1))
    return _("{days} days", days=number(hours / 24.0, 1))
