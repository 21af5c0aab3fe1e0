"""The life of a packet: frame, report, verdict, fix, flight, alert, disk; then acknowledged.

One task owns the flights. Whatever waits is taken together, goes to disk in one transaction, and
only then is the sender told. Estimates are made elsewhere, from a state that is never changed, and
come back as events.
"""

import asyncio
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from groundstation.clock import Clock
from groundstation.flight.alert_records import Alert
from groundstation.flight.events import Sighted, arrived, heard_at
from groundstation.flight.fold import Outcome
from groundstation.records import (
    Frame,
    Landing,
    PhaseChange,
    Reason,
    Unreadable,
    Verdict,
)
from groundstation.station.batch_rows import Rows
from groundstation.station.clock_jumps import ClockJumps
from groundstation.station.estimator import Estimator
from groundstation.station.flood import Flood
from groundstation.station.folding import Folding
from groundstation.station.high_heights import HighHeights
from groundstation.station.reading import Reading
from groundstation.station.snapshot_keeper import SnapshotKeeper
from groundstation.station.strangers import Strangers
from groundstation.station.telling import Telling
from groundstation.station.untimed import Untimed
from groundstation.store.sighting_rows import PersonTold
from groundstation.store.writer import Store

QUEUE_FRAMES: Final = 256  # own choice: some seconds of a busy receiver; then senders wait
BATCH_MOST: Final = 128  # own choice: one transaction stays well below a second


@dataclass(frozen=True, slots=True)
class _Arrival:
    frame: Frame
    stored: Callable[[], None] | None


@dataclass(frozen=True, slots=True)
class _Word:
    word: PersonTold
    done: asyncio.Future[PersonTold]


_Item = _Arrival | _Word | Landing | float


def _as_of(by_s: float, item: _Item) -> _Item | None:
    """What waited while the clock was set by ``by_s``, with the times that it has since; None for
    an estimate, which is made anew."""
    if not by_s:
        return item
    match item:
        case _Arrival(frame, stored):
            return _Arrival(replace(frame, received_utc=frame.received_utc + by_s), stored)
        case _Word(word, done):
            return _Word(word.later(by_s), done)
        case Landing():
            return None
        case float():
            return item + by_s


class Pipeline:
    """Takes frames by ``put``, runs them through the flights, and keeps all of it."""

    def __init__(
        self,
        *,
        clock: Clock,
        store: Store,
        folding: Folding,
        reading: Reading,
        telling: Telling,
        snapshots: SnapshotKeeper,
        jumps: ClockJumps,
        estimator: Estimator,
        deaf: Callable[[], frozenset[str]],
    ) -> None:
        self.frames = 0
        self.fixes = 0
        self.rejected: Counter[Reason] = Counter()
        self.flood = Flood()
        self.untimed = Untimed()
        self.high_heights = HighHeights()
        self.strangers = Strangers()
        self._clock = clock
        self._store = store
        self._folding = folding
        self._reading = reading
        self._telling = telling
        self._snapshots = snapshots
        self._jumps = jumps
        self._estimator = estimator
        self._deaf = deaf
        self._seq = store.next_seq
        self._queue: asyncio.Queue[tuple[float, _Item]] = asyncio.Queue(QUEUE_FRAMES)
        # By how much the clock was set so far; each that waits has what it was when it came.
        self._set_s = 0.0
        self._unkept: list[Callable[[], None]] = []

    async def put(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        """Take a frame; waits while the queue is full. ``stored`` is called once it is on disk."""
        await self._queue.put((self._set_s, _Arrival(frame, stored)))

    async def put_estimate(self, landing: Landing) -> None:
        await self._queue.put((self._set_s, landing))

    async def put_word(self, word: PersonTold) -> PersonTold:
        """What a person saw or takes back; returns it with its number once it is kept."""
        done: asyncio.Future[PersonTold] = asyncio.get_running_loop().create_future()
        await self._queue.put((self._set_s, _Word(word, done)))
        return await done

    async def tick(self, now_utc: float) -> None:
        """Tell the flights the time."""
        await self._queue.put((self._set_s, now_utc))

    async def run(self) -> None:
        """Work until cancelled. A ``StoreError`` ends it: what can't be kept is not taken."""
        while True:
            await self.work()

    async def work(self) -> None:
        """Take what waits, at least one thing, through all of it."""
        waiting = [await self._queue.get()]
        while len(waiting) < BATCH_MOST and not self._queue.empty():
            waiting.append(self._queue.get_nowait())
        rows = Rows()
        words: list[tuple[asyncio.Future[PersonTold], PersonTold]] = []
        for set_s, came in waiting:
            item = _as_of(self._set_s - set_s, came)
            if item is None:
                continue
            if self._clock.rehearsal:
                self._catch_up(item, rows)
            match item:
                case _Arrival(frame, stored):
                    self._take(frame, rows)
                    self._folding.went_on(self._seq - 1, frame.received_utc)
                    if stored is not None:
                        self._unkept.append(stored)
                case _Word(word, done):
                    words.append((done, self._word(word, rows)))
                case Landing():
                    self._estimated(item, rows)
                case float():
                    self._keep(self._folding.tick(item, self._deaf()), rows)
                    self._folding.seq = self._seq - 1
            if self._clock.rehearsal:
                await self._estimate_at_once(rows)
        if not rows.empty():
            self._telling.said(rows.messages, await self._store.commit(rows.batch()))
        for done, kept in words:
            if not done.done():
                done.set_result(kept)
        self._snapshots.settled()
        self._acknowledge()
        self._folding.moved()
        self._set_s += await self._jumps.follow(self._seq - 1)
        if self._folding.flights.due() and not self._clock.rehearsal:
            self._estimator.want()

    def _catch_up(self, item: _Item, rows: Rows) -> None:
        """In a rehearsal that hurries, tell the flights each second that life would have told."""
        match item:
            case _Arrival(frame):
                until_utc = frame.received_utc
            case float():
                until_utc = item
            case _Word(word):
                until_utc = word.event.now_utc
            case Landing():
                return
        for outcomes in self._folding.ticks_until(until_utc, self._deaf()):
            self._keep(outcomes, rows)

    async def _estimate_at_once(self, rows: Rows) -> None:
        """In a rehearsal an estimate comes before the next packet, as at the speed of life."""
        for payload in self._folding.flights.due():
            landing = await self._estimator.of(payload)
            if landing is not None:
                self._estimated(landing, rows)

    def _estimated(self, landing: Landing, rows: Rows) -> None:
        rows.landings.append((self._next(), landing))
        self._keep(self._folding.estimated(landing), rows)
        self._folding.went_on(self._seq - 1, landing.time_utc)

    def _word(self, word: PersonTold, rows: Rows) -> PersonTold:
        seq = self._next()
        event = word.event
        if isinstance(event, Sighted):
            event = replace(event, sighting=replace(event.sighting, number=seq))
            word = replace(word, event=event)
        rows.people.append((seq, word))
        self._keep(self._folding.person_told(word), rows)
        self._folding.went_on(seq, event.now_utc)
        return word

    def _acknowledge(self) -> None:
        """Tell the senders, once all of it is really on the disk. The clock comes by each second,
        so those of a disk that works again are not forgotten."""
        if not self._store.standing.trouble:
            for stored in self._unkept:
                stored()
            self._unkept.clear()

    def _take(self, frame: Frame, rows: Rows) -> None:
        self.frames += 1
        reads = self._reading.read(frame)
        says_nothing = all(isinstance(read, Unreadable) for read in reads)
        if says_nothing and not self.flood.may_keep(
            frame.source, len(frame.data), frame.received_utc
        ):
            return
        frame_id = self._next()
        rows.frames.append((frame_id, frame))
        for read in reads:
            report_id = self._next()
            rows.reports.append((report_id, frame_id, read))
            if isinstance(read, Unreadable):
                self.rejected[read.reason] += 1
                continue
            heard_utc = heard_at(frame.received_utc, read, frame.sent_utc, retained=frame.retained)
            event = arrived(report_id, frame.source, heard_utc, read)
            self.untimed.note(frame.source, read)
            self.high_heights.note(frame.source, read)
            if not self._folding.flights.is_known(read.tracker):
                self.strangers.note(read.tracker)
            self._keep(self._folding.observed(event), rows)

    def _keep(self, outcomes: Iterable[Outcome], rows: Rows) -> None:
        for outcome in outcomes:
            match outcome:
                case Verdict():
                    rows.verdicts.append(outcome)
                    if outcome.reason is not None:
                        self.rejected[outcome.reason] += 1
                    if outcome.fix is not None:
                        self.fixes += 1
                        self._jumps.hold_against(outcome.fix)
                case PhaseChange():
                    rows.phases.append(outcome)
                case Alert():
                    # In a rehearsal nothing is left out for something newer that came in a hurry.
                    alert = replace(outcome, thread="") if self._clock.rehearsal else outcome
                    rows.messages.append(self._telling.render(alert))

    def _next(self) -> int:
        seq = self._seq
        self._seq += 1
        return seq
