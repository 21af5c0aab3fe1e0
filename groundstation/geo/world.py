"""Coasts, borders, rivers and lakes of the world at small scale, so that there is a map without
any other file: Natural Earth, public domain, made smaller by ``tools/make_world.py``.

Lines are cut at the edges of cells, 20 degrees wide for the wide view and 5 for the near one; a
point is kept in 65536 steps of its cell (8 m in the near one).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.geo import columns

WORLD: Final = Path(__file__).parent.parent / "resources" / "world.lines"
FORM: Final = "lines 1"
STEPS: Final = 65_535  # of uint16
KINDS: Final = ("coast", "border", "river", "lake")
CELLS_DEG: Final = {"wide": 20, "near": 5}
"""Width of the cells, in degrees, of either view."""

Line = list[list[float]]
"""[latitude, longitude] in degrees, and so on."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece of a line in one cell; ``points`` are longitude and latitude in degrees, (n, 2)."""

    cell: int
    kind: int
    points: NDArray[np.float64]


class World:
    """Raises ``InputFileError`` where its file is damaged."""

    def __init__(self, path: Path = WORLD) -> None:
        head, self._arrays = columns.read(path, FORM)
        self.attribution = str(head.get("attribution", ""))

    def lines(self, view: str, row: int, column: int) -> dict[str, list[Line]]:
        """By kind, those of a cell, counted from the south-west. Raises ``LookupError`` where there
        is no such cell."""
        size = CELLS_DEG[view]
        if not (0 <= row < 180 // size and 0 <= column < 360 // size):
            raise IndexError(f"there is no cell {row}, {column}")
        first, kind, start, points = (
            self._arrays[f"{view}_{name}"] for name in ("first", "kind", "start", "points")
        )
        cell = row * (360 // size) + column
        found: dict[str, list[Line]] = {name: [] for name in KINDS}
        decimals = 2 if view == "wide" else 4
        for n in range(int(first[cell]), int(first[cell + 1])):
            part = points[int(start[n]) : int(start[n + 1])] / STEPS * size
            line = np.round(part[:, ::-1] + (row * size - 90.0, column * size - 180.0), decimals)
            found[KINDS[kind[n]]].append(line.tolist())
        return found

    def around(self, box: tuple[float, float, float, float]) -> dict[str, list[Line]]:
        """By kind, the near ones of all cells that a box touches: south, west, north and east in
        degrees, where west is above east if it crosses the date line."""
        south, west, north, east = box
        size = CELLS_DEG["near"]
        wide = (east - west) % 360.0
        left = math.floor((west + 180.0) / size)
        right = math.floor((west + wide + 180.0) / size)
        found: dict[str, list[Line]] = {name: [] for name in KINDS}
        for row in range(math.floor((south + 90.0) / size), math.floor((north + 90.0) / size) + 1):
            for column in range(left, right + 1):
                if 0 <= row < 180 // size:
                    lines = self.lines("near", row, column % (360 // size))
                    for name, some in lines.items():
                        found[name] += some
        return found


def packed(cuts: Mapping[str, Sequence[Cut]], attribution: str) -> bytes:
    """The file's bytes."""
    arrays: dict[str, NDArray[Any]] = {}
    for view, size in CELLS_DEG.items():
        kept = sorted(cuts[view], key=lambda cut: (cut.cell, cut.kind))
        across = 360 // size
        cells = [cut.cell for cut in kept]
        count = across * (180 // size)
        arrays[f"{view}_first"] = np.searchsorted(cells, np.arange(count + 1)).astype(np.uint32)
        arrays[f"{view}_kind"] = np.array([cut.kind for cut in kept], dtype=np.uint8)
        arrays[f"{view}_start"] = np.cumsum([0, *(len(cut.points) for cut in kept)]).astype(
            np.uint32
        )
        arrays[f"{view}_points"] = np.concatenate(
            [
                np.round(
                    (cut.points - (cut.cell % across * size - 180, cut.cell // across * size - 90))
                    / size
                    * STEPS
                ).clip(0, STEPS)
                for cut in kept
            ]
        ).astype(np.uint16)
    return columns.packed({"form": FORM, "attribution": attribution}, arrays)
