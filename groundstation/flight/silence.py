"""What it means when nothing is heard.

Silence is judged by the times of reception, against what was to be expected of each tracker: how
often it sends (learned, with the configured interval to begin with), its receiver's ceiling, the
radio horizon of base, and the phase. As long as one tracker of a payload is heard, the payload is
not silent.
"""

from dataclasses import dataclass, replace
from statistics import median

from groundstation.flight.horizon import hidden_below_m
from groundstation.flight.settings import FlightSettings, TrackerKind, TrackerSettings
from groundstation.flight.state import FlightState, Hearing
from groundstation.records import Fix, Phase, Urgency

KEPT_INTERVALS = 15
NEAR_CEILING_M = 1_500.0
HORIZON_SLACK_M = 100.0
IN_FLIGHT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a silence is taken to mean, in words, and how much it should disturb."""

    note: str
    expected: bool
    urgency: Urgency


def heard(settings: FlightSettings, hearing: Hearing, fix: Fix) -> Hearing:
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


def _patience_s(settings: FlightSettings, tracker: str, intervals: tuple[float, ...]) -> float:
    expected = tracker_settings(settings, tracker).interval_s
    if len(intervals) >= 5:
        expected = median(intervals)
    alerts = settings.alerts
    return max(alerts.silent_at_least_s, alerts.silent_after_intervals * expected)


def tracker_settings(settings: FlightSettings, tracker: str) -> TrackerSettings:
    for one in settings.trackers:
        if one.id.upper() == tracker.upper():
            return one
    return settings.trackers[0] if settings.trackers else TrackerSettings(id=tracker)


def fell_silent(state: FlightState, now_utc: float) -> bool:
    """Whether a silence begins to be worth a word. Quick: asked at every tick."""
    return (
        now_utc > state.hearing.due_utc
        and state.hearing.silent_since is None
        and state.motion.phase in IN_FLIGHT
    )


def told(hearing: Hearing, last: Fix) -> Hearing:
    return replace(hearing, silent_since=last.received_utc)


def meaning(settings: FlightSettings, state: FlightState, flight_now_utc: float) -> Meaning | None:
    """What the silence means; None where it is no news at all."""
    last = state.motion.last
    if last is None:
        return None
    tracker = tracker_settings(settings, last.tracker)
    height = last.altitude_m
    ceilings = [one.ceiling_m for one in settings.trackers]
    if (
        height is not None
        and ceilings
        and all(c is not None and height > c - NEAR_CEILING_M for c in ceilings)
        and state.motion.phase is not Phase.DESCENT
    ):
        return None
    landing = state.landing
    if state.motion.phase is Phase.DESCENT and landing is not None:
        if flight_now_utc > landing.eta_utc:
            return Meaning(
                "It should be down by now, near the landing point.", True, Urgency.NORMAL
            )
        if tracker.kind is TrackerKind.RADIO and _below_horizon(settings, last, landing.eta_utc):
            return Meaning("As expected, below the horizon of base.", True, Urgency.QUIET)
    urgent = Urgency.HIGH if state.motion.phase is Phase.DESCENT else Urgency.NORMAL
    return Meaning("Not expected here: check the receiver and its antenna.", False, urgent)


def _below_horizon(settings: FlightSettings, last: Fix, eta_utc: float) -> bool:
    """Whether the payload has by now sunk, or is about to sink, below the radio horizon."""
    if settings.base is None or last.altitude_m is None:
        return False
    ground = settings.ground_m if settings.ground_m is not None else settings.base.altitude_m
    hidden = hidden_below_m(settings, last.latitude_deg, last.longitude_deg, ground)
    if hidden is None:
        return False
    left_s = max(eta_utc - last.time_utc, 1.0)
    sunk = (last.altitude_m - ground) * min(settings.alerts.silent_at_least_s / left_s, 1.0)
    return last.altitude_m - sunk < hidden + HORIZON_SLACK_M
