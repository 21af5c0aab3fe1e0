"""Where a station goes on after a restart: from a snapshot, or from the begin of what still counts.

A flight counts from before its launch until well after its landing, however long ago that was: a
payload that was never heard on the ground may be heard there any day, and one that lies there may
be carried off.
"""

import math
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from groundstation.flight.alert_records import AlertKey
from groundstation.flight.events import Estimated, HeightHeard, Observed
from groundstation.flight.settings import FlightSettings
from groundstation.records import Phase, PhaseChange
from groundstation.store.reader import Event, Reader
from groundstation.store.sighting_rows import PersonTold
from groundstation.store.snapshots import Snapshot, digest

RECENT_S: Final = 48 * 3_600.0
"""What was heard of late counts in any case: trackers on the ground before a launch."""
BEFORE_LAUNCH_S: Final = 2 * 3_600.0  # own choice, see AFTER_LANDING_S
AFTER_LANDING_S: Final = 3_600.0
"""Own choices: enough to see the ground before a launch, and to come to rest after a landing."""
SAME_FLIGHT_S: Final = 3 * 3_600.0
"""Begins closer together are of one flight: it takes about that long to fly, come down and be
fetched (own choice)."""


@dataclass(frozen=True, slots=True)
class Span:
    """Station times between which events count, both included."""

    begin_utc: float
    end_utc: float = math.inf


def digest_of(settings: Iterable[FlightSettings]) -> str:
    """A digest of what the person set, but for terrain and winds, which only estimates use."""
    return digest([replace(flight, terrain=None, aloft=None) for flight in settings])


def sound(snapshot: Snapshot | None, reader: Reader, settings: str) -> bool:
    """Whether it may be gone on from: same settings, and the same events before it."""
    return (
        snapshot is not None
        and snapshot.settings == settings
        and snapshot.rests_on == reader.digest(snapshot.seq)
    )


def spans(phases: Iterable[tuple[PhaseChange, ...]], now_utc: float) -> tuple[Span, ...]:
    """What is to be folded where there is no snapshot; ``phases`` are those of each payload."""
    found = [Span(now_utc - RECENT_S)]
    for changes in phases:
        begin: PhaseChange | None = None
        end = math.inf
        before: Phase | None = None
        for change in changes:
            if change.phase is Phase.LANDED:
                end = change.time_utc
            elif change.phase is Phase.ASCENT and before in (None, Phase.PRELAUNCH, Phase.LANDED):
                begin, end = change, math.inf
            elif before is None:
                begin = change
            before = change.phase
        if begin is not None:
            known = min(begin.time_utc, begin.since_utc)
            found.append(Span(known - BEFORE_LAUNCH_S, end + AFTER_LANDING_S))
    return tuple(found)


def counting(reader: Reader, now_utc: float) -> Iterator[tuple[int, Event]]:
    """The events that count, in their order."""
    wanted = spans((reader.phases(name) for name in reader.payloads()), now_utc)
    for seq, event in reader.events_since(min(span.begin_utc for span in wanted)):
        at = at_utc(event)
        if any(span.begin_utc <= at <= span.end_utc for span in wanted):
            yield seq, event


def at_utc(event: Event) -> float:
    """The station's time of an event."""
    match event:
        case Observed() | HeightHeard():
            return event.received_utc
        case Estimated():
            return event.landing.time_utc
        case PersonTold():
            return event.event.now_utc


def said_before(reader: Reader, payloads: Collection[str]) -> Callable[[AlertKey], bool]:
    """Whether an alert was told before.

    A key holds when the flight began: a jump of the clock may have moved that where the tracker
    sends no time of its own, and another version of the program may have taken another moment for
    it. It holds the payload's name, too, which the person may have changed since: what was told of
    one that is none of ``payloads`` any more was told of whatever flies now.
    """
    told_begun: dict[AlertKey, list[float]] = {}
    for key in reader.spoken_keys():
        name = key.payload if key.payload in payloads else ""
        plain = replace(key.without_begin, payload=name)
        told_begun.setdefault(plain, []).append(key.begun_utc or 0.0)
    within_s = math.inf if reader.clock_jumped() else SAME_FLIGHT_S

    def said(key: AlertKey) -> bool:
        plain = key.without_begin
        begun = (*told_begun.get(plain, ()), *told_begun.get(replace(plain, payload=""), ()))
        return any(abs((key.begun_utc or 0.0) - told_utc) <= within_s for told_utc in begun)

    return said
