"""Values packed into bytes, as radio modules send them: a layout of numbers at fixed places."""

import base64
import binascii
import math
import struct
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from groundstation.decoders.refusals import unreadable
from groundstation.errors import ConfigurationError
from groundstation.records import Unreadable

MOST_BYTES: Final = 1_024
_CODES: Final = {
    "u8": "B", "i8": "b", "u16": "H", "i16": "h", "u32": "I", "i32": "i", "f32": "f", "f64": "d",
}  # fmt: skip


class Encoding(StrEnum):
    """How the bytes stand in the text: base64 (RFC 4648, also its URL form), or hexadecimal."""

    BASE64 = "base64"
    HEX = "hex"


class ByteOrder(StrEnum):
    BIG = "big"
    LITTLE = "little"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedField:
    """A number of the type ``type`` at byte ``at``; the value is ``scale`` times it plus ``add``.

    Types are u8, i8, u16, i16, u32, i32 (unsigned and signed, bits), f32 and f64 (IEEE 754).
    ``missing`` is the raw value that stands for none.
    """

    name: str
    type: str
    at: int
    scale: float = 1.0
    add: float = 0.0
    missing: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedSettings:
    """Where the text with the bytes stands (keys joined by dots), and what is in them."""

    path: str
    layout: tuple[PackedField, ...]
    encoding: Encoding = Encoding.BASE64
    byte_order: ByteOrder = ByteOrder.BIG


class Unpacker:
    """Reads one text. Raises ``ConfigurationError`` for a layout that cannot be."""

    def __init__(self, settings: PackedSettings) -> None:
        if not settings.path or not settings.layout:
            raise ConfigurationError("packed needs a path and a layout")
        order = ">" if settings.byte_order is ByteOrder.BIG else "<"
        self.path = tuple(settings.path.split("."))
        self.names = tuple(field.name for field in settings.layout)
        if len(set(self.names)) != len(self.names):
            raise ConfigurationError("packed.layout names a value more than once")
        self._encoding = settings.encoding
        self._fields = []
        for field in settings.layout:
            if field.type not in _CODES:
                known = ", ".join(_CODES)
                raise ConfigurationError(f"packed.layout: {field.type!r} is none of {known}")
            if not 0 <= field.at < MOST_BYTES:
                raise ConfigurationError(f"packed.layout: {field.name} is at no byte {field.at}")
            self._fields.append((field, struct.Struct(order + _CODES[field.type])))
        self._length = max(field.at + form.size for field, form in self._fields)

    def read(self, text: str) -> dict[str, str] | Unreadable:
        """The values as text; those that are missing are left out."""
        if not text:
            return unreadable("The message holds no packed bytes.")
        data = _bytes(text, self._encoding)
        if data is None or len(data) > MOST_BYTES:
            return unreadable(f"The packed bytes are not {self._encoding.value} text.")
        if len(data) < self._length:
            return unreadable(
                f"The packed bytes are {len(data)}, and the layout needs {self._length}."
            )
        found = {}
        for field, form in self._fields:
            (raw,) = form.unpack_from(data, field.at)
            if raw == field.missing:
                continue
            value = raw * field.scale + field.add
            # An integer scaled by 1e-7 has more digits than a float shows by itself.
            found[field.name] = repr(float(value)) if math.isfinite(value) else ""
        return found


def _bytes(text: str, encoding: Encoding) -> bytes | None:
    try:
        if encoding is Encoding.HEX:
            return bytes.fromhex(text)
        plain = text.strip().replace("-", "+").replace("_", "/").rstrip("=")
        return base64.b64decode(plain + "=" * (-len(plain) % 4), validate=True)
    except (ValueError, binascii.Error):
        return None
