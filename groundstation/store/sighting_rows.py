"""What people saw, as rows of the database and back."""

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.sighting_kinds import SightingKind, facts_of, kind_of, sighting_of
from groundstation.store.fix_rows import storable

_COLUMNS: Final = "seq, payload, kind, at_utc, told_utc, facts, who, note, gone_seq, gone_utc"


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonTold:
    """A person told something of ``payload``, or took it back. ``who`` is whoever takes back."""

    payload: str
    event: Sighted | Withdrawn
    who: str = ""

    def later(self, by_s: float) -> "PersonTold":
        """With times of a clock that was set since. What was told as of now moves with it; a moment
        that was named is that of the person's own watch."""
        event = replace(self.event, now_utc=self.event.now_utc + by_s)
        if isinstance(event, Sighted):
            said = event.sighting
            at_utc = said.at_utc + (by_s if said.at_utc == said.told_utc else 0.0)
            sighting = replace(said, at_utc=at_utc, told_utc=said.told_utc + by_s)
            event = replace(event, sighting=sighting)
        return replace(self, event=event)


def write(connection: sqlite3.Connection, seq: int, word: PersonTold) -> None:
    """Keep it as the event ``seq``, which is the number of a new sighting."""
    match word.event:
        case Sighted(sighting=sighting):
            connection.execute(
                "INSERT INTO sighting (seq, payload, kind, at_utc, told_utc, facts, who, note)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    seq,
                    storable(word.payload),
                    str(kind_of(sighting)),
                    sighting.at_utc,
                    sighting.told_utc,
                    json.dumps(facts_of(sighting)),
                    storable(sighting.who),
                    storable(sighting.note),
                ),
            )
        case Withdrawn():
            connection.execute(
                "UPDATE sighting SET gone_seq = ?, gone_utc = ?, gone_who = ?"
                " WHERE seq = ? AND gone_seq IS NULL",
                (seq, word.event.now_utc, storable(word.who), word.event.number),
            )


def events(connection: sqlite3.Connection, after_seq: int) -> Iterator[tuple[int, PersonTold]]:
    """All that was told, and taken back, after an event, in order."""
    rows = connection.execute(
        f"SELECT {_COLUMNS} FROM sighting WHERE seq > ?1 OR gone_seq > ?1", (after_seq,)
    )
    found: list[tuple[int, PersonTold]] = []
    for seq, payload, kind, at, told_utc, facts, who, note, gone_seq, gone in rows:
        if seq > after_seq:
            sighting = sighting_of(
                SightingKind(kind),
                json.loads(facts),
                at_utc=at,
                told_utc=told_utc,
                number=seq,
                who=who,
                note=note,
            )
            event = Sighted(now_utc=told_utc, sighting=sighting)
            found.append((seq, PersonTold(payload=payload, event=event)))
        if gone_seq is not None and gone_seq > after_seq:
            taken = Withdrawn(now_utc=gone, number=seq)
            found.append((gone_seq, PersonTold(payload=payload, event=taken)))
    yield from sorted(found, key=lambda numbered: numbered[0])
