"""Feeds of positions that web services offer: KML (OGC 12-007r2), GPX 1.1, and GeoJSON (RFC 7946).

A feed tells a whole track again and again; every position in it is a report, and the gate knows
those it had.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from groundstation.decoders.geojson import Feature, features
from groundstation.decoders.named_values import LEAST_STEP_DEG
from groundstation.decoders.quantities import METRES_PER_DEGREE
from groundstation.decoders.refusals import beyond, too_long, unreadable
from groundstation.decoders.text import clean, clean_name, decimals, number
from groundstation.decoders.time_formats import TimeFormat, check_time_format, read_time
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

MAX_FEED_BYTES: Final = 4 << 20  # own choice: a day of one tracker is far below it
MOST_REPORTS: Final = 20_000  # own choice: a day of packets, one each 4 s
MOST_LINKS: Final = 8  # own choice, against links without end


class FeedForm(StrEnum):
    KML = "kml"
    GPX = "gpx"
    GEOJSON = "geojson"


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedSettings:
    """``tracker`` is whose positions they are; without it the name that each feature carries.

    For GeoJSON, ``time_property`` and ``name_property`` name what holds time and tracker. Of each
    feed only the ``newest`` positions are taken, by their times.
    """

    kind: Literal["feed"] = "feed"
    form: FeedForm
    tracker: str = ""
    time_property: str = "time"
    name_property: str = "name"
    time_format: str = TimeFormat.ISO
    newest: int = 100


@dataclass(frozen=True, slots=True)
class Place:
    """Texts as they stand in the feed."""

    name: str
    lat: str
    lon: str
    alt: str
    time: str


class FeedDecoder:
    """Reads one feed as a whole. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: FeedSettings) -> None:
        if settings.tracker and not clean_name(settings.tracker):
            raise ConfigurationError(f"tracker: {settings.tracker!r} is no name")
        if settings.newest < 1:
            raise ConfigurationError("newest must be at least 1")
        check_time_format(settings.time_format)
        self._settings = settings

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        refused = too_long(data, MAX_FEED_BYTES)
        if refused is not None:
            return (refused,)
        places = self._places(data)
        if isinstance(places, Unreadable):
            return (places,)
        reports = [self._report(place, received_utc) for place in places[:MOST_REPORTS]]
        if not reports:
            empty = Unreadable(reason=Reason.NO_POSITION, detail="The feed has no position in it.")
            return (empty,)
        return tuple(sorted(reports, key=_moment)[-self._settings.newest :])

    def _places(self, data: bytes) -> list[Place] | Unreadable:
        if self._settings.form is FeedForm.GEOJSON:
            return self._geojson(data)
        root = _xml(data)
        if isinstance(root, Unreadable):
            return root
        found = _kml(root) if self._settings.form is FeedForm.KML else _gpx(root)
        return list(found)

    def _geojson(self, data: bytes) -> list[Place] | Unreadable:
        try:
            found = features(data, numbers_as_text=True)
        except ValueError:
            return unreadable("The feed is not JSON.")
        if found is None:
            return unreadable("The feed has no GeoJSON features.")
        return [place for feature in found if feature for place in self._feature(feature)]

    def _feature(self, feature: Feature) -> Iterator[Place]:
        geometry = feature.geometry
        if geometry is None or geometry.get("type") != "Point":
            return
        position = geometry.get("coordinates")
        if not isinstance(position, list) or len(position) < 2:
            return
        texts = [text if isinstance(text, str) else "" for text in (*position, "")]
        yield Place(
            name=str(feature.properties.get(self._settings.name_property) or ""),
            lon=texts[0],
            lat=texts[1],
            alt=texts[2],
            time=str(feature.properties.get(self._settings.time_property) or ""),
        )

    def _report(self, place: Place, received_utc: float) -> Report | Unreadable:
        tracker = clean_name(self._settings.tracker or place.name)
        if not tracker:
            return unreadable("The position does not say whose it is; set tracker.")
        lat, lon = number(place.lat), number(place.lon)
        if lat is None or lon is None:
            return unreadable("The position is not two numbers.")
        nowhere = beyond(lat, lon)
        if nowhere is not None:
            return nowhere
        time_utc = read_time(place.time, self._settings.time_format, received_utc)
        places = max(decimals(place.lat), decimals(place.lon))
        return Report(
            tracker=tracker,
            latitude_deg=lat,
            longitude_deg=lon,
            altitude_m=number(place.alt),
            time_utc=time_utc,
            time_unread=clean(place.time[:40]) if time_utc is None else "",
            uncertainty_m=0.5 * max(10.0**-places, LEAST_STEP_DEG) * METRES_PER_DEGREE,
        )


def _moment(report: Report | Unreadable) -> float:
    """For the order; what has no time goes with the newest, where it is not lost."""
    time_utc = report.time_utc if isinstance(report, Report) else None
    return math.inf if time_utc is None else time_utc


def kml_document(data: bytes) -> tuple[str, list[Place]] | Unreadable:
    """What a document calls itself, or "", and its points and tracks, those without times too."""
    root = _xml(data)
    if isinstance(root, Unreadable):
        return root
    documents = (child for child in root if _plain(child) == "Document")
    names = (child for document in documents for child in document if _plain(child) == "name")
    return next(((name.text or "").strip() for name in names), ""), list(_kml(root))


def network_links(data: bytes) -> list[str]:
    """The addresses that a KML file sends its readers on to; none where it can't be read."""
    root = _xml(data)
    if isinstance(root, Unreadable):
        return []
    links = [
        (href.text or "").strip()
        for link in _all(root, "NetworkLink")
        for href in _all(link, "href")
    ]
    return [link for link in links if link][:MOST_LINKS]


def _xml(data: bytes) -> Element | Unreadable:
    try:
        root: Element = fromstring(data)
    except (ParseError, DefusedXmlException, ValueError, LookupError):
        return unreadable("The feed is not XML that may be read.")
    return root


def _plain(element: Element) -> str:
    """The element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _all(root: Element, name: str) -> Iterator[Element]:
    return (element for element in root.iter() if _plain(element) == name)


def _first_text(root: Element, name: str) -> str:
    return next(((element.text or "").strip() for element in _all(root, name)), "")


def _kml(root: Element) -> Iterator[Place]:
    """Points of placemarks with their time stamp, and the tracks of the ``gx`` extension."""
    for mark in _all(root, "Placemark"):
        name = _whose(mark)
        for point in _all(mark, "Point"):
            parts = _first_text(point, "coordinates").split(",")
            if len(parts) >= 2:
                height = parts[2].strip() if len(parts) > 2 else ""
                time = _first_text(mark, "when")
                yield Place(name, parts[1].strip(), parts[0].strip(), height, time)
        for track in _all(mark, "Track"):
            times = [(element.text or "").strip() for element in _all(track, "when")]
            coords = [(element.text or "").split() for element in _all(track, "coord")]
            for time, coord in zip(times, coords, strict=False):
                if len(coord) >= 2:
                    height = coord[2] if len(coord) > 2 else ""
                    yield Place(name, coord[1], coord[0], height, time)


def _whose(mark: Element) -> str:
    """The tracker where the extended data names one (OGC 12-007r2, 9.4), else the mark's name."""
    for data in _all(mark, "Data"):
        if data.get("name") == "tracker":
            return _first_text(data, "value")
    return next(((child.text or "").strip() for child in mark if _plain(child) == "name"), "")


def _gpx(root: Element) -> Iterator[Place]:
    for track in [child for child in root if _plain(child) in ("trk", "rte", "wpt")]:
        name = next(((child.text or "").strip() for child in track if _plain(child) == "name"), "")
        points = (
            [track]
            if _plain(track) == "wpt"
            else [point for point in track.iter() if _plain(point) in ("trkpt", "rtept")]
        )
        for point in points:
            yield Place(
                name,
                point.get("lat", ""),
                point.get("lon", ""),
                next(((tag.text or "").strip() for tag in point if _plain(tag) == "ele"), ""),
                next(((tag.text or "").strip() for tag in point if _plain(tag) == "time"), ""),
            )
