"""The one writer: a thread that owns the only connection that writes.

Callers await their work. The thread takes whatever waits, puts it into one transaction and
resolves the callers once that is on disk, so that a hundred packets cost one flush.
"""

import asyncio
import sqlite3
import threading
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, Final, TypeVar

from groundstation.errors import StoreError
from groundstation.search.found import Found
from groundstation.search.looks import Look
from groundstation.store import outbox, search_rows, upkeep
from groundstation.store.batch import Batch
from groundstation.store.connection import only_writer
from groundstation.store.patience import AT_ONCE, Patience
from groundstation.store.scribe import RETRY_S, Scribe, Standing
from groundstation.store.steady_clock import steady_utc
from groundstation.store.write_batch import write_batch

T = TypeVar("T")

JOB_BYTES: Final = 400  # see FRAME_BYTES
FRAME_BYTES: Final = 2_000
"""About what a work, and a frame with all that is made of it, holds in memory."""

MOST_TOGETHER: Final = 1_000
"""Works in one transaction, so that the first of a long queue does not wait for the last."""


@dataclass(slots=True)
class _Job:
    work: Callable[[sqlite3.Connection], Any]
    done: asyncio.Future[Any]
    tells_outbox: bool = False
    size: int = JOB_BYTES
    result: Any = None
    error: StoreError | None = None


class Store:
    """The database of one station, open for writing. Use ``Store.open``.

    ``next_seq`` is the first free id for frames, reports and landings. ``now`` is the real time
    from which messages count their age. ``standing`` tells whether all that was committed is on
    the disk; only then may a sender be told so.
    """

    def __init__(
        self,
        path: Path,
        targets: Sequence[str],
        now: Callable[[], float] = steady_utc,
        *,
        lifeboat: bool = False,
        patience: Mapping[str, Patience] | None = None,
    ) -> None:
        self.path = path
        self._patience = {name: (patience or {}).get(name, AT_ONCE) for name in targets}
        self.now = now
        self.next_seq = 1
        self.standing = Standing()
        self._scribe = Scribe(path, lifeboat=lifeboat)
        self._loop = asyncio.get_running_loop()
        # Holds one job at most for each caller that waits, so it needs no size of its own.
        self._jobs: SimpleQueue[_Job | None] = SimpleQueue()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self._closed = False
        self._listeners: list[asyncio.Event] = []
        self._thread = threading.Thread(target=self._run, name="store", daemon=True)

    @staticmethod
    @asynccontextmanager
    async def open(
        path: Path,
        targets: Sequence[str] = (),
        *,
        now: Callable[[], float] = steady_utc,
        lifeboat: bool = False,
        patience: Mapping[str, Patience] | None = None,
    ) -> AsyncIterator["Store"]:
        """Open or make the database ``path``; on leaving, what waits is written first.

        ``targets`` names who gets new messages, ``patience`` when, if not at once. With
        ``lifeboat`` a disk that takes nothing does not end it: it goes on in memory, and says so in
        ``standing``. Raises ``StoreError`` where the file can't be used, another station writes it,
        or a newer program made it.
        """
        with only_writer(path, or_none=lifeboat):
            store = Store(path, targets, now, lifeboat=lifeboat, patience=patience)
            store._thread.start()
            try:
                await store._opened
                yield store
            finally:
                store._closed = True
                store._jobs.put(None)
                await asyncio.to_thread(store._thread.join)

    async def commit(self, batch: Batch) -> frozenset[str]:
        """Return when ``batch`` is written, with the keys of its messages that are new.

        Raises ``StoreError`` where it could not be written; then nothing of it is.
        """
        work = partial(write_batch, batch=batch, targets=self._patience, now_utc=self.now())
        size = JOB_BYTES + sum(FRAME_BYTES + len(frame.data) for _, frame in batch.frames)
        return await self._do(work, tells_outbox=bool(batch.messages), size=size)

    def listen(self) -> asyncio.Event:
        """An event that is set whenever new messages were committed; clear it before looking."""
        event = asyncio.Event()
        self._listeners.append(event)
        return event

    @property
    def targets(self) -> tuple[str, ...]:
        """Who gets new messages."""
        return tuple(self._patience)

    def add_target(self, target: str, patience: Patience = AT_ONCE) -> None:
        """From now on ``target`` gets new messages too."""
        # A new table, since the thread may be reading the old one.
        self._patience = {**self._patience, target: patience}

    async def remove_target(self, target: str) -> None:
        """It gets nothing more; what waits for it is given up."""
        self._patience = {
            name: patience for name, patience in self._patience.items() if name != target
        }
        await self._do(partial(outbox.give_up, target=target))

    async def begin_deliveries(self, targets: Sequence[str]) -> int:
        """See ``outbox.begin``."""
        return await self._do(partial(outbox.begin, targets=targets))

    async def claim(self, target: str) -> outbox.Dispatch | outbox.Nothing:
        """See ``outbox.claim``. The claim is on disk before the attempt begins."""
        most = self._patience.get(target, AT_ONCE).most_an_hour
        work = partial(outbox.claim, target=target, now_utc=self.now(), most_an_hour=most)
        return await self._do(work)

    async def acknowledge(self, key: str) -> bool:
        """See ``outbox.acknowledge``."""
        return await self._do(partial(outbox.acknowledge, key=key, now_utc=self.now()))

    async def add_look(self, look: Look) -> int:
        """See ``search_rows.add_look``."""
        return await self._do(partial(search_rows.add_look, look=look))

    async def take_back_look(self, number: int) -> bool:
        """See ``search_rows.take_back_look``."""
        return await self._do(
            partial(search_rows.take_back_look, number=number, now_utc=self.now())
        )

    async def add_found(self, found: Found) -> None:
        """See ``search_rows.add_found``."""
        await self._do(partial(search_rows.add_found, found=found))

    async def tidy(self, before_utc: float) -> int:
        """See ``upkeep.tidy``."""
        return await self._do(partial(upkeep.tidy, before_utc=before_utc))

    async def delivered(self, dispatch: outbox.Dispatch) -> None:
        """See ``outbox.delivered``."""
        await self._do(partial(outbox.delivered, dispatch=dispatch, now_utc=self.now()))

    async def postpone(
        self, dispatch: outbox.Dispatch, *, wait_s: float, reason: str, may_have_arrived: bool
    ) -> None:
        """See ``outbox.postpone``; the next try is ``wait_s`` from now."""
        work = partial(
            outbox.postpone,
            dispatch=dispatch,
            next_try_utc=self.now() + wait_s,
            reason=reason,
            may_have_arrived=may_have_arrived,
        )
        await self._do(work)

    async def unwanted(self, dispatch: outbox.Dispatch) -> None:
        """See ``outbox.unwanted``."""
        await self._do(partial(outbox.unwanted, dispatch=dispatch))

    async def _do(
        self,
        work: Callable[[sqlite3.Connection], T],
        *,
        tells_outbox: bool = False,
        size: int = JOB_BYTES,
    ) -> T:
        if self._closed:
            raise StoreError(f"{self.path} is closed; nothing more is written")
        job = _Job(work, self._loop.create_future(), tells_outbox, size)
        self._jobs.put(job)
        result: T = await job.done
        return result

    def _run(self) -> None:
        try:
            self.next_seq = self._scribe.open()
        except StoreError as error:
            self._tell(self._set_opened, error)
            return
        self._tell(self._set_opened, None)
        self._write_until_closed()
        self._scribe.close()

    def _write_until_closed(self) -> None:
        while True:
            try:
                first = self._jobs.get(timeout=RETRY_S if self._scribe.adrift else None)
            except Empty:
                self._scribe.try_ashore()
                self._tell(self._resolve, (), self._scribe.standing)
                continue
            if first is None:
                return
            group, last = [first], False
            with suppress(Empty):
                while len(group) < MOST_TOGETHER and not last:
                    job = self._jobs.get_nowait()
                    if job is None:
                        last = True
                    else:
                        group.append(job)
            self._scribe.write(group)
            self._tell(self._resolve, group, self._scribe.standing)
            if last:
                return

    def _tell(self, call: Callable[..., None], *arguments: object) -> None:
        # A loop that is closed has nobody left who waits.
        with suppress(RuntimeError):
            self._loop.call_soon_threadsafe(call, *arguments)

    def _set_opened(self, error: StoreError | None) -> None:
        self.standing = self._scribe.standing
        if self._opened.done():
            return
        if error is None:
            self._opened.set_result(None)
        else:
            self._opened.set_exception(error)

    def _resolve(self, group: Sequence[_Job], standing: Standing) -> None:
        self.standing = standing
        for job in group:
            if job.tells_outbox and job.result:
                for listener in self._listeners:
                    listener.set()
            if job.done.done():
                continue
            if job.error is None:
                job.done.set_result(job.result)
            else:
                job.done.set_exception(job.error)
