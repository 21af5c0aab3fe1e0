"""What one transaction holds."""

from dataclasses import dataclass

from groundstation.flight.alert_records import Message
from groundstation.records import Frame, Landing, PhaseChange, Read, Verdict
from groundstation.store.sighting_rows import PersonTold


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Everything that is to be on disk together or not at all.

    Ids come from the caller and from one counter for frames, reports, landings and what people told
    together (begin with ``Store.next_seq``), so that they give the order of events across tables.
    ``messages`` go to the outbox, one delivery per target; a key that was said is left out.
    """

    frames: tuple[tuple[int, Frame], ...] = ()
    reports: tuple[tuple[int, int, Read], ...] = ()
    """(report_id, frame_id, what the decoder said)"""
    verdicts: tuple[Verdict, ...] = ()
    phases: tuple[PhaseChange, ...] = ()
    landings: tuple[tuple[int, Landing], ...] = ()
    messages: tuple[Message, ...] = ()
    people: tuple[tuple[int, PersonTold], ...] = ()
    clock_jumps: tuple[tuple[int, float], ...] = ()
    """(newest id before it, by how many seconds the station's clock jumped)"""
