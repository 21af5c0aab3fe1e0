"""Read any recording of a flight: it is recognised by what is in it, not by its name."""

import re
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Final

from groundstation.decoders.decoder import Decoder
from groundstation.errors import InputFileError
from groundstation.recordings.database import read_database
from groundstation.recordings.exported_frames import is_frame, read_frames
from groundstation.recordings.gpx import read_gpx
from groundstation.recordings.jsonl import read_json_lines
from groundstation.recordings.kml_geojson import read_geojson, read_kml
from groundstation.recordings.lines import BYTE_ORDER_MARK, content_lines
from groundstation.recordings.nmea import read_nmea
from groundstation.recordings.packets import TIMED, read_packets
from groundstation.recordings.recording import Recording, RecordingKind
from groundstation.recordings.track import NEEDED, header, read_track

__all__ = ["Recording", "RecordingKind", "read_recording"]

SQLITE_MAGIC: Final = b"SQLite format 3\x00"
"""First bytes of every database file (SQLite file format, section 1.3)."""

_LOOKED_AT: Final = 50  # own choice: logs begin with other lines at times
_KNOWN: Final = (
    "a table that begins time,lat,lon,alt_m; raw packets as <unix time>TAB<packet>; an NMEA log;"
    " GPX; KML; GeoJSON; lines of JSON; frames as exported; or the station's own database"
)
_GEOJSON: Final = re.compile(rb'"type"\s*:\s*"(FeatureCollection|Feature)"')


def is_database(path: Path) -> bool:
    """Whether it is a station's database, or nothing that can be read: then its reader says so."""
    try:
        with path.open("rb") as file:
            return file.read(len(SQLITE_MAGIC)) == SQLITE_MAGIC
    except OSError:
        return True


def read_recording(path: Path, by_source: Mapping[str, Decoder] | None = None) -> Recording:
    """Read the recording at ``path``.

    ``by_source`` are the decoders of the station's sources, by name, for its own database and for
    frames as exported; without them those are read by what they look like. Raises
    ``InputFileError``, which names file and line and what to do.
    """
    try:
        with path.open("rb") as file:
            begin = file.read(len(SQLITE_MAGIC))
            if begin == SQLITE_MAGIC:
                return read_database(path, by_source or {})
            data = begin + file.read()
    except OSError as error:
        raise InputFileError(
            f"cannot read {path}: {error.strerror}; give the path of a recording"
        ) from error
    recording = _reader(path, data, by_source or {})(path, data)
    if not recording.frames:
        raise InputFileError(f"{path}: there is no fix in it; give another recording")
    return recording


def _reader(
    path: Path, data: bytes, by_source: Mapping[str, Decoder]
) -> Callable[[Path, bytes], Recording]:
    begin = data.removeprefix(BYTE_ORDER_MARK).lstrip()[:4096]
    if begin[:1] == b"<":
        return read_kml if re.search(rb"<([a-z]+:)?kml\b", begin) else read_gpx
    if begin[:1] == b"{" and _GEOJSON.search(data[: 1 << 16]):
        return read_geojson
    lines = content_lines(data[: 1 << 20])[:_LOOKED_AT]
    if not lines:
        raise InputFileError(f"{path} is empty; give another recording")
    if any(TIMED.fullmatch(line) for _, line in lines):
        return read_packets
    if any(line.startswith(b"$") and b"," in line for _, line in lines):
        return read_nmea
    number, first = lines[0]
    if is_frame(first):
        return partial(read_frames, by_source=by_source)
    if first.startswith(b"{"):
        return read_json_lines
    if len(set(NEEDED) & set(header(first)[1])) >= 2:
        return read_track
    raise InputFileError(
        f"{path}, line {number}: this does not begin like a recording; known are {_KNOWN}"
    )
