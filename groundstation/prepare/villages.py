"""Villages of a region, from GeoNames' files of countries.

Each is a ZIP with a table of tab-separated columns without a head (its readme.txt): 2 name,
5 latitude, 6 longitude, 7 feature class, 8 feature code, 9 country, 15 population, counted from 1.
"""

import io
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from groundstation.errors import InputFileError
from groundstation.geo.place_file import Entry, packed
from groundstation.geo.places import VILLAGES, Box
from groundstation.prepare.download import Progress, to_file
from groundstation.prepare.services import VILLAGES as SERVICE
from groundstation.prepare.settings import is_address

LARGEST_BYTES: Final = 100_000_000  # own choice: the largest country's file has 70 MB
NO_PLACES: Final = frozenset({"PPLX", "PPLH", "PPLQ", "PPLW", "PPLCH"})
"""Parts of a town, and such as are no more: historical, abandoned, destroyed (its featureCodes)."""


def fetch_villages(
    source: str, countries: Sequence[str], box: Box, folder: Path, progress: Progress
) -> int:
    """Write ``villages.places``; how many it holds. Raises ``FetchError`` and
    ``InputFileError``."""
    folder.mkdir(parents=True, exist_ok=True)
    entries: list[Entry] = []
    for code in sorted(countries):
        if is_address(source):
            path = folder / f"{code}.zip"
            if not path.exists():
                to_file(f"{source.rstrip('/')}/{code}.zip", path, LARGEST_BYTES, progress)
        else:
            path = Path(source) / f"{code}.zip"
        entries += _inside(path, code, box)
    new = folder / f"{VILLAGES}.new"
    new.write_bytes(packed(entries, SERVICE.credit))
    new.replace(folder / VILLAGES)
    if is_address(source):
        for code in countries:
            (folder / f"{code}.zip").unlink(missing_ok=True)
    return len(entries)


def _inside(path: Path, code: str, box: Box) -> Iterator[Entry]:
    south, west, north, east = box
    try:
        with zipfile.ZipFile(path) as archive, archive.open(f"{code}.txt") as file:
            for line in io.TextIOWrapper(file, encoding="utf-8", errors="replace"):
                columns = line.rstrip("\n").split("\t")
                if len(columns) < 15 or columns[6] != "P" or columns[7] in NO_PLACES:
                    continue
                lat, lon = float(columns[4]), float(columns[5])
                if south <= lat <= north and (lon - west) % 360.0 <= (east - west) % 360.0:
                    yield Entry(
                        name=columns[1],
                        latitude_deg=lat,
                        longitude_deg=lon,
                        population=int(columns[14] or 0),
                        country=code,
                    )
    except (OSError, KeyError, ValueError, zipfile.BadZipFile) as error:
        raise InputFileError(
            f"{path} is no file of GeoNames with {code}.txt in it ({error}); fetch it again"
        ) from error
