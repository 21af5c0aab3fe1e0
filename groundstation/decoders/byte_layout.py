"""Values packed into bytes, as radio modules send them: a layout of numbers at fixed places."""

import base64
import binascii
import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.decoders.paths import json_path
from groundstation.decoders.refusals import unreadable
from groundstation.decoders.text import clean
from groundstation.errors import ConfigurationError
from groundstation.records import Unreadable

MOST_BYTES: Final = 1_024  # own choice: packed packets are short
_FLOATS: Final = {"f32": "f", "f64": "d"}
_FLOAT_STEP: Final = {"f32": 2.0**-23, "f64": 2.0**-52}
_INTEGERS: Final = {
    f"{letter}{bits}": (bits // 8, letter == "i")
    for letter in "ui"
    for bits in (8, 16, 24, 32, 40, 48, 64)
}
_WITH_LENGTH: Final = ("text", "bcd")
TYPES: Final = (*_INTEGERS, *_FLOATS, *_WITH_LENGTH)


class Encoding(StrEnum):
    """How the bytes stand in a text: base64 (RFC 4648, also its URL form), or hexadecimal."""

    BASE64 = "base64"
    HEX = "hex"


class ByteOrder(StrEnum):
    BIG = "big"
    LITTLE = "little"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedField:
    """A number of the type ``type`` at byte ``at``; the value is ``scale`` times it plus ``add``.

    Types are u8 to u64 and i8 to i64 in steps of 8 bits but 56 (unsigned, and signed as two's
    complement), f32 and f64 (IEEE 754), ``bcd`` (two decimal digits a byte) and ``text`` (ASCII)
    with ``length`` bytes. A negative ``at`` counts from the end. ``bits`` takes so many of an
    integer's bits, from ``bit`` on, where 0 is the lowest; they are signed where the type is.
    ``missing`` is the raw value that stands for none. ``byte_order`` is this field's own.
    """

    name: str
    type: str
    at: int
    scale: float = 1.0
    add: float = 0.0
    missing: int | None = None
    bit: int = 0
    bits: int = 0
    length: int = 0
    byte_order: ByteOrder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedSettings:
    """Where the text with the bytes stands (keys joined by dots), and what is in them."""

    path: str
    layout: tuple[PackedField, ...]
    encoding: Encoding = Encoding.BASE64
    byte_order: ByteOrder = ByteOrder.BIG


@dataclass(frozen=True, slots=True)
class Unpacked:
    """The values as text, without those that are missing; and what each number can tell apart."""

    texts: Mapping[str, str]
    steps: Mapping[str, float]


class Layout:
    """Reads bytes. Raises ``ConfigurationError`` for a layout that cannot be; ``where`` names the
    setting."""

    def __init__(self, fields: tuple[PackedField, ...], order: ByteOrder, where: str) -> None:
        self.names = tuple(field.name for field in fields)
        if not fields:
            raise ConfigurationError(f"{where} is empty; say what stands at which byte")
        if len(set(self.names)) != len(self.names):
            raise ConfigurationError(f"{where} names a value more than once")
        self._fields = tuple((field, _size(field, where)) for field in fields)
        self._order = order
        self.needed = max(
            field.at + size if field.at >= 0 else -field.at for field, size in self._fields
        )

    def read(self, data: bytes) -> Unpacked | Unreadable:
        if len(data) < self.needed:
            return unreadable(
                f"The packed bytes are {len(data)}, and the layout needs {self.needed}."
            )
        texts: dict[str, str] = {}
        steps: dict[str, float] = {}
        for field, size in self._fields:
            at = field.at if field.at >= 0 else len(data) + field.at
            piece = data[at : at + size]
            if field.type == "text":
                texts[field.name] = clean(piece.rstrip(b"\x00 ").decode("ascii", "replace"))
                continue
            raw = _raw(field, piece, field.byte_order or self._order)
            if raw is None:
                return unreadable(f"The bytes of {field.name} are no decimal digits.")
            if raw == field.missing:
                continue
            value = raw * field.scale + field.add
            if field.scale == 1.0 and field.add == 0.0 and isinstance(raw, int):
                texts[field.name] = str(raw)
            else:
                # An integer scaled by 1e-7 has more digits than a float shows by itself.
                texts[field.name] = repr(float(value)) if math.isfinite(value) else ""
            relative = _FLOAT_STEP.get(field.type)
            step = 1.0 if relative is None else abs(raw) * relative
            steps[field.name] = abs(field.scale) * step
        return Unpacked(texts, steps)


class Unpacker:
    """Reads bytes that stand as text in a message. Raises ``ConfigurationError`` for settings that
    cannot work."""

    def __init__(self, settings: PackedSettings) -> None:
        if not settings.path:
            raise ConfigurationError("packed needs a path")
        self.path = json_path(settings.path)
        self._encoding = settings.encoding
        self._layout = Layout(settings.layout, settings.byte_order, "packed.layout")
        self.names = self._layout.names

    def read(self, text: str) -> Unpacked | Unreadable:
        if not text:
            return unreadable("The message holds no packed bytes.")
        data = bytes_of(text, self._encoding)
        if data is None or len(data) > MOST_BYTES:
            return unreadable(f"The packed bytes are not {self._encoding.value} text.")
        return self._layout.read(data)


def bytes_of(text: str, encoding: Encoding) -> bytes | None:
    """The bytes that a text stands for, or None where it is not in that encoding."""
    try:
        if encoding is Encoding.HEX:
            return bytes.fromhex(text.strip().removeprefix("0x"))
        plain = text.strip().replace("-", "+").replace("_", "/").rstrip("=")
        return base64.b64decode(plain + "=" * (-len(plain) % 4), validate=True)
    except (ValueError, binascii.Error):
        return None


def _raw(field: PackedField, piece: bytes, order: ByteOrder) -> float | int | None:
    if field.type in _FLOATS:
        sign = ">" if order is ByteOrder.BIG else "<"
        (value,) = struct.unpack(sign + _FLOATS[field.type], piece)
        return float(value)
    if field.type == "bcd":
        digits = (piece if order is ByteOrder.BIG else piece[::-1]).hex()
        return int(digits) if digits.isdigit() else None
    signed = _INTEGERS[field.type][1]
    if not field.bits:
        return int.from_bytes(piece, order.value, signed=signed)
    number = (int.from_bytes(piece, order.value) >> field.bit) & ((1 << field.bits) - 1)
    return number - (1 << field.bits) if signed and number >> (field.bits - 1) else number


def _size(field: PackedField, where: str) -> int:
    """How many bytes the field takes. Raises ``ConfigurationError``."""
    if field.type not in TYPES:
        raise ConfigurationError(f"{where}: {field.type!r} is none of {', '.join(TYPES)}")
    if not -MOST_BYTES < field.at < MOST_BYTES:
        raise ConfigurationError(f"{where}: {field.name} is at no byte {field.at}")
    if not (math.isfinite(field.scale) and math.isfinite(field.add)):
        raise ConfigurationError(f"{where}: scale and add of {field.name} must be finite")
    if field.type in _WITH_LENGTH:
        if not 1 <= field.length <= 64:
            raise ConfigurationError(f"{where}: length of {field.name} must be 1 to 64 bytes")
        size = field.length
    elif field.type in _FLOATS:
        size = struct.calcsize(_FLOATS[field.type])
    else:
        size = _INTEGERS[field.type][0]
    if field.at < 0 and -field.at < size:
        raise ConfigurationError(f"{where}: {field.name} reaches over the end")
    if (field.bits or field.bit) and (
        field.type not in _INTEGERS or not (0 <= field.bit < field.bit + field.bits <= 8 * size)
    ):
        raise ConfigurationError(f"{where}: {field.name} has no {field.bits} bits from {field.bit}")
    return size
