"""What it means when nothing is heard.

Silence is judged by the times of reception, against what was to be expected of each tracker that
was heard on this flight: how often it sends (learned, with the configured interval to begin with),
its receiver's ceiling, what it needs to be heard (line of sight, the sky, a cellular network), and
the phase. As long as one tracker of a payload is heard, the payload is not silent.
"""

import math
from dataclasses import dataclass, replace
from statistics import median

from groundstation.flight.alert_records import OnGround, SilenceCause
from groundstation.flight.horizon import hidden_below_m
from groundstation.flight.settings import FlightSettings, TrackerKind, TrackerSettings
from groundstation.flight.state import FlightState, Hearing
from groundstation.flight.whereabouts import Whereabouts, whereabouts
from groundstation.records import Fix, Height, Phase, Urgency

KEPT_INTERVALS = 15  # own choice: the median of so many is steady, and follows a new one soon
LEARNED_FROM = 5  # own choice: with fewer one gap would move the median
NEAR_CEILING_M = 1_500.0  # own choice: five minutes of climb
HORIZON_SLACK_M = 100.0  # own choice: trees and roofs around base
JUDGED_AGAIN_S = 30.0  # own choice: news of a silence can wait so long
# Own choice: about what it takes to tell that it should be down.
LAST_MINUTES_S = 300.0
IN_FLIGHT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)

ON_THE_GROUND = {
    TrackerKind.RADIO: OnGround.RADIO_REACHES_LITTLE,
    TrackerKind.CELLULAR: OnGround.CELLULAR_NEEDS_NETWORK,
}


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a silence is taken to mean, and how much it should disturb."""

    cause: SilenceCause
    urgency: Urgency
    where: Whereabouts | None = None


def heard(settings: FlightSettings, hearing: Hearing, fix: Fix | Height) -> Hearing:
    """Take a reception into account; says nothing of an end of silence."""
    trackers = {row[0]: row for row in hearing.trackers}
    before = trackers.get(fix.tracker)
    intervals: tuple[float, ...] = ()
    if before is not None:
        gap = fix.received_utc - before[1]
        intervals = before[2] if gap <= 0 else (*before[2], gap)[-KEPT_INTERVALS:]
    trackers[fix.tracker] = (fix.tracker, fix.received_utc, intervals)
    rows = tuple(trackers.values())
    due = max(at + _patience_s(settings, name, gaps) for name, at, gaps in rows)
    return Hearing(trackers=rows, due_utc=due)


def interval_s(settings: FlightSettings, hearing: Hearing, tracker: str) -> float:
    """How often the tracker is heard: as learned, else as configured."""
    known = {name: intervals for name, _, intervals in hearing.trackers}
    return _usual_s(settings, tracker, known.get(tracker, ()))


def _usual_s(settings: FlightSettings, tracker: str, intervals: tuple[float, ...]) -> float:
    configured = tracker_settings(settings, tracker).interval_s
    if len(intervals) >= LEARNED_FROM:
        return median(intervals)
    return max(configured, median(intervals)) if intervals else configured


def _patience_s(settings: FlightSettings, tracker: str, intervals: tuple[float, ...]) -> float:
    expected = _usual_s(settings, tracker, intervals)
    alerts = settings.alerts
    return max(alerts.silent_at_least_s, alerts.silent_after_intervals * expected)


def tracker_settings(settings: FlightSettings, tracker: str) -> TrackerSettings:
    for setting in settings.trackers:
        if setting.id.upper() == tracker.upper():
            return setting
    return settings.trackers[0] if settings.trackers else TrackerSettings(id=tracker)


def fell_silent(state: FlightState, now_utc: float) -> bool:
    """Whether a silence is to be judged. Quick: asked at every tick."""
    return now_utc > state.hearing.due_utc and state.motion.phase in IN_FLIGHT


def silence_told(hearing: Hearing, heard_utc: float) -> Hearing:
    """What there is to say of this silence since ``heard_utc`` was said."""
    return replace(hearing, silent_since=heard_utc, due_utc=math.inf)


def noticed(hearing: Hearing, heard_utc: float, now_utc: float) -> Hearing:
    """It is silent, which is not worth a message so far."""
    return replace(put_off(hearing, now_utc), silent_since=heard_utc)


def put_off(hearing: Hearing, now_utc: float) -> Hearing:
    """No news yet; look at it again in a while."""
    return replace(hearing, due_utc=now_utc + JUDGED_AGAIN_S)


def meaning(
    settings: FlightSettings,
    state: FlightState,
    flight_now_utc: float,
    deaf: frozenset[str] = frozenset(),
) -> Meaning | None:
    """What the silence means; None where it is no news so far.

    ``deaf`` are the sources that are not connected just now.
    """
    last = state.motion.last
    where = whereabouts(settings, state, flight_now_utc)
    if last is None or where is None:
        return None
    trackers = [tracker_settings(settings, name) for name, _, _ in state.hearing.trackers]
    urgent = Urgency.HIGH if state.motion.phase is Phase.DESCENT else Urgency.NORMAL
    if last.source in deaf:
        return Meaning(SilenceCause.SOURCE_AWAY, urgent, where)
    if where.down or _lands_now(state, flight_now_utc):
        return Meaning(SilenceCause.DOWN, Urgency.NORMAL)
    able = [tracker for tracker in trackers if not _out_of_reach(tracker, where)]
    if not able:
        return None
    if all(tracker.kind is TrackerKind.RADIO for tracker in able) and _hidden(settings, where):
        quiet = Urgency.QUIET if state.motion.phase is Phase.DESCENT else Urgency.NORMAL
        return Meaning(SilenceCause.BELOW_HORIZON, quiet, where)
    if any(_was_above(tracker, last) for tracker in able):
        return Meaning(SilenceCause.STILL_ABOVE_CEILING, urgent, where)
    if settings.base is None and any(tracker.kind is TrackerKind.RADIO for tracker in able):
        return Meaning(SilenceCause.NOT_EXPECTED_WITHOUT_BASE, urgent, where)
    return Meaning(SilenceCause.NOT_EXPECTED, urgent, where)


def _lands_now(state: FlightState, flight_now_utc: float) -> bool:
    """Whether it is so near to the ground that the touchdown will tell more than the silence."""
    landing = state.landing
    if landing is None or state.motion.phase is not Phase.DESCENT:
        return False
    return landing.eta_utc - flight_now_utc < LAST_MINUTES_S


def on_ground(settings: FlightSettings, state: FlightState) -> tuple[OnGround, ...]:
    """What is to be known of its trackers on the ground, each thing once."""
    trackers = [tracker_settings(settings, name) for name, _, _ in state.hearing.trackers]
    hints = [ON_THE_GROUND[tracker.kind] for tracker in trackers if tracker.kind in ON_THE_GROUND]
    hints += [OnGround.NEEDS_SKY for tracker in trackers if tracker.sky_needed]
    return tuple(dict.fromkeys(hints))


def is_audible(settings: FlightSettings, state: FlightState) -> bool:
    """Whether a receiver near it can hear it: one of those heard, else of all, is a radio."""
    heard = {tracker_settings(settings, name).kind for name, _, _ in state.hearing.trackers}
    return TrackerKind.RADIO in (heard or {tracker.kind for tracker in settings.trackers})


def _out_of_reach(tracker: TrackerSettings, where: Whereabouts) -> bool:
    """Whether the tracker can't be expected to be heard aloft, at any distance from base.

    Cellular networks look along the ground; aloft they are found by chance (common practice, no
    source).
    """
    if tracker.kind in (TrackerKind.LOG, TrackerKind.CELLULAR):
        return True
    height, ceiling = where.altitude_m, tracker.ceiling_m
    return height is not None and ceiling is not None and height > ceiling - NEAR_CEILING_M


def _was_above(tracker: TrackerSettings, last: Fix) -> bool:
    return (
        tracker.ceiling_m is not None
        and last.altitude_m is not None
        and last.altitude_m > tracker.ceiling_m - 2 * NEAR_CEILING_M
    )


def _hidden(settings: FlightSettings, where: Whereabouts) -> bool:
    """Whether base can't see it there."""
    if where.altitude_m is None or settings.base is None:
        return False
    ground_m = settings.base.altitude_m if settings.ground_m is None else settings.ground_m
    hidden = hidden_below_m(settings, where.latitude_deg, where.longitude_deg, ground_m)
    return hidden is not None and where.altitude_m < hidden + HORIZON_SLACK_M
