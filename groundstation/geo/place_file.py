"""The compact file of places with names that this project makes for itself.

One line of JSON, filled up with blanks to a multiple of eight bytes, says what follows and whose
data it is. Then come arrays, little-endian: where the places of each cell of two degrees begin
(uint32, row by row from the south-west); positions in the cell, of 65536 (uint16, north and east);
population as ten times its binary logarithm (uint8); country as an index into the header's list
(uint8); where each block of names begins (uint32); and the names, 1024 a block, packed by zlib.
"""

import json
import math
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError

CELL_DEG: Final = 2.0  # a place is then known to 3 m, in four bytes
ROWS: Final = 90  # 180 degrees of latitude
COLUMNS: Final = 180  # 360 degrees of longitude
STEPS: Final = 65_536  # of uint16
BLOCK: Final = 1_024  # names: read in 0.2 ms, packed to four fifths of what smaller blocks take
FORM: Final = "places 1"
_LONGEST_NAME: Final = 80  # own choice: the longest of the world's towns has 79


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A place as a source gives it; ``population`` 0 where it is not known."""

    name: str
    latitude_deg: float
    longitude_deg: float
    population: int
    country: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The file's arrays; ``count`` places, sorted by cell."""

    attribution: str
    countries: tuple[str, ...]
    first: NDArray[np.uint32]
    within: NDArray[np.uint16]
    population: NDArray[np.uint8]
    country: NDArray[np.uint8]
    block_at: NDArray[np.uint32]
    names: NDArray[np.uint8]

    def block(self, number: int) -> list[str]:
        """The names of one block."""
        packed = self.names[self.block_at[number] : self.block_at[number + 1]].tobytes()
        return zlib.decompress(packed).decode().split("\n")


def packed(entries: Iterable[Entry], attribution: str) -> bytes:
    """The file's bytes."""
    kept = [
        (_cell(one.latitude_deg, one.longitude_deg), " ".join(one.name.split()), one)
        for one in entries
        if abs(one.latitude_deg) <= 90.0 and math.isfinite(one.longitude_deg) and one.name.strip()
    ]
    kept.sort(key=lambda each: (each[0][0], each[1]))
    countries = sorted({one.country for _, _, one in kept})
    names = [name[:_LONGEST_NAME] for _, name, _ in kept]
    blocks = [
        zlib.compress("\n".join(names[n : n + BLOCK]).encode(), 9)
        for n in range(0, len(names), BLOCK)
    ]
    cells = np.array([cell for (cell, _, _), _, _ in kept], dtype=np.int64)
    arrays = (
        np.searchsorted(cells, np.arange(ROWS * COLUMNS + 1)).astype("<u4"),
        np.array([(north, east) for (_, north, east), _, _ in kept], dtype="<u2").reshape(-1, 2),
        np.array([_logarithm(one.population) for _, _, one in kept], dtype=np.uint8),
        np.array([countries.index(one.country) for _, _, one in kept], dtype=np.uint8),
        np.cumsum([0, *map(len, blocks)]).astype("<u4"),
    )
    head = {
        "form": FORM,
        "attribution": attribution,
        "count": len(kept),
        "blocks": len(blocks),
        "countries": countries,
    }
    text = json.dumps(head, ensure_ascii=False).encode()
    filling = b" " * (-(len(text) + 1) % 8)
    return b"".join([text, filling, b"\n", *(one.tobytes() for one in arrays), *blocks])


def read_columns(path: Path) -> Columns:
    """The file, mapped into memory. Raises ``InputFileError``."""
    try:
        data = np.memmap(path, dtype=np.uint8, mode="r")
        with path.open("rb") as file:
            line = file.readline(1_000_000)
        head = json.loads(line)
        if head["form"] != FORM:
            raise ValueError(f"it is of the form {head['form']!r}")
        return _columns(data, len(line), head)
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputFileError(
            f"{path} is no file of places ({error}); make it anew with groundstation prepare"
        ) from error


def _columns(data: NDArray[np.uint8], at: int, head: dict[str, Any]) -> Columns:
    count, blocks = int(head["count"]), int(head["blocks"])

    def taken(kind: str, size: int) -> NDArray[Any]:
        nonlocal at
        dtype = np.dtype(kind)
        end = at + dtype.itemsize * size
        if end > len(data) or size < 0:
            raise ValueError("it is cut off")
        piece = data[at:end].view(dtype)
        at = end
        return piece

    found = Columns(
        attribution=str(head["attribution"]),
        countries=tuple(map(str, head["countries"])),
        first=taken("<u4", ROWS * COLUMNS + 1),
        within=taken("<u2", 2 * count).reshape(-1, 2),
        population=taken("u1", count),
        country=taken("u1", count),
        block_at=taken("<u4", blocks + 1),
        names=data[at:],
    )
    if int(found.block_at[-1]) > len(found.names) or int(found.first[-1]) != count:
        raise ValueError("it is cut off")
    return found


def _cell(latitude_deg: float, longitude_deg: float) -> tuple[int, int, int]:
    """Its number, and where in it, of ``STEPS``, north and east."""
    row, north = _split((latitude_deg + 90.0) / CELL_DEG, ROWS)
    column, east = _split(((longitude_deg + 180.0) % 360.0) / CELL_DEG, COLUMNS)
    return row * COLUMNS + column, north, east


def _split(value: float, most: int) -> tuple[int, int]:
    whole = min(int(value), most - 1)
    return whole, min(int((value - whole) * STEPS), STEPS - 1)


def _logarithm(population: int) -> int:
    return 0 if population < 1 else min(round(10.0 * math.log2(population)), 255)
