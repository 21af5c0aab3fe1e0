"""The seam between bytes and reports: what a decoder and a framer promise.

Neither does any I/O. A framer cuts a stream into frames; a decoder reads one frame.
"""

from typing import Final, Protocol

from groundstation.records import Read

MAX_FRAME_BYTES: Final = 4096
"""Longest line or radio frame that is read. An AX.25 frame has at most some 330 bytes (v2.2) and
a line of an APRS server 512; the rest is room for wide tables and for JSON lines. Own choice."""


class Decoder(Protocol):
    """Reads one frame.

    ``received_utc`` is in seconds since 1970; times of day are resolved against it. One frame
    gives at least one record, whatever the bytes, and never an exception. Every ``Unreadable``
    has a sentence for a person. What a decoder remembers from one frame to the next is bounded,
    and changes nothing of positions.
    """

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]: ...


class Framer(Protocol):
    """Cuts a stream into frames; its buffer is bounded.

    ``feed`` gives the frames that ``data`` completes. ``flush`` gives what is left when the
    stream ends, and makes the framer ready for a new stream.
    """

    def feed(self, data: bytes) -> list[bytes]: ...

    def flush(self) -> list[bytes]: ...
