"""The one place that time comes from.

The flight runs on UTC, waiting runs on the monotonic clock. In a rehearsal the station's UTC is
that of the recording and may run faster; the monotonic clock stays real.
"""

import time
from dataclasses import dataclass, field
from typing import Protocol


class Clock(Protocol):
    """Where the station reads time. All values are seconds."""

    @property
    def speed(self) -> float:
        """Station seconds that pass in one real second."""

    @property
    def rehearsal(self) -> bool:
        """Whether the station's UTC is not the real one."""

    def now_utc(self) -> float:
        """Seconds since 1970-01-01T00:00:00Z, as the station sees it."""

    def monotonic_s(self) -> float:
        """Real seconds since an arbitrary start; never steps back."""


class SystemClock:
    """The machine's own clock."""

    speed = 1.0
    rehearsal = False

    def now_utc(self) -> float:
        return time.time()

    def monotonic_s(self) -> float:
        return time.monotonic()


@dataclass(frozen=True, slots=True)
class RehearsalClock:
    """A station clock that begins at ``start_utc`` and runs at ``speed`` times real time."""

    start_utc: float
    speed: float = 1.0
    _begun_s: float = field(default_factory=time.monotonic)

    @property
    def rehearsal(self) -> bool:
        return True

    def now_utc(self) -> float:
        return self.start_utc + self.speed * (time.monotonic() - self._begun_s)

    def monotonic_s(self) -> float:
        return time.monotonic()
