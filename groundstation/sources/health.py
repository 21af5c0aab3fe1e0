"""How a source is: kept by the source and its supervisor, read by the page."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.clock import Clock
from groundstation.records import Frame

QUIET_AFTER_S: Final = 300.0
"""Connected and without a frame for this long (station time) counts as quiet. Own choice: most
trackers send every few minutes at least."""


MOST_RECEIVERS: Final = 50
"""More than this are not told apart. Own choice."""


class SourceState(StrEnum):
    OPENING = "opening"
    RECEIVING = "receiving"
    QUIET = "quiet"
    RETRYING = "retrying"
    FINISHED = "finished"


@dataclass(frozen=True, slots=True)
class Heard:
    """What came by one receiver of a source: a device, an address, a topic."""

    receiver: str
    frames: int
    last_utc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceHealth:
    """One moment. Times are the station's; ``next_try_s`` counts real seconds from now."""

    name: str
    kind: str
    state: SourceState
    since_utc: float
    frames: int
    last_frame_utc: float | None
    failures: int
    last_error: str
    next_try_s: float | None
    receivers: tuple[Heard, ...] = ()


class HealthRecorder:
    """Takes note of what a source does."""

    awaited_utc: float | None = None
    """When what comes next was heard, where that is known beforehand, as of a recording."""

    def __init__(self, name: str, kind: str, clock: Clock) -> None:
        self._name = name
        self._kind = kind
        self._clock = clock
        self._state = SourceState.OPENING
        self._since_utc = clock.now_utc()
        self._frames = 0
        self._last_frame_utc: float | None = None
        self._failures = 0
        self._last_error = ""
        self._next_try_s: float | None = None
        self._receivers: dict[str, Heard] = {}

    @property
    def is_open(self) -> bool:
        return self._state is SourceState.RECEIVING

    @property
    def is_deaf(self) -> bool:
        """Whether it failed and has not come back since."""
        return self._state is SourceState.RETRYING or (
            self._state is SourceState.OPENING and self._failures > 0
        )

    def opening(self) -> None:
        self._become(SourceState.OPENING)

    def opened(self) -> None:
        """The connection stands; frames may come."""
        self._become(SourceState.RECEIVING)

    def received(self, frame: Frame) -> None:
        self._frames += 1
        if frame.retained:
            # A broker had kept it; nobody was heard just now.
            return
        self._last_frame_utc = frame.received_utc
        name = frame.receiver
        before = self._receivers.get(name)
        if before is not None or len(self._receivers) < MOST_RECEIVERS:
            frames = 1 if before is None else before.frames + 1
            self._receivers[name] = Heard(name, frames, frame.received_utc)

    def failed(self, error: str, next_try_s: float) -> None:
        """The connection ended, and is tried again after ``next_try_s`` real seconds."""
        self._failures += 1
        self._last_error = error
        self._become(SourceState.RETRYING)
        self._next_try_s = self._clock.monotonic_s() + next_try_s

    def finished(self) -> None:
        """Nothing more will come."""
        self._become(SourceState.FINISHED)

    def snapshot(self) -> SourceHealth:
        state, since = self._state, self._since_utc
        if state is SourceState.RECEIVING:
            heard = since if self._last_frame_utc is None else max(since, self._last_frame_utc)
            if self._clock.now_utc() - heard > QUIET_AFTER_S:
                state, since = SourceState.QUIET, heard
        left = None
        if self._next_try_s is not None:
            left = max(0.0, self._next_try_s - self._clock.monotonic_s())
        return SourceHealth(
            name=self._name,
            kind=self._kind,
            state=state,
            since_utc=since,
            frames=self._frames,
            last_frame_utc=self._last_frame_utc,
            failures=self._failures,
            last_error=self._last_error,
            next_try_s=left,
            receivers=tuple(self._receivers.values()),
        )

    def _become(self, state: SourceState) -> None:
        self._next_try_s = None
        if state is not self._state:
            self._state = state
            self._since_utc = self._clock.now_utc()
