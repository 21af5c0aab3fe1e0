"""Terrain tiles of a region, as .hgt: from an open store of them, or a folder of the person's."""

import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from groundstation.errors import InputFileError
from groundstation.prepare.download import MissingError, Progress, to_file
from groundstation.prepare.region import Region
from groundstation.prepare.settings import is_address
from groundstation.weather.terrain import SIDES

SEA: Final = "sea.txt"
"""Names of the degrees that the store has no tile of: they are sea."""

KEPT_SIDE: Final = 1_201
"""Samples: three arc seconds. Own choice: a landing is not known better than that."""

LARGEST_BYTES: Final = 40_000_000  # own choice: a packed tile is 26 MB at most


def tile_name(south: int, west: int) -> str:
    """Such as "N47E020", of its south-west corner (USGS, SRTM Topo)."""
    north_south, east_west = "N" if south >= 0 else "S", "E" if west >= 0 else "W"
    return f"{north_south}{abs(south):02d}{east_west}{abs(west):03d}"


def missing(region: Region, folder: Path) -> list[str]:
    """Names of the tiles that are neither there nor sea."""
    sea = _sea(folder)
    names = (tile_name(*corner) for corner in region.tiles())
    return [name for name in names if name not in sea and not (folder / f"{name}.hgt").is_file()]


def fetch_tile(source: str, name: str, folder: Path, progress: Progress) -> int | None:
    """Bring one tile into the folder; its size in bytes, or None where it is sea. Raises
    ``FetchError``, and ``InputFileError`` for what is no tile."""
    folder.mkdir(parents=True, exist_ok=True)
    out = folder / f"{name}.hgt"
    if is_address(source):
        packed = folder / f"{name}.hgt.gz"
        try:
            to_file(
                f"{source.rstrip('/')}/{name[:3]}/{name}.hgt.gz", packed, LARGEST_BYTES, progress
            )
        except MissingError:
            sea = sorted({*_sea(folder), name})
            (folder / SEA).write_text("\n".join(sea) + "\n", encoding="utf-8")
            return None
        try:
            data = gzip.decompress(packed.read_bytes())
        except (OSError, EOFError, zlib.error) as error:
            raise InputFileError(f"{packed.name} from {source} is damaged: {error}") from error
        finally:
            packed.unlink()
    else:
        data = _of_folder(Path(source), name)
    if len(data) not in SIDES:
        raise InputFileError(f"{name} from {source} is no .hgt tile: it has {len(data):,} bytes")
    data = _thinned(data)
    new = out.with_suffix(".new")
    new.write_bytes(data)
    new.replace(out)
    return len(data)


def _thinned(data: bytes) -> bytes:
    """Of a tile at one arc second each third sample: 90 m apart, a ninth of the room on a card, and
    the outermost still on the degree lines."""
    side = SIDES[len(data)]
    if side == KEPT_SIDE:
        return data
    step = (side - 1) // (KEPT_SIDE - 1)
    return np.frombuffer(data, ">i2").reshape(side, side)[::step, ::step].tobytes()


def _of_folder(folder: Path, name: str) -> bytes:
    for path in _candidates(folder, name):
        if path.is_file():
            try:
                data = path.read_bytes()
                return gzip.decompress(data) if path.suffix == ".gz" else data
            except (OSError, EOFError, zlib.error) as error:
                raise InputFileError(f"{path} can't be read: {error}") from error
    raise InputFileError(f"{folder} holds no {name}.hgt or {name}.hgt.gz; put it there")


def _candidates(folder: Path, name: str) -> Iterator[Path]:
    for each in (folder, folder / name[:3]):
        yield each / f"{name}.hgt"
        yield each / f"{name}.hgt.gz"


def _sea(folder: Path) -> set[str]:
    path = folder / SEA
    return set(path.read_text(encoding="utf-8").split()) if path.is_file() else set()
