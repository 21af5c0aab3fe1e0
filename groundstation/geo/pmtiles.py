"""Reading and writing PMTiles, version 3 (its public specification): a head of 127 bytes,
directories of varints packed by gzip, tiles numbered along a Hilbert curve, zoom by zoom."""

import gzip
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

from groundstation.errors import InputFileError

HEAD_BYTES: Final = 127  # the specification
GZIP: Final = 2  # compression: none 1, gzip 2
ROOT_MOST: Final = 16_384 - HEAD_BYTES  # the specification: the root lies in the first 16 kB
LEAF_ENTRIES: Final = 4_096  # own choice: a leaf of some 10 kB
LARGEST_DIRECTORY: Final = 20_000_000  # bytes, own choice, against a damaged file
_HEAD: Final = struct.Struct("<7sB11Q6B4iB2i")

Fetch = Callable[[int, int], bytes]
"""Gives the bytes from an offset, so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Offsets and lengths in bytes; corners in 1e-7 degrees (west, south, east, north)."""

    root: tuple[int, int]
    metadata: tuple[int, int]
    leaves: tuple[int, int]
    data: tuple[int, int]
    counts: tuple[int, int, int] = (0, 0, 0)
    clustered: int = 1
    packing: tuple[int, int] = (GZIP, GZIP)
    kind: int = 1
    zooms: tuple[int, int]
    corners: tuple[int, int, int, int]

    @classmethod
    def read(cls, data: bytes) -> "Head":
        """Raises ``InputFileError`` for what is none."""
        if len(data) < HEAD_BYTES or data[:7] != b"PMTiles" or data[7] != 3:
            raise InputFileError("this is no PMTiles file of version 3")
        _, _, *rest = _HEAD.unpack(data[:HEAD_BYTES])
        offsets, more = rest[:11], rest[11:]
        return cls(
            root=(offsets[0], offsets[1]),
            metadata=(offsets[2], offsets[3]),
            leaves=(offsets[4], offsets[5]),
            data=(offsets[6], offsets[7]),
            counts=(offsets[8], offsets[9], offsets[10]),
            clustered=more[0],
            packing=(more[1], more[2]),
            kind=more[3],
            zooms=(more[4], more[5]),
            corners=(more[6], more[7], more[8], more[9]),
        )

    def bytes(self) -> bytes:
        west, south, east, north = self.corners
        return _HEAD.pack(
            b"PMTiles", 3, *self.root, *self.metadata, *self.leaves, *self.data, *self.counts,
            self.clustered, *self.packing, self.kind, *self.zooms, *self.corners,
            self.zooms[0], (west + east) // 2, (south + north) // 2,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Item:
    """``run`` tiles from ``tile`` on have the same bytes; of a leaf directory it is 0."""

    tile: int
    run: int
    offset: int
    length: int


def directory(data: bytes, packing: int) -> list[Item]:
    """The items of a directory. Raises ``InputFileError`` where it is damaged."""
    try:
        plain = gzip.decompress(data) if packing == GZIP else data
        numbers = _varints(plain)
        count = next(numbers)
        if count > LARGEST_DIRECTORY:
            raise ValueError("it is far too large")
        tiles, at = [], 0
        for _ in range(count):
            at += next(numbers)
            tiles.append(at)
        runs = [next(numbers) for _ in range(count)]
        lengths = [next(numbers) for _ in range(count)]
        offsets: list[int] = []
        for n in range(count):
            coded = next(numbers)
            offsets.append(offsets[-1] + lengths[n - 1] if coded == 0 and n > 0 else coded - 1)
    except (ValueError, OSError, EOFError, StopIteration, zlib.error) as error:
        raise InputFileError(f"a directory of the map is damaged: {error}") from error
    return [Item(*each) for each in zip(tiles, runs, offsets, lengths, strict=True)]


def packed_directory(items: Sequence[Item]) -> bytes:
    numbers = [len(items)]
    numbers += [
        item.tile - before
        for item, before in zip(items, [0, *(i.tile for i in items)], strict=False)
    ]
    numbers += [item.run for item in items]
    numbers += [item.length for item in items]
    end = -1
    for item in items:
        numbers.append(0 if item.offset == end else item.offset + 1)
        end = item.offset + item.length
    return gzip.compress(b"".join(map(_varint, numbers)), mtime=0)


class Archive:
    """Looks tiles up; each directory is fetched once."""

    def __init__(self, fetch: Fetch) -> None:
        """Raises ``InputFileError``."""
        self.head = Head.read(fetch(0, HEAD_BYTES))
        self._fetch = fetch
        self._directory = lru_cache(maxsize=64)(self._read)

    def find(self, tile: int) -> Item | None:
        offset, length = self.head.root
        for _ in range(4):  # the specification allows few levels
            items = self._directory(offset, length)
            low, high = 0, len(items)
            while low < high:
                middle = (low + high) // 2
                low, high = (middle + 1, high) if items[middle].tile <= tile else (low, middle)
            if low == 0:
                return None
            found = items[low - 1]
            if found.run > 0:
                return found if tile < found.tile + found.run else None
            offset, length = self.head.leaves[0] + found.offset, found.length
        return None

    def _read(self, offset: int, length: int) -> list[Item]:
        return directory(self._fetch(offset, length), self.head.packing[0])


def write(path: Path, data: Path, items: Iterable[Item], head: Head, metadata: bytes) -> None:
    """An archive of the tiles in ``data``; ``items`` are in the order of their tiles, with offsets
    into it. ``metadata`` is packed as ``head`` says."""
    kept = list(items)
    root, leaves = packed_directory(kept), b""
    if len(root) > ROOT_MOST:
        pointers = []
        for n in range(0, len(kept), LEAF_ENTRIES):
            leaf = packed_directory(kept[n : n + LEAF_ENTRIES])
            pointers.append(Item(kept[n].tile, 0, len(leaves), len(leaf)))
            leaves += leaf
        root = packed_directory(pointers)
    at = HEAD_BYTES
    parts = []
    for length in (len(root), len(metadata), len(leaves), data.stat().st_size):
        parts.append((at, length))
        at += length
    made = Head(
        root=parts[0],
        metadata=parts[1],
        leaves=parts[2],
        data=parts[3],
        counts=(sum(item.run for item in kept), len(kept), len({item.offset for item in kept})),
        packing=(GZIP, head.packing[1]),
        kind=head.kind,
        zooms=head.zooms,
        corners=head.corners,
    )
    with path.open("wb") as file, data.open("rb") as tiles:
        file.write(made.bytes() + root + metadata + leaves)
        while piece := tiles.read(1_000_000):
            file.write(piece)


def tile_number(zoom: int, x: int, y: int) -> int:
    """Along the Hilbert curve of its zoom, after all wider ones (the specification)."""
    before = ((1 << 2 * zoom) - 1) // 3
    found = 0
    side = 1 << zoom
    half = side >> 1
    while half > 0:
        right, down = int(x & half > 0), int(y & half > 0)
        found += half * half * ((3 * right) ^ down)
        if down == 0:
            if right == 1:
                x, y = side - 1 - x, side - 1 - y
            x, y = y, x
        half >>= 1
    return before + found


def _varint(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def _varints(data: bytes) -> Iterator[int]:
    value = shift = 0
    for byte in data:
        value |= (byte & 0x7F) << shift
        shift += 7
        if byte < 0x80:
            yield value
            value = shift = 0
        elif shift > 63:
            raise ValueError("a number is too long")
