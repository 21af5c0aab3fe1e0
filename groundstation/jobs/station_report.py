"""The report that a running station makes of its newest flight."""

import logging
import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

from groundstation.config import StationSettings
from groundstation.debrief.flights import FlightLog, flights, newest
from groundstation.errors import InputFileError
from groundstation.jobs.debrief import ReportRequest, write_report
from groundstation.store.reader import Reader

log = logging.getLogger(__name__)

FOLDER: Final = "reports"
LESSONS: Final = "lessons.toml"


def write_newest(
    settings: StationSettings,
    database: Path,
    payload: str,
    keep_lesson: bool,
    say: Callable[[str], None],
) -> tuple[Path, str]:
    """Into the folder ``reports`` beside the database, its lesson into ``lessons.toml`` there;
    gives the file, and the lesson or "". Raises ``GroundstationError``."""
    flight = _newest(database, payload)
    folder = database.parent / FOLDER
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise InputFileError(f"{folder} can't be made: {error.strerror}") from error
    out = folder / f"{re.sub(r'[^A-Za-z0-9-]', '_', payload)}-{flight.launch_utc:.0f}.html"
    mine = next(setting for setting in settings.payload if setting.name == payload)
    lessons: list[str] = []
    request = ReportRequest(
        database=database,
        out=out,
        number=flight.number,
        plan=mine.flight,
        station=settings,
        lessons=database.parent / LESSONS if keep_lesson else None,
    )
    for line in write_report(request, say, lessons.append):
        log.info("%s", line)
    return out, "".join(lessons)


def _newest(database: Path, payload: str) -> FlightLog:
    with Reader(database) as reader:
        last = newest([flight for flight in flights(reader) if flight.payload == payload])
    if last is None:
        raise InputFileError("there is no flight of it yet, so there is nothing to report")
    return last
