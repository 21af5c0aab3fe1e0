"""The flights told again from what the store holds: after a restart, or a jump of the clock."""

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from typing import Final

from groundstation.clock import Clock
from groundstation.flight.alert_records import Alert
from groundstation.flight.events import Estimated, HeightHeard, Observed
from groundstation.flight.fold import Outcome
from groundstation.station.folding import Folding
from groundstation.station.reading import Reading
from groundstation.station.restart_events import at_utc, counting, digest_of, said_before, sound
from groundstation.station.systemd import notify
from groundstation.station.telling import Telling
from groundstation.store.reader import Event, Reader
from groundstation.store.sighting_rows import PersonTold
from groundstation.store.snapshots import Snapshot

KEEP_S: Final = 2.0
"""Writing it down takes a twentieth of that (own choice, measured on a server)."""
GIVE_WAY_S: Final = 0.05  # own choice: the page waits for no more
EXTENDED_US: Final = 60_000_000
"""A minute more for each piece of the fold, which takes a twentieth of a second (own choices)."""


class Restoring:
    def __init__(self, clock: Clock, folding: Folding, reading: Reading, telling: Telling) -> None:
        self._clock = clock
        self._folding = folding
        self._reading = reading
        self._telling = telling

    async def restore(
        self,
        reader: Reader,
        *,
        quiet: bool = False,
        snapshot: Snapshot | None = None,
        keep: Callable[[], Awaitable[None]] | None = None,
    ) -> None:
        """Fold what the store holds and still counts again, and say what was left unsaid, unless
        ``quiet``. From a ``snapshot`` that is sound only what came after it is folded.

        It gives way to the page now and then, tells the service manager that it goes on, and has
        how far it came kept by ``keep``: what is ended over and over gets through all the same.
        """
        self._clock.not_before((reader.last_received_utc() or 0.0) + 1.0)
        self._reading.remember(reader, self._clock.now_utc())
        was_said = said_before(reader, self._folding.flights.payloads)
        events = self._events(reader, snapshot)
        if not quiet:
            self._telling.restore(reader)
        looked_s = kept_s = self._clock.monotonic_s()
        unsaid: list[Alert] = []
        for seq, event in events:
            if self._clock.monotonic_s() - looked_s > GIVE_WAY_S:
                notify(f"EXTEND_TIMEOUT_USEC={EXTENDED_US}")
                await asyncio.sleep(0.0)
                self._folding.moved()
                looked_s = self._clock.monotonic_s()
                # What is still to be said would be lost with it.
                if keep is not None and not unsaid and looked_s - kept_s > KEEP_S:
                    await keep()
                    kept_s = self._clock.monotonic_s()
            now = self._clock.now_utc()
            unsaid += [
                outcome
                for outcome in self._fold(seq, event)
                if isinstance(outcome, Alert)
                and not was_said(outcome.key)
                and now - outcome.time_utc < outcome.useful_for_s
            ]
        if unsaid and not quiet:
            await self._telling.say_all([self._telling.render(alert) for alert in unsaid])

    def _events(self, reader: Reader, snapshot: Snapshot | None) -> Iterator[tuple[int, Event]]:
        """What is to be folded, in order, from where the flights begin."""
        flights = self._folding.flights
        settings = digest_of(flights.settings(name) for name in flights.payloads)
        if snapshot is None or not sound(snapshot, reader, settings):
            self._folding.seq, self._folding.told_utc = 0, 0.0
            return counting(reader, self._clock.now_utc())
        flights.resume(snapshot.states)
        flights.vehicles.resume(snapshot.vehicles)
        self._folding.seq, self._folding.told_utc = snapshot.seq, snapshot.now_utc
        return reader.events_after(snapshot.seq)

    def _fold(self, seq: int, event: Event) -> list[Outcome]:
        at = at_utc(event)
        outcomes = [outcome for each in self._folding.ticks_until(at) for outcome in each]
        match event:
            case Observed() | HeightHeard():
                outcomes += self._folding.observed(event)
            case Estimated(landing=landing):
                outcomes += self._folding.estimated(landing)
            case PersonTold():
                outcomes += self._folding.person_told(event)
        self._folding.went_on(seq, at)
        return outcomes
