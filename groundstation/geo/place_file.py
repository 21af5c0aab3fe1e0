"""The compact file of places with names that this project makes for itself.

Its arrays (``geo/columns.py``): where the places of each cell of two degrees begin, row by row from
the south-west; positions in the cell, of 65536, north and east; population as ten times its binary
logarithm; country as an index into the head's list; where each block of names begins; and the
names, 1024 a block, packed by zlib.
"""

import math
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError
from groundstation.geo import columns

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
    """The arrays, sorted by cell."""

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
        (_cell(entry.latitude_deg, entry.longitude_deg), " ".join(entry.name.split()), entry)
        for entry in entries
        if abs(entry.latitude_deg) <= 90.0
        and math.isfinite(entry.longitude_deg)
        and entry.name.strip()
    ]
    kept.sort(key=lambda each: (each[0][0], each[1]))
    countries = sorted({entry.country for _, _, entry in kept})
    names = [name[:_LONGEST_NAME] for _, name, _ in kept]
    blocks = [
        zlib.compress("\n".join(names[n : n + BLOCK]).encode(), 9)
        for n in range(0, len(names), BLOCK)
    ]
    cells = np.array([cell for (cell, _, _), _, _ in kept], dtype=np.int64)
    return columns.packed(
        {"form": FORM, "attribution": attribution, "countries": countries},
        {
            "first": np.searchsorted(cells, np.arange(ROWS * COLUMNS + 1)).astype(np.uint32),
            "within": np.array([each[0][1:] for each in kept], dtype=np.uint16).reshape(-1, 2),
            "population": np.array([_logarithm(each[2].population) for each in kept], np.uint8),
            "country": np.array([countries.index(each[2].country) for each in kept], np.uint8),
            "block_at": np.cumsum([0, *map(len, blocks)]).astype(np.uint32),
            "names": np.frombuffer(b"".join(blocks), dtype=np.uint8),
        },
    )


def read_columns(path: Path) -> Columns:
    """The file, mapped into memory. Raises ``InputFileError``."""
    head, arrays = columns.read(path, FORM)
    try:
        found = Columns(
            attribution=str(head["attribution"]), countries=tuple(head["countries"]), **arrays
        )
        whole = int(found.block_at[-1]) <= len(found.names) and int(found.first[-1]) == len(
            found.within
        )
    except (KeyError, TypeError, IndexError) as error:
        raise InputFileError(f"{path} is no file of places: {error}") from error
    if not whole:
        raise InputFileError(f"{path} is damaged; make it anew with groundstation prepare")
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
