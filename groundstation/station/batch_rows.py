"""What a batch of the pipeline gathers before it is written."""

from dataclasses import dataclass, field

from groundstation.flight.alert_records import Message
from groundstation.records import Frame, Landing, PhaseChange, Read, Verdict
from groundstation.store.batch import Batch
from groundstation.store.sighting_rows import PersonTold


@dataclass(slots=True)
class Rows:
    """Grows while a batch is taken; see ``Batch``."""

    frames: list[tuple[int, Frame]] = field(default_factory=list)
    reports: list[tuple[int, int, Read]] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    phases: list[PhaseChange] = field(default_factory=list)
    landings: list[tuple[int, Landing]] = field(default_factory=list)
    people: list[tuple[int, PersonTold]] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)

    def batch(self) -> Batch:
        return Batch(
            frames=tuple(self.frames),
            reports=tuple(self.reports),
            verdicts=tuple(self.verdicts),
            phases=tuple(self.phases),
            landings=tuple(self.landings),
            people=tuple(self.people),
            messages=tuple(self.messages),
        )

    def empty(self) -> bool:
        return not (
            self.frames
            or self.verdicts
            or self.phases
            or self.landings
            or self.people
            or self.messages
        )
