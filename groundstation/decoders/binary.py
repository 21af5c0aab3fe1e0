"""Raw bytes with numbers at fixed places: a struct as a module sends it, or as short text."""

import re
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal

from groundstation.decoders.byte_layout import (
    MOST_BYTES,
    ByteOrder,
    Encoding,
    Layout,
    PackedField,
    bytes_of,
)
from groundstation.decoders.checksums import CRCS, crc, nmea_xor
from groundstation.decoders.named_values import named_values
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Unreadable

CHECKSUMS: Final = ("none", "xor", "sum-8", *CRCS)
_HEX: Final = re.compile(r"(?:[0-9A-Fa-f]{2}[ ]?)*")


class BinaryEncoding(StrEnum):
    """Bytes as they are, or as text in hexadecimal or base64 (RFC 4648)."""

    RAW = "raw"
    HEX = "hex"
    BASE64 = "base64"


@dataclass(frozen=True, slots=True, kw_only=True)
class BinarySettings:
    """``layout`` says what stands at which byte of a message, from its first byte on.

    ``start`` are the bytes, in hexadecimal, with which each begins, and ``length`` how many it has;
    a stream (serial, TCP) needs both, and without them a message is what comes at once. The
    checksum stands at byte ``checksum_at``, negative from the end (usual: the last), in
    ``checksum_order`` (usual: that of the layout), and is over the bytes from ``checksum_from`` to
    before it. The other settings are those of ``ValueSettings``.
    """

    kind: Literal["binary"] = "binary"
    layout: tuple[PackedField, ...]
    byte_order: ByteOrder = ByteOrder.BIG
    encoding: BinaryEncoding = BinaryEncoding.RAW
    start: str = ""
    length: int = 0
    checksum: str = "none"
    checksum_at: int | None = None
    checksum_from: int = 0
    checksum_order: ByteOrder | None = None
    time_format: str = TimeFormat.UNIX
    utc_offset_s: float = 0.0
    units: dict[str, str] = field(default_factory=dict)
    numbers: NumberForm = NumberForm.POINT
    tracker: str = ""


class BinaryDecoder:
    """Reads one message. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: BinarySettings) -> None:
        self._settings = settings
        self._layout = Layout(settings.layout, settings.byte_order, "layout")
        self._values = named_values(self._layout.names, settings, "layout")
        self._start = start_bytes(settings)
        if not 0 <= settings.length <= MOST_BYTES:
            raise ConfigurationError(f"length must be at most {MOST_BYTES} bytes")
        if settings.checksum not in CHECKSUMS:
            known = ", ".join(CHECKSUMS)
            raise ConfigurationError(f"checksum: {settings.checksum!r} is none of {known}")
        if settings.length and settings.length < self._layout.needed:
            raise ConfigurationError(
                f"length is {settings.length}, and the layout needs {self._layout.needed}"
            )
        if settings.checksum_from < 0:
            raise ConfigurationError("checksum_from must not be below 0")
        self._sum_bytes = CRCS[settings.checksum].bits // 8 if settings.checksum in CRCS else 1

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        return (self._decode(data, received_utc),)

    def _decode(self, data: bytes, received_utc: float) -> Read:
        settings = self._settings
        if settings.encoding is not BinaryEncoding.RAW:
            refused = too_long(data)
            if refused is not None:
                return refused
            plain = bytes_of(data.decode("latin-1"), Encoding(settings.encoding.value))
            if plain is None:
                return unreadable(f"The message is not {settings.encoding.value} text.")
            data = plain
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return refused
        if not data.startswith(self._start):
            return unreadable(f"The message does not begin with {self._start.hex(' ')}.")
        if settings.length and len(data) != settings.length:
            return unreadable(f"The message has {len(data)} bytes, not {settings.length}.")
        wrong = self._wrong_sum(data)
        if wrong:
            return Unreadable(reason=Reason.CHECKSUM, detail=wrong)
        unpacked = self._layout.read(data)
        if isinstance(unpacked, Unreadable):
            return unpacked
        steps = unpacked.steps if {"lat", "lon"} <= unpacked.steps.keys() else {}
        return self._values.report(unpacked.texts, received_utc, steps)

    def _wrong_sum(self, data: bytes) -> str:
        """What is wrong with the checksum, or ""."""
        settings, size = self._settings, self._sum_bytes
        if settings.checksum == "none":
            return ""
        at = -size if settings.checksum_at is None else settings.checksum_at
        at = at if at >= 0 else len(data) + at
        if at < settings.checksum_from or at + size > len(data):
            return "The message is too short to hold its checksum."
        body = data[settings.checksum_from : at]
        if settings.checksum in CRCS:
            expected = crc(body, CRCS[settings.checksum])
        else:
            expected = nmea_xor(body) if settings.checksum == "xor" else sum(body) & 0xFF
        order = settings.checksum_order or settings.byte_order
        sent = int.from_bytes(data[at : at + size], order.value)
        digits = 2 * size
        if sent == expected:
            return ""
        return f"The checksum is {sent:0{digits}X}, and {expected:0{digits}X} was expected."


def start_bytes(settings: BinarySettings) -> bytes:
    """Raises ``ConfigurationError``."""
    if not _HEX.fullmatch(settings.start) or len(settings.start) > 64:
        raise ConfigurationError(f"start: {settings.start!r} is not hexadecimal, such as 'AA 55'")
    return bytes.fromhex(settings.start)
