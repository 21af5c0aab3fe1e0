"""Which reports are believed.

A report is held against what the sender says of itself, against what is possible, against what was
already heard, and against where the payload could have got to. A jump is not believed at once, but
remembered: when the next reports agree with it and not with what was believed, it wins. So one bad
fix, even the first, never locks out the good ones.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from groundstation.flight.events import Observed
from groundstation.flight.lead import ALIKE_M
from groundstation.flight.settings import FlightSettings
from groundstation.flight.tracker_clock import TrackerClock, seen
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Reason, Report, Verdict

# The Dead Sea's shore is at -430 m; latex bursts lower (memory).
LOWEST_M, HIGHEST_M = -500.0, 60_000.0
# Well above any wind and any fall under a balloon's height: jet streams stay below 120 m/s, and a
# box without a parachute falls at 100 m/s at 30 km (common practice, no source).
FASTEST_DRIFT_MS = 150.0
FASTEST_CLIMB_MS = 30.0  # own choice: five times a usual ascent
FASTEST_FALL_MS = 120.0  # as above: a box without a parachute, and some more
SLACK_M = 60.0  # own choice: errors of two fixes
TRACKERS_APART_M = 300.0  # own choice: a long train of line, and heights of two sensors
PAST_S = 24 * 3600.0  # own choice: older is a packet out of a store, of another day
SAME_TIME_S = 0.5  # own choice: copies round their time to a second
SAME_PLACE_M = 60.0  # own choice: copies round their place, APRS to 18 m
SAME_HEIGHT_M = 5.0  # own choice: copies round their height to feet or metres
# A report without a time of its own, heard again within this time at the same place, is a copy:
# common practice on packet radio, no source.
COPY_S = 30.0
REMEMBERED = 200  # own choice: copies come within minutes
IN_AIR_M, BEHIND_M, ASIDE = 1_000.0, 100.0, 0.1
"""Only what has flown is looked at so; further back than a bobbing float; a share of the way
between two fixes by which it may lie aside (own choices)."""
RECENT = 4  # own choice: two more than a jump needs to be confirmed
LONG_BELIEVED = 8  # own choice: a track of so many is not given up for one fix
HEARD_JUST_NOW_S = 300.0  # own choice: after more, the other track may be the true one


@dataclass(frozen=True, slots=True)
class Mark:
    """What is remembered of a report to know its copies."""

    time_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None
    own_time: bool


@dataclass(frozen=True, slots=True)
class Believed:
    """A fix in the state, with the report it came from."""

    report_id: int
    fix: Fix


@dataclass(frozen=True, slots=True)
class GateState:
    """What the gate remembers of one payload; bounded."""

    recent: tuple[Believed, ...] = ()
    believed: int = 0
    marks: tuple[tuple[str, tuple[Mark, ...]], ...] = ()
    candidates: tuple[Believed, ...] = ()
    clocks: tuple[tuple[str, TrackerClock], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What became of a report: ``accepted`` fixes are to be folded, oldest first, after those of
    the ``revoked`` report ids were taken back."""

    state: GateState
    verdicts: tuple[Verdict, ...]
    accepted: tuple[Believed, ...] = ()
    revoked: frozenset[int] = frozenset()


def judge(settings: FlightSettings, state: GateState, observed: Observed) -> Judgement:
    """Decide on one report of a tracker of this payload."""
    report = observed.report
    trouble = impossible(report)
    if trouble is not None:
        return _refused(state, observed, *trouble)
    if report.time_unread:
        # Taken for new it could be kilometres off: it is kept, and the flight goes on without it.
        return _without_time(state, observed, replace(fix_of(settings, observed), late=True))
    state, observed, ahead = _clock(state, observed)
    if ahead is not None:
        return _refused(state, observed, Reason.BAD_TIME, ahead)
    report = observed.report
    fix = fix_of(settings, observed)
    newest = state.recent[-1].fix if state.recent else None
    if newest is not None and fix.time_utc < newest.time_utc - PAST_S:
        old = "its time is more than a day before the newest fix"
        return _refused(state, observed, Reason.BAD_TIME, old)
    mark = Mark(
        fix.time_utc,
        fix.latitude_deg,
        fix.longitude_deg,
        fix.altitude_m,
        report.time_utc is not None,
    )
    marks = dict(state.marks)
    known = marks.get(fix.tracker, ())
    if _heard_before(mark, known):
        copy = "the same position was already heard from this tracker"
        return _refused(state, observed, Reason.DUPLICATE, copy)
    if report.time_utc is None and _was_there(mark, known):
        late = "it was there before, so it was sent earlier, and when is not known"
        return _refused(state, observed, Reason.BAD_TIME, late)
    marks[fix.tracker] = (*known[1 - REMEMBERED :], mark)
    state = replace(state, marks=tuple(marks.items()))
    return _place(state, observed.report_id, fix, newest)


def _without_time(state: GateState, observed: Observed, fix: Fix) -> Judgement:
    """Keep it once, however many ways it comes; its copies are remembered apart, so that none that
    tells its time is taken for one."""
    mark = Mark(fix.received_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m, False)
    marks = dict(state.marks)
    apart = f"{fix.tracker} without a time"
    known = marks.get(apart, ())
    if _heard_before(mark, known):
        copy = "the same position was already heard from this tracker"
        return _refused(state, observed, Reason.DUPLICATE, copy)
    marks[apart] = (*known[1 - REMEMBERED :], mark)
    state = replace(state, marks=tuple(marks.items()))
    return Judgement(state=state, verdicts=(Verdict(report_id=observed.report_id, fix=fix),))


def without_height(state: GateState, tracker: str, altitude_m: float) -> GateState:
    """Go on without a height of this tracker that turned out to be none."""
    recent = tuple(
        replace(b, fix=replace(b.fix, altitude_m=None))
        if b.fix.tracker == tracker and abs((b.fix.altitude_m or 0.0) - altitude_m) < ALIKE_M
        else b
        for b in state.recent
    )
    return replace(state, recent=recent)


def impossible(report: Report) -> tuple[Reason, str] | None:
    """Why nothing can be where the report says, or None."""
    if not report.valid:
        return Reason.NO_FIX, "the tracker says that it has no fix"
    lat, lon, altitude = report.latitude_deg, report.longitude_deg, report.altitude_m
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        return Reason.IMPOSSIBLE, "the position is not on Earth"
    if abs(lat) < 0.001 and abs(lon) < 0.001:
        return Reason.NO_FIX, "0/0 is what a receiver without a fix sends"
    if altitude is not None and not LOWEST_M <= altitude <= HIGHEST_M:
        hint = "; are these feet? Then say so in units" if altitude > HIGHEST_M else ""
        return Reason.IMPOSSIBLE, f"no balloon is at {altitude:.0f} m{hint}"
    if report.time_utc is not None and not math.isfinite(report.time_utc):
        return Reason.BAD_TIME, "its time is not a number"
    return None


def _clock(state: GateState, observed: Observed) -> tuple[GateState, Observed, str | None]:
    """The report with its time mended where its tracker's clock is off, and why it is refused."""
    sent_utc, tracker = observed.report.time_utc, observed.report.tracker
    state, own, refused = mended(state, tracker, sent_utc, observed.received_utc)
    if own != sent_utc:
        observed = replace(observed, report=replace(observed.report, time_utc=own))
    return state, observed, refused


def mended(
    state: GateState, tracker: str, own_utc: float | None, received_utc: float
) -> tuple[GateState, float | None, str | None]:
    """A tracker's time, mended where its clock is off, and why it is refused."""
    if own_utc is None:
        return state, None, None
    clocks = dict(state.clocks)
    before = clocks.get(tracker, TrackerClock())
    clock, refused = seen(before, own_utc, received_utc)
    if clock != before:
        clocks[tracker] = clock
        state = replace(state, clocks=tuple(clocks.items()))
    return state, own_utc - clock.off_s, refused


def fix_of(settings: FlightSettings, observed: Observed) -> Fix:
    """The report as a fix of this payload; says nothing of whether it is believed."""
    report = observed.report
    time_utc = observed.received_utc if report.time_utc is None else report.time_utc
    return Fix(
        payload=settings.payload,
        tracker=report.tracker,
        source=observed.source,
        time_utc=time_utc,
        received_utc=observed.received_utc,
        latitude_deg=report.latitude_deg,
        longitude_deg=report.longitude_deg,
        altitude_m=report.altitude_m,
        uncertainty_m=report.uncertainty_m,
        course_deg=report.course_deg,
        speed_ms=report.speed_ms,
        satellites=report.satellites,
        telemetry=report.telemetry,
        time_unknown=bool(report.time_unread),
    )


def _heard_before(mark: Mark, known: tuple[Mark, ...]) -> bool:
    """Whether it is a copy of one of those. Most are told apart by their times alone."""
    from_utc, until_utc = mark.time_utc - COPY_S, mark.time_utc + COPY_S
    near = [other for other in known if from_utc <= other.time_utc <= until_utc]
    return any(_copy(mark, other) for other in reversed(near))


def _copy(a: Mark, b: Mark) -> bool:
    within = SAME_TIME_S if a.own_time and b.own_time else COPY_S
    if abs(a.time_utc - b.time_utc) > within:
        return False
    # A slow drift goes less than a place's width between two reports; then the climb tells them.
    if (
        not (a.own_time and b.own_time)
        and a.altitude_m is not None
        and b.altitude_m is not None
        and abs(a.altitude_m - b.altitude_m) > SAME_HEIGHT_M
    ):
        return False
    return (
        abs(a.latitude_deg - b.latitude_deg) < 0.01
        and distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
        < SAME_PLACE_M
    )


def _was_there(mark: Mark, known: tuple[Mark, ...]) -> bool:
    """Whether a report without a time of its own tells of a place on the way that lies behind: it
    was held up, and taken for new it would be a fall in an ascent."""
    newest_m = known[-1].altitude_m if known else None
    heights = [fix.altitude_m for fix in known if fix.altitude_m is not None]
    if mark.altitude_m is None or newest_m is None or max(heights) - min(heights) < IN_AIR_M:
        return False
    if abs(mark.altitude_m - newest_m) < BEHIND_M:
        return False
    return any(_between(mark, a, b) for a, b in pairwise(known))


def _between(mark: Mark, a: Mark, b: Mark) -> bool:
    """Whether ``mark`` lies on the straight way from ``a`` to ``b``."""
    if mark.altitude_m is None or a.altitude_m is None or b.altitude_m is None:
        return False
    climbed = b.altitude_m - a.altitude_m
    share = (mark.altitude_m - a.altitude_m) / climbed if climbed else -1.0
    if not 0.0 <= share <= 1.0:
        return False
    lat = a.latitude_deg + share * (b.latitude_deg - a.latitude_deg)
    lon = a.longitude_deg + share * (b.longitude_deg - a.longitude_deg)
    aside = distance_m(lat, lon, mark.latitude_deg, mark.longitude_deg)
    way = distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    return aside < max(SAME_PLACE_M, ASIDE * way)


def _place(state: GateState, report_id: int, fix: Fix, newest: Fix | None) -> Judgement:
    """Put a fix that is possible in itself beside what is believed."""
    mine = Believed(report_id, fix)
    if newest is not None and fix.time_utc < newest.time_utc:
        late = replace(fix, late=True)
        if not plausible(fix, newest):
            return _jump(state, mine)
        return Judgement(
            state=state,
            verdicts=(Verdict(report_id=report_id, fix=late),),
            accepted=(Believed(report_id, late),),
        )
    if newest is None or plausible(newest, fix):
        return _accepted(state, (mine,), frozenset())
    chain = state.candidates
    chain = (*chain, mine)[-RECENT:] if chain and plausible(chain[-1].fix, fix) else (mine,)
    state = replace(state, candidates=chain)
    if _spoken_against(state, mine):
        return _jump(state, mine)
    doubted = [b for b in state.recent if not plausible(b.fix, chain[0].fix)]
    linked = len(doubted) < len(state.recent) or state.believed <= 2
    if len(chain) >= (2 if linked else 3):
        return _accepted(state, chain, frozenset(b.report_id for b in doubted))
    return _jump(state, mine)


def _spoken_against(state: GateState, mine: Believed) -> bool:
    """Whether another tracker of the payload, long believed and heard just now, says otherwise."""
    newest = state.recent[-1].fix
    return (
        state.believed >= LONG_BELIEVED
        and all(b.fix.tracker != mine.fix.tracker for b in state.recent)
        and mine.fix.time_utc - newest.time_utc < HEARD_JUST_NOW_S
    )


def _accepted(state: GateState, new: tuple[Believed, ...], revoked: frozenset[int]) -> Judgement:
    kept = tuple(b for b in state.recent if b.report_id not in revoked)
    verdicts = tuple(
        Verdict(report_id=report_id, reason=Reason.JUMP, detail="later fixes speak against it")
        for report_id in sorted(revoked)
    )
    return Judgement(
        state=replace(
            state,
            recent=(*kept, *new)[-RECENT:],
            believed=state.believed - len(revoked) + len(new),
            candidates=(),
        ),
        verdicts=verdicts + tuple(Verdict(report_id=b.report_id, fix=b.fix) for b in new),
        accepted=new,
        revoked=revoked,
    )


def _jump(state: GateState, mine: Believed) -> Judgement:
    verdict = Verdict(
        report_id=mine.report_id,
        reason=Reason.JUMP,
        detail="nothing gets there that fast from where the payload was",
    )
    return Judgement(state=state, verdicts=(verdict,))


def plausible(a: Fix, b: Fix) -> bool:
    """Whether one payload can have been at both."""
    if b.time_utc < a.time_utc:
        a, b = b, a
    dt = max(b.time_utc - a.time_utc, 1.0)
    slack = SLACK_M + a.uncertainty_m + b.uncertainty_m
    if a.tracker != b.tracker:
        slack += TRACKERS_APART_M
    apart = distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    if apart - slack > FASTEST_DRIFT_MS * dt:
        return False
    if a.altitude_m is None or b.altitude_m is None:
        return True
    climb = b.altitude_m - a.altitude_m
    return -FASTEST_FALL_MS * dt - slack <= climb <= FASTEST_CLIMB_MS * dt + slack


def _refused(state: GateState, observed: Observed, reason: Reason, detail: str) -> Judgement:
    verdict = Verdict(report_id=observed.report_id, reason=reason, detail=detail)
    return Judgement(state=state, verdicts=(verdict,))
