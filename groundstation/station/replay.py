"""A recording through the same fold as the live station, as fast as it goes.

The same recording and settings give the same records, to the byte.
"""

import math
from collections import deque
from collections.abc import Iterator, Sequence
from typing import Any

from groundstation.alerts.wording import WordingSettings, render
from groundstation.flight.alert_records import Alert, Message
from groundstation.flight.events import arrived, heard_at
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.fold import Outcome
from groundstation.flight.settings import FlightSettings, TrackerSettings, VehicleSettings
from groundstation.recordings.recording import Recording
from groundstation.records import Frame, Landing, PhaseChange, Unreadable, Verdict
from groundstation.schema.landing import landing_json
from groundstation.schema.lines import alert_json, phase_json, rejected_json
from groundstation.station.heap import keep_freed
from groundstation.store.sighting_rows import PersonTold

Told = PhaseChange | Landing | Message | tuple[Frame, Verdict]


def make_do(recording: Recording) -> tuple[FlightSettings, ...]:
    """Settings for a recording that comes without a configuration: one payload, any tracker."""
    name = recording.payload or "payload"
    return (FlightSettings(payload=name, trackers=(TrackerSettings(id="*"),)),)


def replay(
    recording: Recording,
    settings: Sequence[FlightSettings],
    wording: WordingSettings,
    vehicles: Sequence[VehicleSettings] = (),
) -> Iterator[tuple[float, Told]]:
    """Yield what the station would have said, with the time of reception it was said at."""
    keep_freed()
    flights = Flights(settings, vehicles)
    report_id = 0
    clock: float | None = None
    waiting = deque(word for word in recording.people if word.payload in flights.payloads)
    for frame in recording.frames:
        if clock is not None:
            for now in ticks_between(clock, frame.received_utc):
                yield from _by_people(flights, waiting, now, frame, wording)
                for outcome in _told(flights, flights.tick(now), frame, wording):
                    yield now, outcome
                yield from _estimated(flights, flights.due_by_time(), now, frame, wording)
        clock = frame.received_utc
        yield from _by_people(flights, waiting, clock, frame, wording)
        for read in recording.decode(frame):
            report_id += 1
            if isinstance(read, Unreadable):
                refusal = Verdict(report_id=report_id, reason=read.reason, detail=read.detail)
                yield clock, (frame, refusal)
                continue
            heard_utc = heard_at(clock, read, frame.sent_utc, retained=frame.retained)
            event = arrived(report_id, frame.source, heard_utc, read)
            for outcome in _told(flights, flights.observed(event), frame, wording):
                yield clock, outcome
        yield from _estimated(flights, flights.due(), clock, frame, wording)
    if recording.frames:
        yield from _by_people(flights, waiting, math.inf, recording.frames[-1], wording)


def _by_people(
    flights: Flights,
    waiting: deque[PersonTold],
    until_utc: float,
    frame: Frame,
    wording: WordingSettings,
) -> Iterator[tuple[float, Told]]:
    """What persons told up to then, and the estimates that follow from it."""
    while waiting and waiting[0].event.now_utc <= until_utc:
        word = waiting.popleft()
        now = word.event.now_utc
        for outcome in _told(flights, flights.sighted(word.payload, word.event), frame, wording):
            yield now, outcome
        yield from _estimated(flights, flights.due(), now, frame, wording)


def _estimated(
    flights: Flights,
    due: Sequence[str],
    at_utc: float,
    frame: Frame,
    wording: WordingSettings,
) -> Iterator[tuple[float, Told]]:
    for payload in due:
        landing = flights.estimate(payload)
        if landing is not None:
            outcomes = flights.estimated(landing)
            yield at_utc, landing
            for outcome in _told(flights, outcomes, frame, wording):
                yield at_utc, outcome


def _told(
    flights: Flights, outcomes: Sequence[Outcome], frame: Frame, wording: WordingSettings
) -> Iterator[Told]:
    for outcome in outcomes:
        match outcome:
            case Verdict(reason=None):
                continue
            case Verdict():
                yield frame, outcome
            case Alert():
                yield render(outcome, wording, flights.vehicles.positions)
            case _:
                yield outcome


def as_json(at_utc: float, outcome: Told) -> dict[str, Any]:
    """The record as others read it (design: one object a line)."""
    match outcome:
        case PhaseChange():
            return phase_json(outcome)
        case Landing():
            return landing_json(outcome)
        case Message():
            return alert_json(outcome)
        case (frame, verdict):
            assert verdict.reason is not None
            return rejected_json(frame, verdict.reason, verdict.detail, at_utc)
