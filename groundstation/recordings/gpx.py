"""A GPX 1.1 track (Topografix): its points become rows of a table."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.text import clean_name
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.errors import InputFileError
from groundstation.recordings.lines import inherit_times
from groundstation.recordings.recording import Recording, RecordingKind, in_order

COLUMNS: Final = ("time", "lat", "lon", "alt_m")
EXAMPLE: Final = '<trkpt lat="47.1" lon="20.3"><ele>85</ele><time>2026-05-16T08:30:00Z</time>'


def read_gpx(path: Path, data: bytes) -> Recording:
    """Read all track points, as frames of the form ``time,lat,lon,alt_m``."""
    try:
        root = fromstring(data)
    except ParseError as error:
        line = error.position[0]
        raise InputFileError(
            f"{path}, line {line}: this is not well-formed XML ({error.msg}); export it again"
        ) from error
    except (DefusedXmlException, ValueError, LookupError) as error:
        raise InputFileError(
            f"{path}: this XML declares entities or an encoding that is not read; export it again"
        ) from error
    rows = [_row(point) for point in _named(root, "trkpt")]
    if not rows:
        raise InputFileError(f"{path}: there is no track point in it; export a track, not a route")
    timed = ((read_time(time, TimeFormat.ISO, 0.0), row) for time, row in rows)
    names = [clean_name(_text(track, "name")) for track in _named(root, "trk")]
    tracker = next(filter(None, names), "") or clean_name(path.stem) or "gpx"
    return Recording(
        kind=RecordingKind.GPX,
        frames=in_order(path.name, inherit_times(path, timed, EXAMPLE)),
        decoder=DelimitedDecoder(DelimitedSettings(columns=COLUMNS, tracker=tracker)),
        trackers=(tracker,),
    )


def _row(point: Element) -> tuple[str, bytes]:
    time = _text(point, "time")
    cells = (time, point.get("lat", ""), point.get("lon", ""), _text(point, "ele"))
    return time, ",".join("".join(cell.replace(",", " ").split()) for cell in cells).encode()


def _named(element: Element, name: str) -> Iterator[Element]:
    """All elements of this name below, whatever their namespace."""
    return (e for e in element.iter() if isinstance(e.tag, str) and e.tag.split("}")[-1] == name)


def _text(element: Element, name: str) -> str:
    """Text of the first child of this name, or ""."""
    for child in element:
        if isinstance(child.tag, str) and child.tag.split("}")[-1] == name:
            return (child.text or "").strip()
    return ""
