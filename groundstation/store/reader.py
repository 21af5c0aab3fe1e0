"""Reading the database without being able to change it."""

import hashlib
import heapq
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple, Self

from groundstation.errors import StoreError
from groundstation.flight.alert_records import AlertKey, Message
from groundstation.flight.events import Arrived, Estimated, HeightHeard, Observed, arrived, heard_at
from groundstation.flight.heights import height_told
from groundstation.records import Fix, Frame, Height, Landing, PhaseChange, Unreadable
from groundstation.search.found import Found
from groundstation.search.looks import Look
from groundstation.store import outbox, search_rows, sighting_rows
from groundstation.store.alert_rows import MESSAGE_COLUMNS, key_of, row_message
from groundstation.store.connection import connect_reading
from groundstation.store.estimate_rows import (
    LANDING_COLUMNS,
    PHASE_COLUMNS,
    row_landing,
    row_phase,
)
from groundstation.store.fix_rows import (
    FIX_COLUMNS,
    FRAME_COLUMNS,
    LARGEST_INTEGER,
    REPORT_COLUMNS,
    row_fix,
    row_frame,
    row_report,
    text_telemetry,
)
from groundstation.store.migrate import refuse_newer, refuse_older
from groundstation.store.sighting_rows import PersonTold

Event = Arrived | Estimated | PersonTold
EVER = float("-inf")
DIGESTED = 200  # own choice: enough that another past is told apart


class Told(NamedTuple):
    """An alert, when it was raised (the station's time), written and delivered (real time)."""

    time_utc: float
    kind: str
    title: str
    written_utc: float
    delivered_utc: float | None

    @property
    def delay_s(self) -> float | None:
        """From being written to being delivered."""
        return None if self.delivered_utc is None else self.delivered_utc - self.written_utc


class Reader:
    """A connection that only reads, beside the running station or without one.

    Any one thread at a time may use it. Iterators hold a view of the moment they began and keep
    the log from being cut while they run, so go through them without pause. Raises
    ``StoreError`` where the file is missing, not ours, or of another version.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._connection = connect_reading(path)
        try:
            refuse_newer(self._connection, path)
            refuse_older(self._connection, path)
        except StoreError:
            self._connection.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._connection.close()

    def events_since(self, since_utc: float = EVER) -> Iterator[tuple[int, Event]]:
        """What the flights were told from ``since_utc`` on, in the order in which it happened.

        Yields (seq, event): every report that could be read, by the time of its reception,
        every landing estimate, by the time it was made, and what people told. Unreadable frames are
        left out. Where the station's clock jumped, times of the station are those of its clock of
        today.
        """
        with self._reading():
            jumps = self._jumps()
            first = min(self._first_since(since_utc, jumps), self._first_told(since_utc))
            for seq, event in self._events(first):
                yield seq, _as_of_today(event, sum(by for after, by in jumps if seq <= after))

    def events_after(self, seq: int) -> Iterator[tuple[int, Event]]:
        """As ``events_since``, of what came after the event ``seq``."""
        with self._reading():
            yield from self._events(seq)

    def _events(self, after_seq: int) -> Iterator[tuple[int, Event]]:
        streams: tuple[Iterator[tuple[int, Event]], ...] = (
            self._reports(after_seq),
            self._estimates(after_seq),
            sighting_rows.events(self._connection, after_seq),
        )
        return heapq.merge(*streams, key=lambda numbered: numbered[0])

    def _first_told(self, since_utc: float) -> int:
        """Just before the first that a person told since then, which may be before any frame."""
        (first,) = self._connection.execute(
            "SELECT min(seq) FROM sighting WHERE told_utc >= ?", (since_utc,)
        ).fetchone()
        return LARGEST_INTEGER if first is None else int(first) - 1

    def told_by_people(self) -> tuple[PersonTold, ...]:
        """All that people ever told of what they saw, and took back, in order."""
        with self._reading():
            return tuple(word for _, word in sighting_rows.events(self._connection, 0))

    def digest(self, seq: int) -> str:
        """A digest of what was stored up to the event ``seq``: how much, and the newest of it."""
        with self._reading():
            counts = self._connection.execute(
                "SELECT (SELECT count(*) FROM report WHERE id <= ?1),"
                " (SELECT count(*) FROM clock_jump),"
                " (SELECT count(*) FROM sighting WHERE seq <= ?1),"
                " (SELECT count(*) FROM sighting WHERE gone_seq <= ?1)",
                (seq,),
            ).fetchone()
            newest = self._connection.execute(
                "SELECT id, tracker, latitude_deg, longitude_deg, altitude_m, time_utc FROM report"
                " WHERE id <= ? ORDER BY id DESC LIMIT ?",
                (seq, DIGESTED),
            ).fetchall()
        return hashlib.sha256(repr((counts, newest)).encode("utf-8", "replace")).hexdigest()

    def last_received_utc(self) -> float | None:
        """When the newest frame was received, by the station's clock of today."""
        with self._reading():
            (last,) = self._connection.execute(
                "SELECT received_utc FROM frame ORDER BY id DESC LIMIT 1"
            ).fetchone() or (None,)
            return None if last is None else float(last)

    def frames_holding(self, marks: Sequence[bytes], since_utc: float) -> Iterator[Frame]:
        """The frames received since then in which one of ``marks`` stands, in order."""
        wanted = " OR ".join("instr(data, ?) > 0" for _ in marks)
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {FRAME_COLUMNS} FROM frame WHERE received_utc >= ? AND ({wanted})"
                " ORDER BY id",
                (since_utc, *marks),
            )
            for row in rows:
                yield row_frame(row)[1]

    def _jumps(self) -> list[tuple[int, float]]:
        return self._connection.execute("SELECT after_seq, by_s FROM clock_jump").fetchall()

    def _first_since(self, since_utc: float, jumps: list[tuple[int, float]]) -> int:
        """The first id that is not older; between jumps the clock only counted on."""
        begins = [0, *sorted({after + 1 for after, _ in jumps})]
        for begin, end in zip(begins, [*begins[1:], None], strict=True):
            ahead = sum(by for after, by in jumps if begin <= after)
            (first,) = self._connection.execute(
                "SELECT min(id) FROM frame WHERE received_utc >= ? AND id >= ?"
                " AND (? IS NULL OR id < ?)",
                (since_utc - ahead, begin, end, end),
            ).fetchone()
            if first is not None:
                return int(first)
        (beyond,) = self._connection.execute("SELECT max(id) FROM frame").fetchone()
        return int(beyond or 0) + 1

    def frames(self, since_utc: float = EVER) -> Iterator[tuple[int, Frame]]:
        """Every frame as it came, in the order in which it came: a recording of all flights."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {FRAME_COLUMNS} FROM frame WHERE received_utc >= ? ORDER BY id",
                (since_utc,),
            )
            yield from map(row_frame, rows)

    def count_between(self, after_utc: float, before_utc: float) -> int:
        """How many frames of anything were received between these times, which are left out."""
        with self._reading():
            (count,) = self._connection.execute(
                "SELECT count(*) FROM frame WHERE received_utc > ? AND received_utc < ?",
                (after_utc, before_utc),
            ).fetchone()
            return int(count)

    def frames_after(self, last_id: int, most: int) -> list[tuple[int, Frame]]:
        """At most ``most`` frames that came after frame ``last_id``, with their ids."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {FRAME_COLUMNS} FROM frame WHERE id > ? ORDER BY id LIMIT ?",
                (last_id, most),
            )
            return [row_frame(row) for row in rows]

    def last_ids(self) -> tuple[int, int]:
        """The newest frame's id and the newest message's; 0 where there is none."""
        with self._reading():
            frame, message = self._connection.execute(
                "SELECT (SELECT max(id) FROM frame), (SELECT max(id) FROM alert)"
            ).fetchone()
            return frame or 0, message or 0

    def messages_after(self, last_id: int, most: int) -> list[tuple[int, Message]]:
        """At most ``most`` messages that were written after message ``last_id``, with their ids."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT id, {MESSAGE_COLUMNS} FROM alert WHERE id > ? ORDER BY id LIMIT ?",
                (last_id, most),
            )
            return [(row[0], row_message(row[1:])) for row in rows]

    def fixes(self, payload: str, since_utc: float = EVER) -> Iterator[tuple[int, Fix]]:
        """The accepted fixes of ``payload``, late ones too, by their own time: (report_id, fix).

        Those of unknown time are left out: they stand at no place of the flight.
        """
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {FIX_COLUMNS} FROM fix WHERE payload = ? AND time_utc >= ? "
                "AND NOT time_unknown ORDER BY time_utc, report_id",
                (payload, since_utc),
            )
            yield from map(row_fix, rows)

    def heights(self, payload: str, since_utc: float = EVER) -> list[Height]:
        """The accepted heights without a place of the trackers of ``payload``, by their own time.

        A tracker is of it that has fixes of it, or any where all fixes are of it.
        """
        with self._reading():
            owners = dict(self._connection.execute("SELECT DISTINCT tracker, payload FROM fix"))
            alone = set(owners.values()) == {payload}
            heard = [
                height_told(payload, event, event.report.time_utc)
                for _, event in self._reports(0, heights_only=True)
                if isinstance(event, HeightHeard)
                and (alone or owners.get(event.report.tracker) == payload)
            ]
        found = [height for height in heard if height is not None and height.time_utc >= since_utc]
        return sorted(found, key=lambda height: height.time_utc)

    def telemetry(
        self, payload: str, since_utc: float
    ) -> Iterator[tuple[str, float, tuple[tuple[str, float], ...]]]:
        """(tracker, time in UTC, names with values) of what was measured, in order of time."""
        with self._reading():
            rows = self._connection.execute(
                "SELECT tracker, time_utc, telemetry FROM fix WHERE payload = ? AND time_utc >= ?"
                " AND telemetry IS NOT NULL ORDER BY time_utc",
                (payload, since_utc),
            )
            for tracker, time_utc, text in rows:
                yield tracker, time_utc, text_telemetry(text)

    def phases(self, payload: str) -> tuple[PhaseChange, ...]:
        """Every change of phase of ``payload``, in the order in which it became known."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {PHASE_COLUMNS} FROM phase WHERE payload = ? ORDER BY id", (payload,)
            )
            return tuple(map(row_phase, rows))

    def payloads(self) -> tuple[str, ...]:
        """The names of all payloads that ever had a fix."""
        with self._reading():
            rows = self._connection.execute("SELECT DISTINCT payload FROM fix ORDER BY payload")
            return tuple(name for (name,) in rows)

    def landings(self, payload: str, since_utc: float, until_utc: float) -> Iterator[Landing]:
        """The landing estimates of ``payload`` that were made then, in their order."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {LANDING_COLUMNS} FROM landing WHERE payload = ? AND time_utc >= ?"
                " AND time_utc < ? ORDER BY id",
                (payload, since_utc, until_utc),
            )
            for row in rows:
                yield row_landing(row)[1]

    def messages(self, payload: str, since_utc: float, until_utc: float) -> tuple[Told, ...]:
        """The alerts of ``payload`` that were raised then, and when each first reached anybody."""
        with self._reading():
            rows = self._connection.execute(
                "SELECT time_utc, kind, title, written_utc,"
                " (SELECT min(delivered_utc) FROM delivery WHERE alert_id = alert.id"
                "  AND state = 'delivered') FROM alert WHERE payload = ? AND time_utc >= ?"
                " AND time_utc < ? ORDER BY id",
                (payload, since_utc, until_utc),
            )
            return tuple(Told(*row) for row in rows)

    def spoken_keys(self) -> frozenset[AlertKey]:
        """The keys of all alerts that were ever written to the outbox."""
        with self._reading():
            rows = self._connection.execute("SELECT key FROM alert")
            return frozenset(key for (text,) in rows if (key := key_of(text)) is not None)

    def acknowledged_keys(self) -> frozenset[str]:
        """The keys of the alerts that a person has seen."""
        with self._reading():
            rows = self._connection.execute(
                "SELECT key FROM alert WHERE acknowledged_utc IS NOT NULL"
            )
            return frozenset(key for (key,) in rows)

    def looks(self) -> tuple[Look, ...]:
        """The looks of all searches that count, oldest first."""
        with self._reading():
            return search_rows.looks(self._connection)

    def found(self) -> tuple[Found, ...]:
        """What was found, oldest first."""
        with self._reading():
            return search_rows.found(self._connection)

    def clock_jumped(self) -> bool:
        """Whether the station's clock ever did."""
        with self._reading():
            return bool(self._jumps())

    def recent_messages(self, most: int) -> tuple[Message, ...]:
        """The newest messages first, at most ``most``, without the outlines of regions."""
        with self._reading():
            rows = self._connection.execute(
                f"SELECT {MESSAGE_COLUMNS} FROM alert ORDER BY id DESC LIMIT ?", (most,)
            )
            return tuple(map(row_message, rows))

    def outbox_counts(self) -> tuple[outbox.TargetFigures, ...]:
        """How the outbox of every target stands, by name."""
        with self._reading():
            return outbox.figures(self._connection)

    def _reports(self, first: int, *, heights_only: bool = False) -> Iterator[tuple[int, Arrived]]:
        # A height without a place is kept among what no column holds.
        only = (
            "AND report.odd IS NOT NULL AND report.id IN"
            " (SELECT report_id FROM verdict WHERE standing = 'accepted')"
        )
        columns = ", ".join(f"report.{name}" for name in REPORT_COLUMNS.split(", "))
        # A report comes after its frame, so the ids below the first frame need not be looked at.
        rows = self._connection.execute(
            "SELECT frame.source, frame.received_utc, frame.sent_utc, frame.retained, "
            f"{columns} "
            "FROM report JOIN frame ON frame.id = report.frame_id "
            f"WHERE report.id > ? AND report.reason IS NULL {only if heights_only else ''}"
            " ORDER BY report.id",
            (first,),
        )
        for source, received_utc, sent_utc, retained, *row in rows:
            report = row_report(tuple(row))
            assert not isinstance(report, Unreadable), "the query leaves those out"
            heard_utc = heard_at(received_utc, report, sent_utc, retained=bool(retained))
            yield row[0], arrived(row[0], source, heard_utc, report)

    def _estimates(self, first: int) -> Iterator[tuple[int, Estimated]]:
        rows = self._connection.execute(
            f"SELECT {LANDING_COLUMNS} FROM landing WHERE id > ? ORDER BY id", (first,)
        )
        for row in rows:
            seq, landing = row_landing(row)
            yield seq, Estimated(landing=landing)

    @contextmanager
    def _reading(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise StoreError(f"{self.path} can't be read: {error}") from error


def _as_of_today(event: Event, ahead_s: float) -> Event:
    if not ahead_s:
        return event
    if isinstance(event, Observed | HeightHeard):
        return replace(event, received_utc=event.received_utc + ahead_s)
    if isinstance(event, PersonTold):
        return event.later(ahead_s)
    landing = event.landing
    return Estimated(landing=replace(landing, time_utc=landing.time_utc + ahead_s))
