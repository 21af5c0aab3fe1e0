"""Keeps how the flights stand beside the database, so that a restart need not fold all anew."""

import asyncio
import logging
from dataclasses import replace
from typing import Final

from groundstation.errors import StoreError
from groundstation.station.folding import Folding
from groundstation.station.restart_events import digest_of
from groundstation.store.reader import Reader
from groundstation.store.snapshots import ENDING, Snapshot, save
from groundstation.store.writer import Store

log = logging.getLogger(__name__)

EVERY_S: Final = 120.0
"""So much of a day is folded again at most; a snapshot holds 100 kB a payload (own choice)."""


class SnapshotKeeper:
    def __init__(self, folding: Folding, store: Store) -> None:
        self._folding = folding
        self._store = store
        flights = folding.flights
        self._digest = digest_of(flights.settings(name) for name in flights.payloads)
        self._kept: Snapshot | None = None

    def settled(self) -> None:
        """What the flights were told so far is handed to the disk: a restart may begin here."""
        flights = self._folding.flights
        self._kept = Snapshot(
            seq=self._folding.seq,
            now_utc=self._folding.told_utc,
            rests_on="",
            settings=self._digest,
            states=tuple(flights.state(name) for name in flights.payloads),
            vehicles=flights.vehicles.last,
        )

    def snapshot(self, reader: Reader) -> Snapshot | None:
        """The flights as they stood after the newest batch that is on the disk."""
        kept = self._kept
        if kept is None or self._store.standing.trouble:
            return None
        return replace(kept, rests_on=reader.digest(kept.seq))

    async def keep_as_it_stands(self) -> None:
        """In the midst of being told again, when nothing else is told."""
        self.settled()
        await asyncio.to_thread(self._keep)

    async def run(self) -> None:
        """Write down how the flights stand, at intervals and at the end; without it a restart takes
        longer, and nothing is lost."""
        try:
            while True:
                await asyncio.sleep(EVERY_S)
                await asyncio.to_thread(self._keep)
        finally:
            self._keep()

    def _keep(self) -> None:
        path = self._store.path
        try:
            with Reader(path) as reader:
                snapshot = self.snapshot(reader)
            if snapshot is not None:
                save(path.with_suffix(ENDING), snapshot)
        except (StoreError, OSError, TypeError) as error:
            log.warning("how the flights stand could not be kept: %s", error)
