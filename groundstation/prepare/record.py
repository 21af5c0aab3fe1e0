"""What was fetched: from whom, under which licence, how large, when; kept beside it."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from groundstation.prepare.region import Region
from groundstation.prepare.services import Service

NAME: Final = "prepared.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """One kind of thing. ``made_utc`` is of the forecast's run, or None where nobody says;
    ``centre`` and ``radius_m`` are the region."""

    what: str
    source: str
    licence: str
    credit: str
    size_bytes: int
    fetched_utc: float
    latitude_deg: float
    longitude_deg: float
    radius_m: float
    made_utc: float | None = None


def fetched_from(
    what: str,
    who: Service,
    source: str,
    region: Region,
    *,
    size_bytes: int,
    fetched_utc: float,
    made_utc: float | None = None,
) -> Fetched:
    """As it is kept. What comes from another address or a folder has terms of its own."""
    theirs = who.address in ("", source)
    return Fetched(
        what=what,
        source=who.name if source == who.address else source,
        licence=who.licence if theirs else "licence as its owner says",
        credit=who.credit if theirs else source,
        size_bytes=size_bytes,
        fetched_utc=fetched_utc,
        latitude_deg=region.latitude_deg,
        longitude_deg=region.longitude_deg,
        radius_m=region.radius_m,
        made_utc=made_utc,
    )


def read_record(folder: Path) -> dict[str, Fetched]:
    """By what it is; empty where nothing was fetched, or the record can't be read."""
    try:
        rows = json.loads((folder / NAME).read_text(encoding="utf-8"))
        return {row["what"]: Fetched(**row) for row in rows}
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return {}


def keep(folder: Path, fetched: Fetched) -> None:
    """Put it in the place of what was there of its kind."""
    record = read_record(folder) | {fetched.what: fetched}
    new = folder / f"{NAME}.new"
    new.write_text(
        json.dumps([asdict(each) for each in record.values()], indent=1) + "\n", encoding="utf-8"
    )
    new.replace(folder / NAME)


def size_of(folder: Path, pattern: str) -> int:
    """Bytes of the files in a folder."""
    return sum(path.stat().st_size for path in folder.glob(pattern))
