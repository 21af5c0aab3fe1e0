"""Places of a KML or GeoJSON file as a recording: each becomes an object with time and place."""

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from groundstation.decoders.feeds import Place, kml_document
from groundstation.decoders.geojson import Feature, features
from groundstation.decoders.text import clean_name, number
from groundstation.errors import InputFileError
from groundstation.recordings.jsonl import read_json_lines
from groundstation.recordings.recording import Recording
from groundstation.records import Unreadable

TIMES: Final = ("time", "timestamp", "datetime", "date", "when")
"""Properties that hold a point's time; the first that is there counts."""

LINE_TIMES: Final = "coordTimes"
"""The property of a line that holds a time for each of its positions; common practice, no
source."""


def read_kml(path: Path, data: bytes) -> Recording:
    """Read the points that have a time, and tracks. Raises ``InputFileError``."""
    document = kml_document(data)
    if isinstance(document, Unreadable):
        raise InputFileError(f"{path}: {document.detail} Export it again")
    name, places = document
    # Points are often named one by one, by their time or what they mark; a tracker comes again.
    # Among points without a name, those that are marked belong to the same tracker.
    timed = [place for place in places if place.time]
    often = Counter(place.name for place in timed)
    common = "" if often[""] else name
    return _recording(
        path,
        ((place if often[place.name] > 1 else replace(place, name=common), {}) for place in timed),
    )


def read_geojson(path: Path, data: bytes) -> Recording:
    """Read the points that have a time, and lines with times. Raises ``InputFileError``."""
    try:
        found = features(data) or ()
    except ValueError as error:
        raise InputFileError(f"{path} is not whole JSON: {error}; export it again") from error
    places = (place for feature in found if feature for place in _of_feature(feature))
    return _recording(path, places)


def _recording(path: Path, places: Iterable[tuple[Place, dict[str, Any]]]) -> Recording:
    """Of places, each with what else is told there."""
    rows = []
    for place, more in places:
        tracker = clean_name(place.name)
        row: dict[str, Any] = {"time": place.time, "lat": place.lat, "lon": place.lon}
        row |= {"alt_m": place.alt} if place.alt else {}
        row |= {"tracker": tracker} if tracker else {}
        if place.time:
            rows.append(json.dumps(row | more).encode())
    if not rows:
        raise InputFileError(
            f"{path}: no position in it has a time, so it can't be played; export points with"
            " times, or GPX"
        )
    return read_json_lines(path, b"\n".join(rows))


def _of_feature(feature: Feature) -> Iterator[tuple[Place, dict[str, Any]]]:
    geometry, properties = feature.geometry, feature.properties
    if geometry is None:
        return
    coordinates = geometry.get("coordinates")
    if not isinstance(coordinates, list):
        return
    match geometry.get("type"):
        case "Point":
            time = next((properties[name] for name in TIMES if properties.get(name)), "")
            rows = [(time, coordinates)]
        case "LineString" if isinstance(properties.get(LINE_TIMES), list):
            rows = list(zip(properties[LINE_TIMES], coordinates, strict=False))
        case _:
            return
    name = str(properties.get("tracker") or properties.get("name") or "")
    properties = {
        key: value
        for key, value in properties.items()
        if isinstance(value, int | float) and not isinstance(value, bool) and key not in TIMES
    }
    for time, position in rows:
        if not isinstance(position, list) or len(position) < 2:
            continue
        lon, lat, alt = (*map(_text, position[:3]), "")[:3]
        yield Place(name=name, lat=lat, lon=lon, alt=alt, time=str(time)), properties


def _text(value: object) -> str:
    return "" if value is None or number(str(value)) is None else str(value)
