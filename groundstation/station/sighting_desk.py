"""The desk for what people saw: it goes the way of the packets, to the flights and the disk."""

import logging

from groundstation.clock import Clock
from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.flights import Flights
from groundstation.flight.sighting_kinds import SightingKind, in_words, sighting_of
from groundstation.station.pipeline import Pipeline
from groundstation.store.sighting_rows import PersonTold
from groundstation.web.sighting_records import SightingTold

log = logging.getLogger(__name__)


class Sightings:
    def __init__(self, flights: Flights, pipeline: Pipeline, clock: Clock) -> None:
        self._flights = flights
        self._pipeline = pipeline
        self._clock = clock

    async def tell(
        self,
        payload: str,
        kind: SightingKind,
        facts: dict[str, float | None],
        *,
        at_utc: float | None,
        who: str,
        note: str,
    ) -> SightingTold | None:
        """See ``web.sighting_api.SightingDesk``."""
        if payload not in self._flights.payloads:
            return None
        now = self._clock.now_utc()
        sighting = sighting_of(
            kind, facts, at_utc=now if at_utc is None else at_utc, told_utc=now, who=who, note=note
        )
        event = Sighted(now_utc=now, sighting=sighting)
        kept = await self._pipeline.put_word(PersonTold(payload=payload, event=event))
        assert isinstance(kept.event, Sighted)
        put_in = kept.event.sighting
        log.info("%s, told by %s: %s", payload, who or "the owner", in_words(put_in))
        return SightingTold.of(put_in)

    async def take_back(self, number: int, who: str) -> bool:
        for payload in self._flights.payloads:
            for sighting in self._flights.state(payload).sightings:
                if sighting.number == number:
                    event = Withdrawn(now_utc=self._clock.now_utc(), number=number)
                    word = PersonTold(payload=payload, event=event, who=who)
                    await self._pipeline.put_word(word)
                    log.info(
                        "%s, taken back by %s: %s", payload, who or "the owner", in_words(sighting)
                    )
                    return True
        return False
