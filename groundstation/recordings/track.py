"""A table with a header: ``time,lat,lon,alt_m`` and any further named columns."""

import re
from pathlib import Path
from typing import Final

from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.text import clean_name, number
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.errors import InputFileError
from groundstation.recordings.lines import content_lines, inherit_times
from groundstation.recordings.recording import Recording, RecordingKind, in_order

EXAMPLE: Final = "2026-05-16T08:30:00Z,47.1,20.3,85"
NEEDED: Final = ("time", "lat", "lon")
_SEPARATORS: Final = (",", ";", "\t")
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")


def read_track(path: Path, data: bytes) -> Recording:
    """Read the table; each row is a frame, received at its own time."""
    (line, head), *rows = content_lines(data)
    separator, columns = header(head)
    _check(path, line, columns)
    time_at = columns.index("time")
    first = _cell(rows[0][1], separator, time_at) if rows else ""
    time_format = TimeFormat.UNIX if number(first) is not None else TimeFormat.ISO
    timed = [(read_time(_cell(row, separator, time_at), time_format, 0.0), row) for _, row in rows]
    trackers = _distinct(rows, separator, columns, "tracker")
    payloads = _distinct(rows, separator, columns, "payload")
    stem = clean_name(path.stem) or "track"
    settings = DelimitedSettings(
        columns=tuple(name if _NAME.fullmatch(name) else "" for name in columns),
        separator=separator,
        time_format=time_format,
        tracker=stem,
    )
    return Recording(
        kind=RecordingKind.TRACK,
        frames=in_order(path.name, inherit_times(path, timed, EXAMPLE)),
        decoder=DelimitedDecoder(settings),
        trackers=trackers or payloads or (stem,),
        payload=payloads[0] if len(payloads) == 1 else "",
    )


def header(line: bytes) -> tuple[str, list[str]]:
    """Separator and column names of a header; names in small letters, without spaces around."""
    text = line.decode("utf-8", "replace")
    separator = max(_SEPARATORS, key=text.count)
    return separator, [name.strip().strip('"').lower() for name in text.split(separator)]


def _check(path: Path, line: int, columns: list[str]) -> None:
    missing = [name for name in NEEDED if name not in columns]
    if missing:
        raise InputFileError(
            f"{path}, line {line}: the header names no column {' and '.join(missing)};"
            " it should begin time,lat,lon,alt_m"
        )
    twice = sorted({name for name in columns if name and columns.count(name) > 1})
    if twice:
        raise InputFileError(
            f"{path}, line {line}: the header names {', '.join(twice)} twice; rename one of them"
        )


def _cell(row: bytes, separator: str, at: int) -> str:
    cells = row.split(separator.encode())
    return cells[at].decode("utf-8", "replace").strip() if at < len(cells) else ""


def _distinct(
    rows: list[tuple[int, bytes]], separator: str, columns: list[str], name: str
) -> tuple[str, ...]:
    if name not in columns:
        return ()
    at = columns.index(name)
    found = dict.fromkeys(clean_name(_cell(row, separator, at)) for _, row in rows)
    return tuple(filter(None, found))
