"""Feeds, against the examples of their standards and against noise."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.feeds import FeedDecoder, FeedForm, FeedSettings, network_links
from groundstation.records import Reason, Report, Unreadable

# Shaped as in OGC KML 2.2 (07-147r2), 9.3 Placemark, 10.1 Point, 13.4 TimeStamp; gx:Track as in
# the common extension of it. Positions are invented.
KML = b"""<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="urn:x-example:gx">
<Document>
<Placemark><name>Q0HAB-13</name><TimeStamp><when>2026-05-16T09:00:00Z</when></TimeStamp>
<Point><coordinates>20.30010,47.10020,1234.5</coordinates></Point></Placemark>
<Placemark><name>Q0HAB-14</name><gx:Track>
<when>2026-05-16T09:01:00Z</when><when>2026-05-16T09:02:00Z</when>
<gx:coord>20.31 47.11 2000</gx:coord><gx:coord>20.32 47.12 2300</gx:coord></gx:Track></Placemark>
<Placemark><name>a line</name><LineString><coordinates>20,47 21,47</coordinates></LineString>
</Placemark></Document></kml>"""

LINKS = b"""<kml xmlns="http://www.opengis.net/kml/2.2"><NetworkLink><name>x</name>
<Link><href>positions.kml?of=13</href></Link></NetworkLink></kml>"""

# As in the GPX 1.1 schema (Topografix).
GPX = b"""<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Q0HAB-13</name>
<trkseg><trkpt lat="47.1002" lon="20.3001"><ele>1234.5</ele><time>2026-05-16T09:00:00Z</time>
</trkpt></trkseg></trk><wpt lat="47.2" lon="20.4"><name>Q0HAB-14</name></wpt></gpx>"""

# RFC 7946, section 3: longitude first.
GEOJSON = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [20.3001, 47.1002, 1234.5]},
            "properties": {"name": "Q0HAB-13", "time": "2026-05-16T09:00:00Z"},
        },
        {"type": "Feature", "geometry": {"type": "LineString", "coordinates": []}},
        {"type": "Feature", "geometry": None, "properties": None},
    ],
}
BOMB = b'<!DOCTYPE a [<!ENTITY b "x"><!ENTITY c "&b;&b;">]><kml>&c;</kml>'


def reports(form: FeedForm, data: bytes, **more: object) -> list[Report]:
    settings = FeedSettings(form=form, **more)  # type: ignore[arg-type]
    found = FeedDecoder(settings).decode(data, 1_778_922_100.0)
    return [one for one in found if isinstance(one, Report)]


@pytest.mark.parametrize(
    ("form", "data"),
    [
        (FeedForm.KML, KML),
        (FeedForm.GPX, GPX),
        (FeedForm.GEOJSON, json.dumps(GEOJSON).encode()),
    ],
)
def test_a_position_is_read(form: FeedForm, data: bytes) -> None:
    first = next(one for one in reports(form, data) if one.tracker == "Q0HAB-13")
    assert (first.latitude_deg, first.longitude_deg) == (47.1002, 20.3001)
    assert first.altitude_m == 1234.5
    assert first.time_utc == 1_778_922_000.0
    assert 0.0 < first.uncertainty_m < 10.0


def test_tracks_and_names() -> None:
    found = reports(FeedForm.KML, KML)
    assert [one.tracker for one in found] == ["Q0HAB-13", "Q0HAB-14", "Q0HAB-14"]
    assert [one.altitude_m for one in found] == [1234.5, 2000.0, 2300.0]
    assert {one.tracker for one in reports(FeedForm.KML, KML, tracker="kanalas")} == {"kanalas"}
    assert [one.time_utc for one in reports(FeedForm.KML, KML, newest=1)] == [1_778_922_120.0]


def test_network_links() -> None:
    assert network_links(LINKS) == ["positions.kml?of=13"]
    assert network_links(KML) == []
    assert network_links(b"\x00") == []


@pytest.mark.parametrize("form", list(FeedForm))
@pytest.mark.parametrize(
    "data", [b"", b"<", BOMB, b"[]", b"{}", b"\xff\xfe", b"<kml/>", b"[" * 9_000]
)
def test_what_is_no_feed_is_said(form: FeedForm, data: bytes) -> None:
    (found,) = FeedDecoder(FeedSettings(form=form)).decode(data, 0.0)
    assert isinstance(found, Unreadable)
    assert found.detail.endswith(".")
    assert found.reason in (Reason.UNREADABLE, Reason.NO_POSITION)


@given(st.sampled_from(list(FeedForm)), st.binary(max_size=300), st.integers(0, 600))
def test_any_bytes_give_records(form: FeedForm, noise: bytes, at: int) -> None:
    whole = {
        FeedForm.KML: KML,
        FeedForm.GPX: GPX,
        FeedForm.GEOJSON: json.dumps(GEOJSON).encode(),
    }[form]
    decoder = FeedDecoder(FeedSettings(form=form))
    for data in (noise, whole[:at], whole[:at] + noise + whole[at:]):
        assert len(decoder.decode(data, 1.7e9)) >= 1
