"""Streams into frames: text lines, KISS (Chepponis and Karn 1987), and bytes of a fixed length.

Lines and KISS keep at most one frame of ``limit`` bytes. A longer one is given out, as soon as
that is known, as its first ``limit + 1`` bytes, which every decoder answers with
``Reason.TOO_LONG``; the rest of it, up to the next end mark, is dropped. So a stream without any
end mark says something once, and never fills the memory.
"""

import re
from collections.abc import Callable
from typing import Final

from groundstation.decoders.decoder import MAX_FRAME_BYTES

FEND: Final = b"\xc0"
_MOST_TRIES: Final = 4
"""Begins that are tried inside a frame that was none, so that noise costs a bounded time."""
_LINE_END: Final = re.compile(rb"[\r\n]")
_ESCAPE: Final = re.compile(rb"\xdb(.?)", re.DOTALL)
_ESCAPED: Final = {b"\xdc": b"\xc0", b"\xdd": b"\xdb"}


class _Collector:
    """The frame that is being received, up to ``limit + 1`` bytes of it."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._buffer = bytearray()
        self._dropping = False

    def add(self, piece: bytes) -> list[bytes]:
        """Take more of the frame; gives the head of a frame that has become too long."""
        if self._dropping:
            return []
        self._buffer += piece[: self._limit + 1 - len(self._buffer)]
        if len(self._buffer) <= self._limit:
            return []
        head = self.end()
        self._dropping = True
        return head

    def end(self) -> list[bytes]:
        """End the frame; gives it unless it is empty or was given already."""
        frame = bytes(self._buffer)
        self._buffer.clear()
        self._dropping = False
        return [frame] if frame else []


class LineFramer:
    """Lines that end with CR, LF or both, without their ends. Empty lines are skipped."""

    def __init__(self, limit: int = MAX_FRAME_BYTES) -> None:
        self._line = _Collector(limit)

    def feed(self, data: bytes) -> list[bytes]:
        frames: list[bytes] = []
        *ended, rest = _LINE_END.split(data)
        for piece in ended:
            frames += self._line.add(piece)
            frames += self._line.end()
        frames += self._line.add(rest)
        return frames

    def flush(self) -> list[bytes]:
        return self._line.end()


class KissFramer:
    """The bytes between two FENDs with the escapes undone, command byte first.

    Frames of every port and command are given; empty ones are skipped. Bytes before the first
    FEND are dropped: the tail of a frame can look like a whole one, with a digipeater for the
    sender. An escape before anything but TFEND or TFESC is dropped together with the byte after
    it, and the frame goes on, as the KISS paper asks.
    """

    def __init__(self, limit: int = MAX_FRAME_BYTES) -> None:
        self._frame = _Collector(limit)
        self._in_step = False

    def feed(self, data: bytes) -> list[bytes]:
        frames: list[bytes] = []
        *ended, rest = data.split(FEND)
        for piece in ended:
            frames += self._frame.add(piece)
            whole = self._frame.end()
            if self._in_step:
                frames += _unescaped(whole)
            self._in_step = True
        frames += self._frame.add(rest)
        return frames

    def flush(self) -> list[bytes]:
        left = self._frame.end()
        in_step, self._in_step = self._in_step, False
        return _unescaped(left) if in_step else []


def _unescaped(frames: list[bytes]) -> list[bytes]:
    plain = (_ESCAPE.sub(lambda found: _ESCAPED.get(found[1], b""), frame) for frame in frames)
    return [frame for frame in plain if frame]


class BinaryFramer:
    """Frames of ``length`` bytes that begin with ``start``; what stands between them is dropped.

    ``whole`` says whether a frame is one, by its checksum say. One that is not is given out all
    the same, and the next is looked for inside it: its beginning may have been chance.
    """

    def __init__(self, start: bytes, length: int, whole: Callable[[bytes], bool]) -> None:
        self._start = start
        self._length = length
        self._whole = whole
        self._buffer = bytearray()
        self._told_to = 0
        self._tries = 0

    def feed(self, data: bytes) -> list[bytes]:
        frames: list[bytes] = []
        self._buffer += data
        at = 0
        while True:
            found = self._buffer.find(self._start, at)
            if found < 0:
                # The begin of a mark may be at the end.
                at = max(at, len(self._buffer) - len(self._start) + 1)
                break
            at = found
            if len(self._buffer) - at < self._length:
                break
            frame = bytes(self._buffer[at : at + self._length])
            if self._whole(frame):
                frames.append(frame)
                at += self._length
                self._tries = 0
            elif self._tries == 0:
                frames.append(frame)
                self._tries = 1
                self._told_to = at + self._length
                at += 1
            elif self._tries < _MOST_TRIES and at < self._told_to:
                self._tries += 1
                at += 1
            else:
                at = max(at + 1, self._told_to)
                self._tries = 0
        del self._buffer[:at]
        self._told_to = max(0, self._told_to - at)
        return frames

    def flush(self) -> list[bytes]:
        left, self._buffer = bytes(self._buffer), bytearray()
        self._told_to = self._tries = 0
        return [left] if left.startswith(self._start) and left else []
