"""A region of a map, cut out of a PMTiles build over HTTP ranges, or out of a file."""

import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from groundstation.errors import InputFileError
from groundstation.geo.places import Box
from groundstation.geo.pmtiles import HEAD_BYTES, Archive, Head, Item, tile_number, write
from groundstation.prepare.download import FetchError, Progress, get
from groundstation.prepare.settings import is_address

NAME: Final = "region.pmtiles"
GAP_BYTES: Final = 65_536  # own choice: asking again costs about as much
PIECE_BYTES: Final = 4_000_000  # own choice: so much is fetched again after a stop
MOST_TILES: Final = 200_000  # own choice, against a region that no phone needs
LARGEST_BYTES: Final = 20_000_000  # of a directory or piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What is to be fetched: ``wanted`` in the order of the tiles, with offsets in the source."""

    wanted: tuple[Item, ...]
    head: Head
    metadata: bytes
    version: str

    @property
    def size_bytes(self) -> int:
        return sum({item.offset: item.length for item in self.wanted}.values())


class Source:
    """A build at an address, or in a file. ``version`` tells one state of it from another."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.version = ""

    def read(self, offset: int, length: int) -> bytes:
        """Raises ``FetchError``, and ``InputFileError`` for a file."""
        if not is_address(self.where):
            try:
                with Path(self.where).open("rb") as file:
                    file.seek(offset)
                    self.version = str(Path(self.where).stat().st_mtime_ns)
                    return file.read(length)
            except OSError as error:
                raise InputFileError(f"{self.where} can't be read: {error.strerror}") from error
        answer = get(self.where, LARGEST_BYTES, (offset, offset + length))
        if self.version and answer.version != self.version:
            raise FetchError("{address} has changed meanwhile; call again", address=self.where)
        self.version = answer.version
        return answer.data


def planned_cut(source: Source, box: Box, deepest: int) -> Cut:
    """Which tiles a box needs down to a zoom; asks only for directories."""
    archive = Archive(source.read)
    head = archive.head
    zooms = head.zooms[0], min(head.zooms[1], deepest)
    numbers = [n for zoom in range(zooms[0], zooms[1] + 1) for n in _tiles(box, zoom)]
    if len(numbers) > MOST_TILES:
        raise InputFileError(
            f"the region has {len(numbers):,} tiles at zoom {deepest}; take a smaller radius or"
            " prepare.map_zoom"
        )
    found = [
        Item(number, 1, head.data[0] + item.offset, item.length)
        for number in sorted(numbers)
        if (item := archive.find(number)) is not None
    ]
    south, west, north, east = (round(1e7 * edge_deg) for edge_deg in box)
    return Cut(
        wanted=tuple(found),
        head=replace(head, zooms=zooms, corners=(west, south, east, north)),
        metadata=source.read(*head.metadata) if head.metadata[1] else b"",
        version=source.version,
    )


def fetch_cut(source: Source, cut: Cut, folder: Path, progress: Progress) -> Path:
    """Bring the tiles into ``region.pmtiles``, going on where an earlier try was stopped. Raises
    ``FetchError``."""
    folder.mkdir(parents=True, exist_ok=True)
    data, mark = folder / f"{NAME}.part", folder / f"{NAME}.state"
    state = json.dumps(
        [source.where, cut.version, len(cut.wanted), cut.size_bytes, cut.head.corners]
    )
    pieces = list(_pieces(cut.wanted))
    if not (mark.exists() and data.exists() and mark.read_text(encoding="utf-8") == state):
        data.write_bytes(b"")
        mark.write_text(state, encoding="utf-8")
    have = data.stat().st_size
    at: dict[int, int] = {}
    end = 0
    with data.open("r+b") as file:
        for piece in pieces:
            begin = end
            for item in piece:
                at[item.offset] = end
                end += item.length
            if end <= have:
                continue
            first = piece[0].offset
            got = source.read(first, piece[-1].offset + piece[-1].length - first)
            file.seek(begin)
            for item in piece:
                file.write(got[item.offset - first : item.offset - first + item.length])
            file.flush()
            progress(end, cut.size_bytes)
        file.truncate(end)
    new = folder / f"{NAME}.new"
    items = _runs(replace(item, offset=at[item.offset]) for item in cut.wanted)
    write(new, data, items, cut.head, cut.metadata)
    new.replace(folder / NAME)
    data.unlink()
    mark.unlink()
    return folder / NAME


def covers(path: Path, box: Box) -> bool:
    """Whether a map of that file reaches as far as the box. False for what is none."""
    try:
        with path.open("rb") as file:
            head = Head.read(file.read(HEAD_BYTES))
    except (OSError, InputFileError):
        return False
    south, west, north, east = box
    wide = (head.corners[0] / 1e7, head.corners[2] / 1e7)
    near = 0.01  # degrees, own choice: an edge that is rounded
    return (
        head.corners[1] / 1e7 <= south + near
        and head.corners[3] / 1e7 >= north - near
        and wide[0] <= west + near
        and wide[1] >= east - near
    )


def _tiles(box: Box, zoom: int) -> Iterator[int]:
    """Numbers of the tiles of the spherical Mercator that a box touches."""
    south, west, north, east = box
    side = 1 << zoom
    top, bottom = _row(north, side), _row(south, side)
    left = math.floor((west + 180.0) / 360.0 * side)
    right = math.floor((west + (east - west) % 360.0 + 180.0) / 360.0 * side)
    for x in range(left, min(right, left + side - 1) + 1):
        for y in range(top, bottom + 1):
            yield tile_number(zoom, x % side, y)


def _row(latitude_deg: float, side: int) -> int:
    sine = math.sin(math.radians(max(-85.0511, min(85.0511, latitude_deg))))
    share = 0.5 - math.log((1.0 + sine) / (1.0 - sine)) / (4.0 * math.pi)
    return min(max(int(share * side), 0), side - 1)


def _pieces(wanted: Iterable[Item]) -> Iterator[list[Item]]:
    """Each different content once, in the order of the source, in pieces worth one question."""
    once = sorted({item.offset: item for item in wanted}.values(), key=lambda item: item.offset)
    piece: list[Item] = []
    for item in once:
        begin = piece[0].offset if piece else 0
        last = piece[-1].offset + piece[-1].length if piece else 0
        if piece and (
            item.offset - last > GAP_BYTES or item.offset + item.length - begin > PIECE_BYTES
        ):
            yield piece
            piece = []
        piece.append(item)
    if piece:
        yield piece


def _runs(items: Iterable[Item]) -> Iterator[Item]:
    """Neighbours with the same bytes as one item."""
    run: Item | None = None
    for item in items:
        if run is not None and item.tile == run.tile + run.run and item.offset == run.offset:
            run = replace(run, run=run.run + 1)
            continue
        if run is not None:
            yield run
        run = item
    if run is not None:
        yield run
