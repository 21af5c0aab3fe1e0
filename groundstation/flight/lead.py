"""Which of a payload's trackers leads.

Trackers differ: in height by tens to hundreds of metres (a pressure height, another geoid), in time
by seconds (one sends no time of its own), in how coarse they are. Mixed, they would give climbs and
winds that never were. So the flight follows one tracker at a time; the others are kept, shown,
held against it, and stand in when it falls silent. How far their heights are off is learned while
both are heard, so that the hand-over is no jump.
"""

from bisect import bisect_left
from dataclasses import dataclass, replace
from statistics import median
from typing import Final

from groundstation.flight.track import Track
from groundstation.records import Fix, Report

STANDS_IN_AFTER: Final = 1.5
"""So many of its own intervals after its last fix, a tracker as good stands in for it."""

WORSE_AFTER: Final = 4.0  # own choice: so many of its intervals late, another leads
AT_LEAST_S: Final = 10.0  # own choice: no change of leader for less
OFTENER: Final = 2.0  # own choice: twice as many fixes are worth a change
COARSE_M: Final = 100.0  # own choice: places less sure than that are second best
PAIRS: Final = 5  # own choice: a median of five stands against two bad ones
NEIGHBOURS_S: Final = 180.0  # own choice: between fixes further apart a balloon may have burst
BELIEVED_M: Final = 600.0  # own choice: more is no offset but a fault
ALIKE_M: Final = 0.5
"""Heights closer than this are the same one, told again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """``newest`` is the leader's last fix. ``waiting`` are fixes of others, until the leader's
    height at their time is known. ``off_m`` holds, for each tracker, by how much its heights were
    above those followed, newest last. ``stuck`` are trackers whose height stands still, with it."""

    newest: Fix | None = None
    waiting: tuple[Fix, ...] = ()
    off_m: tuple[tuple[str, tuple[float, ...]], ...] = ()
    stuck: tuple[tuple[str, float], ...] = ()


def follows(lead: Lead, fix: Fix, *, its_s: float, leaders_s: float, blind: bool) -> bool:
    """Whether the flight is to follow ``fix``.

    ``its_s`` and ``leaders_s`` are how often the two trackers send; ``blind`` says that the
    leader's heights are not worth anything just now.
    """
    newest = lead.newest
    if newest is None or newest.tracker == fix.tracker:
        return True
    mine, theirs = _rank(fix), max(_rank(newest), int(blind))
    if mine < theirs:
        return True
    silent_s = fix.received_utc - newest.received_utc
    patience = STANDS_IN_AFTER if mine == theirs else WORSE_AFTER
    if silent_s > max(patience * leaders_s, AT_LEAST_S):
        return True
    return mine == theirs and OFTENER * its_s <= leaders_s


def stuck_at(lead: Lead, tracker: str, altitude_m: float) -> Lead:
    """Remember that the tracker's height stands still there."""
    others = tuple(height for height in lead.stuck if height[0] != tracker)
    return replace(lead, stuck=(*others, (tracker, altitude_m)))


def without_stuck(lead: Lead, report: Report) -> tuple[Lead, Report]:
    """``report`` without its height where that stands still; forgotten once it moves."""
    height = dict(lead.stuck).get(report.tracker)
    if height is None or report.altitude_m is None:
        return lead, report
    if abs(report.altitude_m - height) < ALIKE_M:
        return lead, replace(report, altitude_m=None)
    return replace(
        lead, stuck=tuple(height for height in lead.stuck if height[0] != report.tracker)
    ), report


def fills_gap(track: Track, fix: Fix) -> bool:
    """Whether a late fix of another tracker tells of a time of which the track knows nothing."""
    return _around(track, fix) is None


def followed(lead: Lead, fix: Fix, *, blind: bool) -> tuple[Lead, Fix]:
    """Follow ``fix``; it comes back with its height as the trackers before it would tell it."""
    if blind and lead.newest is not None and lead.newest.tracker != fix.tracker:
        lead = replace(lead, waiting=(), off_m=())
    off = _learned(lead, fix.tracker)
    level = fix
    if fix.altitude_m is not None and off:
        level = replace(fix, altitude_m=fix.altitude_m - off)
    return (lead if fix.late else replace(lead, newest=fix)), level


def passed_over(lead: Lead, fix: Fix) -> Lead:
    if fix.altitude_m is None:
        return lead
    others = [other for other in lead.waiting if other.tracker != fix.tracker]
    return replace(lead, waiting=(*others, fix))


def learned(lead: Lead, track: Track) -> Lead:
    """Hold the waiting fixes against the track as far as it goes."""
    newest = track.newest
    if newest is None or not lead.waiting:
        return lead
    off = dict(lead.off_m)
    waiting = []
    for fix in lead.waiting:
        height = _around(track, fix)
        if height is not None and fix.altitude_m is not None:
            off[fix.tracker] = (*off.get(fix.tracker, ()), fix.altitude_m - height)[-PAIRS:]
        elif newest.time_utc - fix.time_utc < NEIGHBOURS_S:
            waiting.append(fix)
    return replace(lead, waiting=tuple(waiting), off_m=tuple(off.items()))


def _rank(fix: Fix) -> int:
    return int(fix.altitude_m is None or fix.uncertainty_m > COARSE_M)


def _learned(lead: Lead, tracker: str) -> float:
    differences = dict(lead.off_m).get(tracker, ())
    if not differences:
        return 0.0
    middle = median(differences)
    return middle if abs(middle) <= BELIEVED_M else 0.0


def _around(track: Track, fix: Fix) -> float | None:
    """The track's height at the time of ``fix``; None without a neighbour on either side."""
    points = [p for p in track.points[-64:] if p.altitude_m is not None]
    at = bisect_left([p.time_utc for p in points], fix.time_utc)
    if not 0 < at < len(points):
        return None
    a, b = points[at - 1], points[at]
    if b.time_utc - a.time_utc > NEIGHBOURS_S or a.altitude_m is None or b.altitude_m is None:
        return None
    share = (fix.time_utc - a.time_utc) / (b.time_utc - a.time_utc)
    return a.altitude_m + share * (b.altitude_m - a.altitude_m)
