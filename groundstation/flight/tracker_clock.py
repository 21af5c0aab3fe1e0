"""Clocks of trackers that are wrong: an hour, a day, or by no whole number at all.

A tracker's own times are better than those of reception, which packets reach late. But a clock set
to the wrong zone, one that takes part in daylight saving, or one that starts again at an old date
is off by whole half hours or days, again and again: then so much is taken off. What is late now and
then is late by all kinds of times, and stays as it is; so does what is years behind a clock of ours
that jumped ahead.
"""

from dataclasses import dataclass, replace
from typing import Final

FUTURE_S: Final = 600.0
"""Beyond what receivers' clocks differ by, and they are kept by the network (own choice)."""
HALF_HOUR_S: Final = 1_800.0
"""The difference of zones; a few lie a quarter of an hour between, and are told but not mended."""
ZONES_S: Final = 26.0 * 3_600.0
"""Between the furthest zones, UTC-12 and UTC+14. Further off a date is wrong and the time of day
right, as where a receiver counts its weeks anew each 1,024 (IS-GPS-200, from memory)."""
WHOLE_WITHIN_S: Final = 90.0
"""How far from a whole number of those it may be: seconds on the way, and a slow clock."""
STEADY_S: Final = 30.0  # own choice: a packet is on its way for less
TIMES: Final = 3
"""Reports in a row that must agree (own choice)."""
WORKED_OFF_S: Final = 2.0 * STEADY_S
"""A queue gives up in an instant what it held for half an hour, so that a few packets in a row are
late by nearly the same time. What goes on for so long is no queue: there it would have changed."""


@dataclass(frozen=True, slots=True)
class TrackerClock:
    """``known`` says that it was right before. ``off_s`` is taken off its times. ``usual_s`` is how
    far its times may be ahead all the same, where our own clock is the one that is behind.
    ``odd_s`` is by how much the newest ``times`` reports were off beside that, the first of which
    came at ``since_utc``."""

    known: bool = False
    off_s: float = 0.0
    usual_s: float = 0.0
    odd_s: float = 0.0
    times: int = 0
    since_utc: float = 0.0


def seen(
    clock: TrackerClock, own_utc: float, received_utc: float
) -> tuple[TrackerClock, str | None]:
    """Hold a report's time against that of its reception; the clock, and why it is refused."""
    ahead_s = own_utc - clock.off_s - clock.usual_s - received_utc
    step_s = HALF_HOUR_S if abs(ahead_s) <= ZONES_S + WHOLE_WITHIN_S else 86_400.0
    wrong_by_s = step_s * round(ahead_s / step_s)
    whole = wrong_by_s != 0.0 and abs(ahead_s - wrong_by_s) <= WHOLE_WITHIN_S
    if ahead_s <= FUTURE_S and not whole:
        steady = clock.known and not clock.times and not clock.odd_s
        return (clock if steady else replace(clock, known=True, odd_s=0.0, times=0)), None
    near = STEADY_S if whole else FUTURE_S
    if clock.times and abs(clock.odd_s - ahead_s) < near:
        clock = replace(clock, times=clock.times + 1)
    else:
        clock = replace(clock, odd_s=ahead_s, times=1, since_utc=received_utc)
    queued = ahead_s < 0.0 and received_utc - clock.since_utc < WORKED_OFF_S
    if clock.times < TIMES or queued:
        why = f"its time is {ahead_s / 60:.0f} min in the future"
        return clock, why if ahead_s > FUTURE_S else None
    if whole and (ahead_s < 0.0 or clock.known):
        off_s = clock.off_s + wrong_by_s
        return TrackerClock(known=True, off_s=off_s, usual_s=clock.usual_s), None
    return replace(clock, odd_s=0.0, times=0, usual_s=clock.usual_s + ahead_s), None
