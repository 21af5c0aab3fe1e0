"""Exports of a recorded flight, read by reference libraries."""

import csv
import io
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import Any

import gpxpy
import pytest

from groundstation.debrief import exports
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.report import report_html
from groundstation.flight.settings import PlannedLanding, PlanSettings
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
