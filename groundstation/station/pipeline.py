"""The life of a packet: frame, report, verdict, fix, flight, alert, disk; then acknowledged.

One task owns the flights. Whatever waits is taken together, goes to disk in one transaction, and
only then is the sender told. Estimates are made elsewhere, from a state that is never changed, and
come back as events.
"""

import asyncio
import logging
from collections import Counter, deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from groundstation.alerts.wording import (
    WordingSettings,
    render,
)
from groundstation.clock import Clock
from groundstation.decoders.aprs.telemetry import REMEMBERED
from groundstation.decoders.carried import decoded
from groundstation.decoders.decoder import Decoder
from groundstation.flight.alert_records import Alert, Message
from groundstation.flight.events import Estimated, Observed, heard_at
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.fold import Outcome
from groundstation.flight.tracker_clock import FUTURE_S
from groundstation.records import (
    Fix,
    Frame,
    Landing,
    PhaseChange,
    Reason,
    Report,
    Unreadable,
    Verdict,
)
from groundstation.station.batch_rows import Rows
from groundstation.station.estimator import Estimator
from groundstation.station.flood import Flood
from groundstation.station.resuming import at_utc, counting, digest_of, said_before, sound
from groundstation.station.strangers import Strangers
from groundstation.station.systemd import notify
from groundstation.station.untimed import Untimed
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.scribe import Standing
from groundstation.store.snapshots import Snapshot
from groundstation.store.writer import Store

log = logging.getLogger(__name__)

QUEUE_FRAMES = 256
BATCH_MOST = 128
KEEP_MESSAGES = 30
GIVE_WAY_S = 0.05
EXTENDED_US = 60_000_000
"""A minute more for each piece of the fold, which takes a twentieth of a second (own choices)."""

NAMES_HOLD_S = 48 * 3600.0
"""So long names of telemetry are taken to hold over a restart. Own choice."""


@dataclass(frozen=True, slots=True)
class _Arrival:
    frame: Frame
    stored: Callable[[], None] | None


class Pipeline:
    """Takes frames by ``put``, runs them through the flights, and keeps all of it."""

    def __init__(
        self,
        *,
        flights: Flights,
        decoders: Mapping[str, Decoder],
        store: Store,
        wording: WordingSettings,
        clock: Clock,
        deaf: Callable[[], frozenset[str]] = frozenset,
    ) -> None:
        self.flights = flights
        self.frames = 0
        self.fixes = 0
        self.rejected: Counter[Reason] = Counter()
        self.messages: deque[Message] = deque(maxlen=KEEP_MESSAGES)
        self.acknowledged: set[str] = set()
        self.flood = Flood()
        self.untimed = Untimed()
        self.strangers = Strangers()
        self._decoders = decoders
        self._store = store
        self.wording = wording
        self._clock = clock
        self._deaf = deaf
        self._seq = store.next_seq
        self._queue: asyncio.Queue[_Arrival | Landing | float] = asyncio.Queue(QUEUE_FRAMES)
        self._wanted = asyncio.Event()
        self._unkept: list[Callable[[], None]] = []
        self._ahead_s = 0.0
        self._estimator = Estimator(flights)
        self._digest = digest_of(flights.settings(name) for name in flights.payloads)
        self._folded = (0, 0.0)
        """The newest event and the newest time that the flights were told."""

        self._kept: Snapshot | None = None
        self.moved_s = clock.monotonic_s()

    @property
    def standing(self) -> Standing:
        """How it stands with the disk."""
        return self._store.standing

    async def put(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        """Take a frame; waits while the queue is full. ``stored`` is called once it is on disk."""
        await self._queue.put(_Arrival(frame, stored))

    async def restore(
        self, reader: Reader, *, quiet: bool = False, snapshot: Snapshot | None = None
    ) -> None:
        """Fold what the store holds and still counts again, and say what was left unsaid, unless
        ``quiet``. From a ``snapshot`` that is sound only what came after it is folded.

        It gives way to the page now and then, and tells the service manager that it goes on.
        """
        self._clock.not_before((reader.last_received_utc() or 0.0) + 1.0)
        for frame in reader.frames_holding(REMEMBERED, self._clock.now_utc() - NAMES_HOLD_S):
            # Names of telemetry come seldom; what was heard before the restart holds after it.
            if frame.source in self._decoders:
                self._read(frame)
        was_said = said_before(reader, self.flights.payloads)
        told, last = self._going_on(reader, snapshot)
        looked_s = self._clock.monotonic_s()
        if not quiet:
            self.messages.extend(reversed(reader.recent_messages(KEEP_MESSAGES)))
            self.acknowledged |= reader.acknowledged_keys()
        unsaid: list[Alert] = []
        for seq, event in told:
            if self._clock.monotonic_s() - looked_s > GIVE_WAY_S:
                notify(f"EXTEND_TIMEOUT_USEC={EXTENDED_US}")
                await asyncio.sleep(0.0)
                looked_s = self.moved_s = self._clock.monotonic_s()
            at = at_utc(event)
            outcomes: list[Outcome] = []
            if last is not None:
                for now in ticks_between(last, at):
                    outcomes += self.flights.tick(now)
            last = at if last is None else max(last, at)
            self._folded = (seq, last)
            match event:
                case Observed():
                    outcomes += self._observed(event)
                case Estimated(landing=landing):
                    outcomes += self.flights.estimated(landing)
            unsaid += [o for o in outcomes if isinstance(o, Alert) and not was_said(o.key)]
        now = self._clock.now_utc()
        fresh = [alert for alert in unsaid if now - alert.time_utc < alert.useful_for_s]
        if fresh and not quiet:
            await self._say(tuple(self.render(alert) for alert in fresh))

    def _going_on(
        self, reader: Reader, snapshot: Snapshot | None
    ) -> tuple[Iterator[tuple[int, Observed | Estimated]], float | None]:
        """What is to be folded, and the station's time at its begin, where that is known."""
        if snapshot is None or not sound(snapshot, reader, self._digest):
            return counting(reader, self._clock.now_utc()), None
        self.flights.resume(snapshot.states)
        self.flights.vehicles.resume(snapshot.vehicles)
        self._folded = (snapshot.seq, snapshot.now_utc)
        return reader.events_after(snapshot.seq), snapshot.now_utc

    def snapshot(self, reader: Reader) -> Snapshot | None:
        """The flights as they stood after the newest batch that is on the disk."""
        kept = self._kept
        if kept is None or self._store.standing.trouble:
            return None
        return replace(kept, rests_on=reader.digest(kept.seq))

    def _settled(self) -> None:
        seq, now_utc = self._folded
        self._kept = Snapshot(
            seq=seq,
            now_utc=now_utc,
            rests_on="",
            settings=self._digest,
            states=tuple(self.flights.state(name) for name in self.flights.payloads),
            vehicles=self.flights.vehicles.last,
        )

    async def run(self) -> None:
        """Work until cancelled. A ``StoreError`` ends it: what can't be kept is not taken."""
        while True:
            await self.work()

    async def work(self) -> None:
        """Take what waits, at least one thing, through all of it."""
        items = [await self._queue.get()]
        while len(items) < BATCH_MOST and not self._queue.empty():
            items.append(self._queue.get_nowait())
        rows = Rows()
        for item in items:
            if self._clock.rehearsal:
                self._catch_up(item, rows)
            match item:
                case _Arrival(frame, stored):
                    self._take(frame, rows)
                    self._folded = (self._seq - 1, max(self._folded[1], frame.received_utc))
                    if stored is not None:
                        self._unkept.append(stored)
                case Landing():
                    rows.landings.append((self._next(), item))
                    self._folded = (self._seq - 1, max(self._folded[1], item.time_utc))
                    self._keep(self.flights.estimated(item), rows)
                case float():
                    self._keep(self.flights.tick(item, self._deaf()), rows)
                    self._folded = (self._seq - 1, item)
            if self._clock.rehearsal:
                await self._estimate_at_once(rows)
        if not rows.empty():
            said = await self._store.commit(rows.batch())
            self.messages.extend(m for m in rows.messages if m.alert.key.text in said)
        self._settled()
        self._acknowledge()
        self.moved_s = self._clock.monotonic_s()
        jump_s = self._clock.jumped_s() or self._ahead_s
        if jump_s:
            await self._follow(jump_s)
        if self.flights.due() and not self._clock.rehearsal:
            self._wanted.set()

    def _catch_up(self, item: _Arrival | Landing | float, rows: Rows) -> None:
        """In a rehearsal that hurries, tell the flights each second that life would have told."""
        match item:
            case _Arrival(frame):
                until_utc = frame.received_utc
            case float():
                until_utc = item
            case Landing():
                return
        _, told_utc = self._folded
        for now_utc in ticks_between(told_utc, until_utc) if told_utc else ():
            self._keep(self.flights.tick(now_utc, self._deaf()), rows)

    async def _estimate_at_once(self, rows: Rows) -> None:
        """In a rehearsal an estimate comes before the next packet, as at the speed of life."""
        for payload in self.flights.due():
            landing = await self._estimator.of(payload)
            if landing is not None:
                rows.landings.append((self._next(), landing))
                self._keep(self.flights.estimated(landing), rows)

    async def _follow(self, by_s: float) -> None:
        """The clock was set: write that down, and tell the flights again with times as of today."""
        self._ahead_s = 0.0
        log.warning("the clock is set by %+.1f s; flight times come from the packets", by_s)
        await self._store.commit(Batch(clock_jumps=((self._seq - 1, by_s),)))
        self._clock.follow(by_s)
        if self._store.standing.trouble:
            return
        self.flights.forget()
        with Reader(self._store.path) as reader:
            await self.restore(reader, quiet=True)

    def _acknowledge(self) -> None:
        """Tell the senders, once all of it is really on the disk. The clock comes by each second,
        so those of a disk that works again are not forgotten."""
        if not self._store.standing.trouble:
            for stored in self._unkept:
                stored()
            self._unkept.clear()

    async def tick(self) -> None:
        await self._queue.put(self._clock.now_utc())

    async def tick_forever(self) -> None:
        """Tell the flights the time, about once a station second."""
        while True:
            speed = self._clock.speed
            await asyncio.sleep(min(max(1.0 / speed, 0.05), 1.0) if speed else 1.0)
            await self.tick()

    async def estimate_forever(self) -> None:
        """Make estimates, each from the newest state, in a thread of its own."""
        while True:
            await self._wanted.wait()
            self._wanted.clear()
            begun_s = self._clock.monotonic_s()
            for payload in self.flights.due():
                landing = await self._estimator.of(payload)
                if landing is not None:
                    await self._queue.put(landing)
            self._estimator.took(self._clock.monotonic_s() - begun_s)

    def _take(self, frame: Frame, rows: Rows) -> None:
        self.frames += 1
        reads = self._read(frame)
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
            event = Observed(
                report_id=report_id,
                source=frame.source,
                received_utc=heard_at(
                    frame.received_utc, read, frame.sent_utc, retained=frame.retained
                ),
                report=read,
            )
            self.untimed.note(frame.source, read)
            if not self.flights.is_known(read.tracker):
                self.strangers.note(read.tracker)
            self._keep(self._observed(event), rows)

    def _read(self, frame: Frame) -> tuple[Report | Unreadable, ...]:
        """What the frame says. A fault of ours must not end the station: the sender would send the
        same again, and so would the broker after a restart."""
        try:
            return decoded(self._decoders[frame.source], frame)
        except Exception:
            log.exception("a fault in the decoder of %s; please report it", frame.source)
            fault = "The decoder failed on it: a fault in the program; please report it."
            return (Unreadable(reason=Reason.UNREADABLE, detail=fault),)

    def _observed(self, event: Observed) -> tuple[Outcome, ...]:
        try:
            return self.flights.observed(event)
        except Exception:
            log.exception("a fault in the flight logic; please report it")
            fault = "the flight logic failed on it: a fault in the program; please report it"
            return (Verdict(report_id=event.report_id, reason=Reason.UNREADABLE, detail=fault),)

    def _keep(self, outcomes: tuple[Outcome, ...], rows: Rows) -> None:
        for outcome in outcomes:
            match outcome:
                case Verdict():
                    rows.verdicts.append(outcome)
                    if outcome.reason is not None:
                        self.rejected[outcome.reason] += 1
                    if outcome.fix is not None:
                        self.fixes += 1
                        self._hold_clock_against(outcome.fix)
                case PhaseChange():
                    rows.phases.append(outcome)
                case Alert():
                    # In a rehearsal nothing is left out for something newer that came in a hurry.
                    told = replace(outcome, thread="") if self._clock.rehearsal else outcome
                    rows.messages.append(self.render(told))

    def _hold_clock_against(self, fix: Fix) -> None:
        """Packets whose time is ahead of ours, and which the gate believes, know better than a
        clock that nothing keeps."""
        ahead_s = fix.time_utc - fix.received_utc
        if ahead_s > FUTURE_S and not self._clock.is_kept():
            self._ahead_s = ahead_s

    def render(self, alert: Alert) -> Message:
        """The alert in words, from where the vehicles are now."""
        return render(alert, self.wording, self.flights.vehicles.positions)

    async def acknowledge(self, key: str) -> bool:
        """A person has seen the alert ``key``; False where there is none."""
        known = await self._store.acknowledge(key)
        if known:
            self.acknowledged.add(key)
        return known

    async def say(self, alert: Alert) -> None:
        """Tell something that is of no flight."""
        await self._say((self.render(alert),))

    async def _say(self, messages: tuple[Message, ...]) -> None:
        said = await self._store.commit(Batch(messages=messages))
        self.messages.extend(m for m in messages if m.alert.key.text in said)

    def _next(self) -> int:
        seq = self._seq
        self._seq += 1
        return seq
