"""A flight in forms that open elsewhere.

GPX 1.1 (Topografix, 2004), KML 2.3 (OGC 12-007r2), GeoJSON (RFC 7946) and CSV. Positions to 1e-6
degrees, heights to 0.1 m above mean sea level, times to the millisecond, in UTC.
"""

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final
from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

from groundstation.debrief.antimeridian import cut_line, cut_ring
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.touchdown import came_down
from groundstation.jsonout import JsonObject, degrees, iso_utc, metres, number
from groundstation.records import Fix, Height, Region

GPX: Final = "http://www.topografix.com/GPX/1/1"
KML: Final = "http://www.opengis.net/kml/2.2"
"""KML 2.3 keeps the namespace of 2.2 (OGC 12-007r2, 1.3)."""

MAKER: Final = "groundstation"


def gpx(flight: FlightLog) -> str:
    """A track, and the launch, burst and end as waypoints."""
    register_namespace("", GPX)
    root = Element(f"{{{GPX}}}gpx", version="1.1", creator=MAKER)
    for name, fix in _marks(flight):
        _gpx_point(SubElement(root, f"{{{GPX}}}wpt", _place(fix)), fix, name)
    track = SubElement(root, f"{{{GPX}}}trk")
    SubElement(track, f"{{{GPX}}}name").text = clean(flight.payload)
    segment = SubElement(track, f"{{{GPX}}}trkseg")
    for fix in flight.fixes:
        _gpx_point(SubElement(segment, f"{{{GPX}}}trkpt", _place(fix)), fix)
    return _xml(root)


def gpx_of_photos(taken: Sequence[tuple[str, float, float, float, float]]) -> str:
    """(name, time, latitude, longitude, height above mean sea level), each a waypoint."""
    register_namespace("", GPX)
    root = Element(f"{{{GPX}}}gpx", version="1.1", creator=MAKER)
    for name, at, lat, lon, height in taken:
        point = SubElement(root, f"{{{GPX}}}wpt", _gpx_place(lat, lon))
        SubElement(point, f"{{{GPX}}}ele").text = f"{height:.1f}"
        SubElement(point, f"{{{GPX}}}time").text = iso_utc(at)
        SubElement(point, f"{{{GPX}}}name").text = clean(name)
    return _xml(root)


def kml(flight: FlightLog) -> str:
    """A line at its heights, and each fix as a point with its time; launch, burst and end named."""
    register_namespace("", KML)
    root = Element(f"{{{KML}}}kml")
    document = SubElement(root, f"{{{KML}}}Document")
    SubElement(document, f"{{{KML}}}name").text = clean(flight.payload)
    line = SubElement(document, f"{{{KML}}}Placemark")
    SubElement(line, f"{{{KML}}}name").text = "track"
    string = SubElement(line, f"{{{KML}}}LineString")
    SubElement(string, f"{{{KML}}}altitudeMode").text = "absolute"
    SubElement(string, f"{{{KML}}}coordinates").text = " ".join(
        f"{fix.longitude_deg:.6f},{fix.latitude_deg:.6f},{fix.altitude_m or 0.0:.1f}"
        for fix in flight.fixes
    )
    named = {id(fix): name for name, fix in _marks(flight)}
    folder = SubElement(document, f"{{{KML}}}Folder")
    SubElement(folder, f"{{{KML}}}name").text = "fixes"
    for fix in flight.fixes:
        mark = SubElement(folder, f"{{{KML}}}Placemark")
        if id(fix) in named:
            SubElement(mark, f"{{{KML}}}name").text = named[id(fix)]
        stamp = SubElement(mark, f"{{{KML}}}TimeStamp")
        SubElement(stamp, f"{{{KML}}}when").text = iso_utc(fix.time_utc)
        if fix.tracker:
            landing = SubElement(mark, f"{{{KML}}}ExtendedData")
            data = SubElement(landing, f"{{{KML}}}Data", name="tracker")
            SubElement(data, f"{{{KML}}}value").text = clean(fix.tracker)
        point = SubElement(mark, f"{{{KML}}}Point")
        if fix.altitude_m is not None:
            SubElement(point, f"{{{KML}}}altitudeMode").text = "absolute"
        height = "" if fix.altitude_m is None else f",{fix.altitude_m:.1f}"
        SubElement(
            point, f"{{{KML}}}coordinates"
        ).text = f"{fix.longitude_deg:.6f},{fix.latitude_deg:.6f}{height}"
    return _xml(root)


def geojson(flight: FlightLog) -> str:
    """The track as a line, each fix as a point with what it told, heights without a place as
    features without a geometry (RFC 7946, 3.2), the last landing regions."""
    features: list[JsonObject] = [
        _feature(_line(flight.fixes), {"payload": flight.payload, "what": "track"})
        for _ in flight.fixes[1:2]  # one position is no line
    ]
    features += [
        _feature({"type": "Point", "coordinates": _position(fix)}, _facts(fix))
        for fix in flight.fixes
    ]
    features += [_feature(None, _height_facts(height)) for height in flight.heights]
    if flight.landings:
        last = flight.landings[-1]
        features += [
            _feature(_areas(region), {"what": f"landing {name} %"})
            for name, region in (("region 50", last.region_50), ("region 90", last.region_90))
        ]
    collection = {"type": "FeatureCollection", "features": features}
    return json.dumps(collection, ensure_ascii=False, allow_nan=False) + "\n"


def table(flight: FlightLog) -> str:
    """A row a fix and a height without a place, in the columns that the replay command reads
    back."""
    names = sorted({name for fix in flight.fixes for name, _ in fix.telemetry})
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    fixed = ("time", "lat", "lon", "alt_m", "tracker", "source", "speed_ms", "course_deg")
    writer.writerow((*fixed, *names))
    heard_all: list[Fix | Height] = [*flight.fixes, *flight.heights]
    for heard in sorted(heard_all, key=lambda heard: heard.time_utc):
        if isinstance(heard, Fix):
            writer.writerow(_row(heard, names))
        else:
            place, rest = ("", ""), ("",) * (2 + len(names))
            who = _plain(heard.tracker), _plain(heard.source)
            at = iso_utc(heard.time_utc)
            writer.writerow((at, *place, _blank(heard.altitude_m, 1), *who, *rest))
    return out.getvalue()


def _row(fix: Fix, names: Sequence[str]) -> tuple[str | None, ...]:
    measured = dict(fix.telemetry)
    return (
        iso_utc(fix.time_utc),
        f"{fix.latitude_deg:.6f}",
        f"{fix.longitude_deg:.6f}",
        _blank(fix.altitude_m, 1),
        _plain(fix.tracker),
        _plain(fix.source),
        _blank(fix.speed_ms, 2),
        _blank(fix.course_deg, 1),
        *(_blank(measured.get(name), 4) for name in names),
    )


def position_log(flight: FlightLog, every_s: float = 7_200.0) -> str:
    """For an authority: the position at least every two hours (14 CFR 101.39, SERA Appendix 2, 6),
    and at the launch, the burst and the end."""
    kept: list[tuple[str, Fix]] = list(_marks(flight))
    last = float("-inf")
    for fix in flight.fixes:
        if fix.time_utc - last >= every_s:
            kept.append(("position", fix))
            last = fix.time_utc
    kept.sort(key=lambda kept_fix: kept_fix[1].time_utc)
    down = came_down(flight)
    lines = [f"Position log of {clean(flight.payload)}, unmanned free balloon. Times are UTC."]
    lines += [
        f"{iso_utc(round(fix.time_utc))}  {fix.latitude_deg:9.5f} {fix.longitude_deg:10.5f}"
        f"  {'height unknown' if fix.altitude_m is None else f'{fix.altitude_m:7.0f} m'}  {what}"
        for what, fix in kept
    ]
    if down is not None:
        lines.append(f"Came down {down.words()}; {down.basis()}.")
    return "\n".join(lines) + "\n"


FORMS: Final[Mapping[str, Callable[[FlightLog], str]]] = {
    "gpx": gpx,
    "kml": kml,
    "geojson": geojson,
    "csv": table,
    "positions": position_log,
}


def clean(text: str) -> str:
    """Without what XML 1.0 can't hold (its section 2.2)."""
    return "".join(c for c in text if c >= " " and not "\ud800" <= c <= "\udfff" and c < "\ufffe")


def _marks(flight: FlightLog) -> Iterator[tuple[str, Fix]]:
    """The fixes nearest to launch and burst, and the last."""
    if not flight.fixes:
        return
    for name, at in (("launch", flight.launch_utc), ("burst", flight.burst_utc)):
        if at is not None:
            yield name, min(flight.fixes, key=lambda fix: abs(fix.time_utc - at))
    yield "last heard", flight.fixes[-1]


def _line(fixes: Sequence[Fix]) -> JsonObject:
    """Cut where it crosses the 180th meridian (RFC 7946, 3.1.9)."""
    rows = [(fix.longitude_deg, fix.latitude_deg, fix.altitude_m) for fix in fixes]
    lines = [
        [
            [degrees(lon), degrees(lat)] if height is None
            else [degrees(lon), degrees(lat), metres(height)]
            for lon, lat, height in line
        ]
        for line in cut_line(rows)
    ]  # fmt: skip
    if len(lines) == 1:
        return {"type": "LineString", "coordinates": lines[0]}
    return {"type": "MultiLineString", "coordinates": lines}


def _areas(region: Region) -> JsonObject:
    """Each ring of a landing region as a polygon, cut likewise."""
    polygons = [
        [[[degrees(lon), degrees(lat)] for lon, lat in part]]
        for ring in region
        for part in cut_ring([(lon, lat) for lat, lon in ring])
    ]
    if len(polygons) == 1:
        return {"type": "Polygon", "coordinates": polygons[0]}
    return {"type": "MultiPolygon", "coordinates": polygons}


def _place(fix: Fix) -> dict[str, str]:
    return _gpx_place(fix.latitude_deg, fix.longitude_deg)


def _gpx_place(lat: float, lon: float) -> dict[str, str]:
    """The schema has longitudes below 180 only."""
    east = f"{lon:.6f}"
    return {"lat": f"{lat:.6f}", "lon": "-180.000000" if east == "180.000000" else east}


def _gpx_point(point: Element, fix: Fix, name: str = "") -> None:
    """Elements in the order of the schema."""
    if fix.altitude_m is not None:
        SubElement(point, f"{{{GPX}}}ele").text = f"{fix.altitude_m:.1f}"
    SubElement(point, f"{{{GPX}}}time").text = iso_utc(fix.time_utc)
    if name:
        SubElement(point, f"{{{GPX}}}name").text = name
    if fix.satellites is not None and fix.satellites >= 0:
        SubElement(point, f"{{{GPX}}}sat").text = str(fix.satellites)


def _position(fix: Fix) -> list[float | None]:
    place = [degrees(fix.longitude_deg), degrees(fix.latitude_deg)]
    return place if fix.altitude_m is None else [*place, metres(fix.altitude_m)]


def _facts(fix: Fix) -> JsonObject:
    return {
        "time": iso_utc(fix.time_utc),
        "tracker": fix.tracker,
        "source": fix.source,
        **{name: number(value, 4) for name, value in fix.telemetry},
    }


def _height_facts(height: Height) -> JsonObject:
    return {
        "time": iso_utc(height.time_utc),
        "altitude_m": metres(height.altitude_m),
        "by_pressure": height.by_pressure,
        "tracker": height.tracker,
        "source": height.source,
        "what": "height without a place",
    }


def _feature(geometry: JsonObject | None, properties: JsonObject) -> JsonObject:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _blank(value: float | None, decimals: int) -> str:
    shown = number(value, decimals)
    return "" if shown is None else f"{shown:.{decimals}f}"


def _plain(text: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _xml(root: Element) -> str:
    indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"
