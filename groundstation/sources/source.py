"""The seam between the outside and the pipeline: what a source promises."""

from collections.abc import Callable
from typing import Protocol

from groundstation.records import Frame
from groundstation.sources.health import HealthRecorder


class Emit(Protocol):
    """Hands a frame to the pipeline; waits while that is full.

    ``stored`` is called once the frame is on disk, for senders that want to know.
    """

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None: ...


class Source(Protocol):
    """Where frames come from. ``run`` reads one connection, from its opening to its end.

    It returns only where nothing more can come, and raises ``SourceError`` where trying again
    may help. It may be run again after either.
    """

    @property
    def name(self) -> str: ...

    async def run(self, emit: Emit, health: HealthRecorder) -> None: ...
