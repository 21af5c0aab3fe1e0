"""The flights, and how far they were told: each event reaches them through here."""

import logging
from collections.abc import Iterator

from groundstation.clock import Clock
from groundstation.flight.events import Arrived
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.fold import Outcome
from groundstation.records import Landing, Reason, Verdict
from groundstation.store.sighting_rows import PersonTold

log = logging.getLogger(__name__)


class Folding:
    """``seq`` is the newest event that the flights were told, ``told_utc`` the newest time (0.0
    before the first), ``moved_s`` when something moved last, by the monotonic clock."""

    def __init__(self, flights: Flights, clock: Clock) -> None:
        self.flights = flights
        self.seq = 0
        self.told_utc = 0.0
        self._clock = clock
        self.moved_s = clock.monotonic_s()

    def observed(self, event: Arrived) -> tuple[Outcome, ...]:
        """A fault of ours in the flight logic must not end the station either: then the report is
        refused with that as the reason."""
        try:
            return self.flights.observed(event)
        except Exception:
            log.exception("a fault in the flight logic; please report it")
            fault = "the flight logic failed on it: a fault in the program; please report it"
            return (Verdict(report_id=event.report_id, reason=Reason.UNREADABLE, detail=fault),)

    def estimated(self, landing: Landing) -> tuple[Outcome, ...]:
        return self.flights.estimated(landing)

    def person_told(self, word: PersonTold) -> tuple[Outcome, ...]:
        """What a person saw or takes back; of a payload that there is no more it says nothing."""
        if word.payload not in self.flights.payloads:
            return ()
        return self.flights.sighted(word.payload, word.event)

    def tick(self, now_utc: float, deaf: frozenset[str]) -> tuple[Outcome, ...]:
        """Tell the time; ``deaf`` names the sources that are away."""
        self.told_utc = now_utc
        return self.flights.tick(now_utc, deaf)

    def ticks_until(
        self, until_utc: float, deaf: frozenset[str] = frozenset()
    ) -> Iterator[tuple[Outcome, ...]]:
        """Tell the time for each second between what was told last and ``until_utc``."""
        for now_utc in ticks_between(self.told_utc, until_utc) if self.told_utc else ():
            yield self.flights.tick(now_utc, deaf)

    def went_on(self, seq: int, at_utc: float) -> None:
        """The event ``seq`` of the station's time ``at_utc`` was told."""
        self.seq, self.told_utc = seq, max(self.told_utc, at_utc)

    def moved(self) -> None:
        self.moved_s = self._clock.monotonic_s()
