"""Lines of a vector tile (Mapbox Vector Tile, version 2.1, an open specification), which is a
message of protocol buffers."""

import gzip
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from groundstation.errors import InputFileError

LINE: Final = 2  # type of a feature: point 1, line 2, polygon 3
MOVE, DRAW = 1, 2  # commands of a geometry
MOST_POINTS: Final = 1_000_000  # own choice, against a damaged tile

Value = str | float | bool
Tags = dict[str, Value]


@dataclass(frozen=True, slots=True)
class Line:
    """``points`` are east and south of the tile's north-western corner, of 1 across the tile."""

    layer: str
    tags: Tags
    points: tuple[tuple[float, float], ...]


def lines(data: bytes) -> list[Line]:
    """Those of all layers. Raises ``InputFileError`` for what is no tile."""
    try:
        if data[:2] == b"\x1f\x8b":
            data = gzip.decompress(data)
        return [line for number, _, layer in _fields(data) if number == 3 for line in _layer(layer)]
    except (ValueError, IndexError, EOFError, OSError, struct.error, zlib.error) as error:
        raise InputFileError(f"a tile of the map is damaged: {error}") from error


def _layer(data: bytes) -> Iterator[Line]:
    name, extent = "", 4_096  # the usual one, by the specification
    keys: list[str] = []
    values: list[Value] = []
    features: list[bytes] = []
    for number, whole, piece in _fields(data):
        match number:
            case 1:
                name = piece.decode("utf-8", "replace")
            case 2:
                features.append(piece)
            case 3:
                keys.append(piece.decode("utf-8", "replace"))
            case 4:
                values.append(_value(piece))
            case 5:
                extent = max(whole, 1)
    for feature in features:
        kind, tags, geometry = 0, [], b""
        for number, whole, piece in _fields(feature):
            if number == 2:
                tags = list(_numbers(piece))
            elif number == 3:
                kind = whole
            elif number == 4:
                geometry = piece
        if kind != LINE:
            continue
        properties = {keys[a]: values[b] for a, b in zip(tags[::2], tags[1::2], strict=True)}
        for part in _parts(geometry):
            yield Line(name, properties, tuple((x / extent, y / extent) for x, y in part))


def _parts(geometry: bytes) -> Iterator[list[tuple[int, int]]]:
    """The lines of a geometry: commands with a count, then steps (4.3 of the specification)."""
    numbers = _numbers(geometry)
    x = y = total = 0
    part: list[tuple[int, int]] = []
    for command in numbers:
        what, count = command & 7, command >> 3
        if what not in (MOVE, DRAW):
            continue
        total += count
        if total > MOST_POINTS:
            raise ValueError("it has too many points")
        for _ in range(count):
            if what == MOVE:
                if len(part) > 1:
                    yield part
                part = []
            x += _signed(next(numbers, 0))
            y += _signed(next(numbers, 0))
            part.append((x, y))
    if len(part) > 1:
        yield part


def _value(data: bytes) -> Value:
    for number, whole, piece in _fields(data):
        match number:
            case 1:
                return piece.decode("utf-8", "replace")
            case 2:
                return float(struct.unpack("<f", piece)[0])
            case 3:
                return float(struct.unpack("<d", piece)[0])
            case 6:
                return _signed(whole)
            case 7:
                return bool(whole)
            case _:
                return whole
    return ""


def _fields(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """(number, whole number, bytes) of a message; one of the last two, by its wire type."""
    at = 0
    while at < len(data):
        key, at = _varint(data, at)
        number, wire = key >> 3, key & 7
        if wire == 0:
            whole, at = _varint(data, at)
            yield number, whole, b""
            continue
        if wire == 2:
            length, at = _varint(data, at)
        elif wire in (1, 5):
            length = 8 if wire == 1 else 4
        else:
            raise ValueError(f"there is no wire type {wire}")
        if at + length > len(data):
            raise ValueError("it is cut off")
        yield number, 0, data[at : at + length]
        at += length


def _numbers(data: bytes) -> Iterator[int]:
    at = 0
    while at < len(data):
        value, at = _varint(data, at)
        yield value


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while shift < 70:
        byte = data[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value, at
        shift += 7
    raise ValueError("a number is too long")


def _signed(value: int) -> int:
    """Zigzag, as protocol buffers have it."""
    return (value >> 1) ^ -(value & 1)
