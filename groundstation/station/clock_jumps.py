"""A clock that is set while the station runs: noticed, written down, followed."""

import logging

from groundstation.clock import Clock
from groundstation.flight.tracker_clock import FUTURE_S
from groundstation.records import Fix
from groundstation.station.folding import Folding
from groundstation.station.restoring import Restoring
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

log = logging.getLogger(__name__)


class ClockJumps:
    def __init__(self, clock: Clock, store: Store, folding: Folding, restoring: Restoring) -> None:
        self._clock = clock
        self._store = store
        self._folding = folding
        self._restoring = restoring
        self._ahead_s = 0.0

    def hold_against(self, fix: Fix) -> None:
        """Packets whose time is ahead of ours, and which the gate believes, know better than a
        clock that nothing keeps."""
        ahead_s = fix.time_utc - fix.received_utc
        if ahead_s > FUTURE_S and not self._clock.is_kept():
            self._ahead_s = ahead_s

    async def follow(self, after_seq: int) -> float:
        """Where the clock was set: write that down after the event ``after_seq``, and tell the
        flights again with times as of today. By how much it was, 0.0 where it was not."""
        by_s = self._clock.jumped_s() or self._ahead_s
        if not by_s:
            return 0.0
        self._ahead_s = 0.0
        log.warning("the clock is set by %+.1f s; flight times come from the packets", by_s)
        await self._store.commit(Batch(clock_jumps=((after_seq, by_s),)))
        self._clock.follow(by_s)
        if not self._store.standing.trouble:
            self._folding.flights.forget()
            with Reader(self._store.path) as reader:
                await self._restoring.restore(reader, quiet=True)
        return by_s
