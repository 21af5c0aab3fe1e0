"""The one place that time comes from.

The flight runs on UTC, waiting runs on the monotonic clock. In a rehearsal the station's UTC is
that of the recording and may run faster; the monotonic clock stays real.

A small computer without a clock battery starts in the past, and its clock jumps once it has a
network. Within the station time never jumps by itself: it counts on from the start, and a jump is
noticed (``jumped_s``), written down, and only then followed (``follow``).
"""

import ctypes
import time
from typing import Final, Protocol

JUMP_S: Final = 2.0
"""Less than this is followed without a word. Own choice."""

TIME_ERROR: Final = 5
"""What adjtimex(2) returns where nothing keeps the clock right."""

# Own choice: a station stored for longer is not set by what it kept.
BEHIND_AT_MOST_S: Final = 30 * 86_400.0


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

    def is_kept(self) -> bool:
        """Whether something (the network, a receiver) keeps the clock right."""

    def jumped_s(self) -> float:
        """By how much the machine's clock has jumped since it was last followed, 0 if not."""

    def follow(self, by_s: float) -> None:
        """Let the station's time jump by so much."""

    def not_before(self, utc: float) -> None:
        """Begin no earlier than ``utc``, where the clock can't be trusted."""


class SystemClock:
    """The machine's own clock, made steady."""

    speed = 1.0
    rehearsal = False

    def __init__(self) -> None:
        self._ahead_s = time.time() - time.monotonic()
        self._seen_s = self._ahead_s

    def now_utc(self) -> float:
        return time.monotonic() + self._ahead_s

    def monotonic_s(self) -> float:
        return time.monotonic()

    def is_kept(self) -> bool:
        # A buffer larger than struct timex; all zero asks and changes nothing (adjtimex(2)).
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(512))
        return state not in (-1, TIME_ERROR)

    def jumped_s(self) -> float:
        seen = time.time() - time.monotonic()
        moved = seen - self._seen_s
        if abs(moved) < JUMP_S:
            self._seen_s = seen
            self._ahead_s += moved
            return 0.0
        return seen - self._ahead_s

    def follow(self, by_s: float) -> None:
        self._ahead_s += by_s
        self._seen_s = time.time() - time.monotonic()

    def not_before(self, utc: float) -> None:
        """Begin no earlier than what was stored before, where nothing keeps the clock right."""
        behind = utc - self.now_utc()
        if 0.0 < behind < BEHIND_AT_MOST_S and not self.is_kept():
            self._ahead_s += behind


HURRY: Final = 600.0
"""How much faster than real time a rehearsal is run ahead. Own choice: a packet every ten seconds
still comes by itself."""


class RehearsalClock:
    """A station clock that begins at ``start_utc`` and runs at ``speed`` times real time."""

    rehearsal = True

    def __init__(self, start_utc: float, speed: float = 1.0) -> None:
        self._from_utc = start_utc
        self._from_s = time.monotonic()
        self._chosen = speed
        self._hurries_to_utc: float | None = None

    @property
    def speed(self) -> float:
        """0 while it is held."""
        self.now_utc()
        return self._chosen if self._hurries_to_utc is None else HURRY

    def now_utc(self) -> float:
        passed_s = time.monotonic() - self._from_s
        if self._hurries_to_utc is None:
            return self._from_utc + self._chosen * passed_s
        left_utc = self._hurries_to_utc - self._from_utc
        if HURRY * passed_s < left_utc:
            return self._from_utc + HURRY * passed_s
        self._from_s += left_utc / HURRY
        self._from_utc, self._hurries_to_utc = self._hurries_to_utc, None
        return self.now_utc()

    def monotonic_s(self) -> float:
        return time.monotonic()

    def is_kept(self) -> bool:
        return True

    def jumped_s(self) -> float:
        return 0.0

    def follow(self, by_s: float) -> None:
        """Never asked for: the time of a rehearsal does not jump."""

    def not_before(self, utc: float) -> None:
        pass

    def set_speed(self, speed: float) -> None:
        """From now on so many times real time; 0 holds it."""
        self._begin_anew()
        self._chosen = speed

    def run_ahead(self, by_s: float) -> None:
        """Hurry to so much later, leaving nothing out; then go on as before."""
        self._begin_anew()
        self._hurries_to_utc = self._from_utc + by_s

    def _begin_anew(self) -> None:
        self._from_utc, self._from_s = self.now_utc(), time.monotonic()
        self._hurries_to_utc = None
