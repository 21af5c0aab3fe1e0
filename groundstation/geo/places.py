"""Places with names, and which of them says best where a point is.

A town reaches as far as its people need room; the place is named whose edge is nearest, so that
what lies in a large city is not called after one of its districts, and a village beside the point
comes before a city behind the horizon.
"""

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.geo.place_file import (
    BLOCK,
    CELL_DEG,
    COLUMNS,
    ROWS,
    STEPS,
    Columns,
    read_columns,
)
from groundstation.physics.geodesy import MEAN_RADIUS_M
from groundstation.records import NamedPlace

Array = NDArray[np.float64]

TOWNS: Final = Path(__file__).parent.parent / "resources" / "towns.places"
"""Of the world, made by ``tools/make_places.py``."""

VILLAGES: Final = "villages.places"
"""What ``prepare`` makes for a region."""

PEOPLE_PER_KM2: Final = 3_000.0
"""In a town; own choice, of the order of European ones."""

WIDEST_M: Final = 60_000.0  # of the largest city, by that density
FIRST_LOOK_DEG: Final = 0.75  # own choice: enough in settled land, some thousand places at most
KEPT_BLOCKS: Final = 16  # own choice: 16,000 names, 1 MB
KEPT_ANSWERS: Final = 64  # own choice: of those who ask each second for the same place

Box = tuple[float, float, float, float]
"""South, west, north, east in degrees; where west is above east it crosses the date line."""


class Places:
    """Those of some files, the packaged one and what a person prepared. Safe in threads."""

    def __init__(self, files: Sequence[Path]) -> None:
        """Raises ``InputFileError`` for a file that is none."""
        self._files = [read_columns(path) for path in files]
        self._names = lru_cache(KEPT_BLOCKS)(self._block)
        self._nearest = lru_cache(KEPT_ANSWERS)(self._find)

    def nearest(self, latitude_deg: float, longitude_deg: float) -> NamedPlace | None:
        """The place whose edge is nearest, in any direction and however far; None for what is no
        position."""
        if not (abs(latitude_deg) <= 90.0 and math.isfinite(longitude_deg)):
            return None
        # To 10 m, so that one who asks each second is answered from memory.
        return self._nearest(round(latitude_deg, 4), round(longitude_deg, 4))

    def within(self, box: Box, most: int) -> list[NamedPlace]:
        """The ``most`` largest in a box, the largest first."""
        found: list[tuple[int, int, int]] = []
        for number, file in enumerate(self._files):
            at = _inside(file, box)
            # Some may stand in two files.
            at = at[np.argsort(file.population[at], kind="stable")[::-1][: 2 * most]]
            found += [(int(file.population[n]), number, int(n)) for n in at]
        found.sort(key=lambda candidate: (-candidate[0], candidate[1], candidate[2]))
        named: dict[tuple[str, float, float], NamedPlace] = {}
        for _, number, n in found:
            place = self._named(number, n)
            named.setdefault(
                (place.name, round(place.latitude_deg, 1), round(place.longitude_deg, 1)), place
            )
            if len(named) >= most:
                break
        return list(named.values())

    def countries(self, box: Box) -> set[str]:
        """Codes (ISO 3166-1, two letters) of the countries that have a place in the box."""
        found = (
            {file.countries[n] for n in np.unique(file.country[_inside(file, box)])}
            for file in self._files
        )
        return set().union(*found)

    def _find(self, latitude_deg: float, longitude_deg: float) -> NamedPlace | None:
        look = FIRST_LOOK_DEG
        while True:
            best = min(
                (
                    place
                    for number, file in enumerate(self._files)
                    if (place := _best(file, number, latitude_deg, longitude_deg, look)) is not None
                ),
                default=None,
            )
            seen_m = math.radians(look) * MEAN_RADIUS_M - WIDEST_M
            if look >= 180.0 or (best is not None and best[0] <= seen_m):
                return None if best is None else self._named(best[1], best[2])
            look = min(2.0 * look, 180.0)

    def _named(self, number: int, n: int) -> NamedPlace:
        file = self._files[number]
        lat, lon = _positions(file, np.array([n]))
        return NamedPlace(
            name=self._names(number, n // BLOCK)[n % BLOCK],
            latitude_deg=float(lat[0]),
            longitude_deg=float(lon[0]),
            population=round(_people(file.population[n : n + 1])[0]),
        )

    def _block(self, number: int, block: int) -> list[str]:
        return self._files[number].block(block)


@lru_cache(maxsize=4)  # alerts and the page share them
def known_places(folder: Path | None = None) -> Places:
    """The packaged towns, with the villages of a prepared ``folder`` where it has some. Raises
    ``InputFileError``."""
    more = () if folder is None else (folder / VILLAGES,)
    return Places([TOWNS, *(path for path in more if path.is_file())])


def _best(
    file: Columns, number: int, latitude_deg: float, longitude_deg: float, look_deg: float
) -> tuple[float, int, int] | None:
    """(metres to its edge, file, place) of the best within ``look_deg``."""
    south, north = max(latitude_deg - look_deg, -90.0), min(latitude_deg + look_deg, 90.0)
    # How far such a circle reaches in longitude; all around where it holds a pole.
    wide = 180.0
    if south > -90.0 and north < 90.0:
        wide = math.degrees(
            math.asin(
                min(1.0, math.sin(math.radians(look_deg)) / math.cos(math.radians(latitude_deg)))
            )
        )
    west, east = longitude_deg - wide, longitude_deg + wide
    best: tuple[float, int, int] | None = None
    parts = [*_rows(file, south, north, west, east)]
    at = np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)
    if len(at):
        lat, lon = _positions(file, at)
        edge = _metres(latitude_deg, longitude_deg, lat, lon) - _reach_m(file.population[at])
        n = int(np.argmin(edge))
        best = float(edge[n]), number, int(at[n])
    return best


def _inside(file: Columns, box: Box) -> NDArray[np.int64]:
    """Numbers of the places in a box."""
    south, west, north, east = box
    wide = min((east - west) % 360.0 or 360.0, 360.0)
    parts = list(_rows(file, south, north, west, west + wide))
    at = np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)
    lat, lon = _positions(file, at)
    return at[(lat >= south) & (lat < north) & ((lon - west) % 360.0 < wide)]


def _rows(
    file: Columns, south: float, north: float, west: float, east: float
) -> Iterator[NDArray[np.int64]]:
    """Numbers of the places in all cells that a box touches; ``west`` and ``east`` may lie beyond
    180 degrees."""
    low = max(int((south + 90.0) // CELL_DEG), 0)
    high = min(int((north + 90.0) // CELL_DEG), ROWS - 1)
    left, right = int((west + 180.0) // CELL_DEG), int((east + 180.0) // CELL_DEG)
    right = min(right, left + COLUMNS - 1)
    for row in range(low, high + 1):
        for begin, end in _wrapped(left, right):
            first = int(file.first[row * COLUMNS + begin])
            last = int(file.first[row * COLUMNS + end + 1])
            if last > first:
                yield np.arange(first, last)


def _wrapped(left: int, right: int) -> list[tuple[int, int]]:
    """Columns ``left`` to ``right`` as one or two spans that do not cross the date line."""
    begin, count = left % COLUMNS, right - left + 1
    if begin + count <= COLUMNS:
        return [(begin, begin + count - 1)]
    return [(begin, COLUMNS - 1), (0, begin + count - COLUMNS - 1)]


def _positions(file: Columns, at: NDArray[np.int64]) -> tuple[Array, Array]:
    cell = np.searchsorted(file.first, at, side="right") - 1
    part = (file.within[at] + 0.5) / STEPS
    lat = (cell // COLUMNS + part[:, 0]) * CELL_DEG - 90.0
    lon = (cell % COLUMNS + part[:, 1]) * CELL_DEG - 180.0
    return lat, lon


def _people(logarithm: NDArray[np.uint8]) -> Array:
    return np.where(logarithm > 0, np.exp2(logarithm / 10.0), 0.0)


def _reach_m(logarithm: NDArray[np.uint8]) -> Array:
    """Radius of a round town with so many people."""
    return np.asarray(1000.0 * np.sqrt(_people(logarithm) / (math.pi * PEOPLE_PER_KM2)))


def _metres(latitude_deg: float, longitude_deg: float, lat: Array, lon: Array) -> Array:
    """On the mean sphere, by haversine: within 0.6 %, which changes no name."""
    a, b = math.radians(latitude_deg), np.radians(lat)
    turn = np.radians(lon - longitude_deg)
    h = np.sin((b - a) / 2.0) ** 2 + math.cos(a) * np.cos(b) * np.sin(turn / 2.0) ** 2
    return np.asarray(2.0 * MEAN_RADIUS_M * np.arcsin(np.sqrt(np.minimum(h, 1.0))))
