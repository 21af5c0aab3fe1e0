"""KML, GeoJSON and frames as recordings; their forms are those of the standards' own examples."""

import json
from pathlib import Path

import pytest

from groundstation.errors import InputFileError
from groundstation.recordings.exported_frames import frame_lines
from groundstation.recordings.read_any import Recording, read_recording
from groundstation.recordings.recording import RecordingKind
from groundstation.records import Frame, Report

AT = 1_778_920_200.0
TRACK = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"
 xmlns:gx="http://www.google.com/kml/ext/2.2"><Document><Placemark><name>kanalas-1</name>
<gx:Track><when>2026-05-16T08:30:00Z</when><when>2026-05-16T08:30:10Z</when>
<gx:coord>20.3 47.1 85</gx:coord><gx:coord>20.4 47.2 130.5</gx:coord></gx:Track>
</Placemark></Document></kml>"""
LINE = {
    "type": "Feature",
    "properties": {
        "name": "kanalas-1",
        "coordTimes": ["2026-05-16T08:30:00Z", "2026-05-16T08:30:10Z"],
    },
    "geometry": {"type": "LineString", "coordinates": [[20.3, 47.1, 85], [20.4, 47.2, 130.5]]},
}
POINT = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"timestamp": time, "tracker": "kanalas-1", "battery_v": 4.1, "ok": True},
            "geometry": {"type": "Point", "coordinates": place},
        }
        for time, place in (
            ("2026-05-16T08:30:10Z", [20.4, 47.2, 130.5]),
            ("2026-05-16T08:30:00Z", [20.3, 47.1, 85]),
        )
    ],
}


def read(folder: Path, text: str) -> Recording:
    path = folder / "flight"
    path.write_text(text, encoding="utf-8")
    return read_recording(path)


@pytest.mark.parametrize("text", [TRACK, json.dumps(LINE), json.dumps(POINT, indent=1)])
def test_places_with_times_are_a_recording(tmp_path: Path, text: str) -> None:
    recording = read(tmp_path, text)
    found = [one for frame in recording.frames for one in recording.decode(frame)]
    assert all(isinstance(one, Report) for one in found)
    told = [
        (one.tracker, one.time_utc, one.latitude_deg, one.longitude_deg, one.altitude_m)
        for one in found
        if isinstance(one, Report)
    ]
    assert told == [
        ("kanalas-1", AT, 47.1, 20.3, 85.0),
        ("kanalas-1", AT + 10.0, 47.2, 20.4, 130.5),
    ]
    if "battery_v" in text:
        assert [one.telemetry for one in found if isinstance(one, Report)] == [
            (("battery_v", 4.1),)
        ] * 2


def test_names_that_come_once_are_no_trackers(tmp_path: Path) -> None:
    """Points named by their time belong to the document; names that come again are trackers."""

    def point(name: str, second: int) -> str:
        return (
            f"<Placemark><name>{name}</name><TimeStamp><when>2026-05-16T08:30:{second:02}Z</when>"
            f"</TimeStamp><Point><coordinates>20.3,47.1,{second}</coordinates></Point></Placemark>"
        )

    def trackers(points: str) -> list[str]:
        text = f"<kml><Document><name>kanalas-1</name>{points}</Document></kml>"
        recording = read(tmp_path, text)
        found = [one for frame in recording.frames for one in recording.decode(frame)]
        return [one.tracker for one in found if isinstance(one, Report)]

    assert trackers(point("08:30", 0) + point("08:31", 1)) == ["kanalas-1"] * 2
    two = point("red", 0) + point("blue", 1) + point("red", 2) + point("blue", 3)
    assert trackers(two) == ["red", "blue"] * 2


def test_what_a_tracker_tells_of_its_reception_is_no_frame(tmp_path: Path) -> None:
    line = '{"received":1.0,"source":"mast","time":"2026-05-16T08:30:00Z","lat":47.1,"lon":20.3}'
    assert read(tmp_path, line).kind is RecordingKind.JSON


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (TRACK.replace("when", "whom"), "no position in it has a time"),
        (TRACK[:200], "not XML"),
        (json.dumps(LINE | {"properties": None}), "no position in it has a time"),
        (json.dumps(LINE | {"geometry": {"type": "Point", "coordinates": 3}}), "no position"),
        ('{"type": "FeatureCollection", "features": 7}', "no position"),
        ('{"type": "FeatureCollection", "features": [', "not whole JSON"),
    ],
)
def test_what_cannot_be_played_says_why(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(InputFileError, match=says):
        read(tmp_path, text)


def test_frames_keep_every_byte(tmp_path: Path) -> None:
    frames = (
        Frame(source="mast", received_utc=AT + 0.123456, data=b"\xc0\x00\xff\n", receiver="R1"),
        Frame(source="net", received_utc=AT + 1.0, data="Q0HAB-11>APZ:é\n".encode()),
        Frame(source="net", received_utc=AT + 2.0, data=b""),
    )
    recording = read(tmp_path, "".join(frame_lines(frames)))
    assert recording.kind is RecordingKind.FRAMES
    assert recording.frames == frames


@pytest.mark.parametrize(
    "line", ['{"received":"x"}', '{"received":1e999,"source":"a","text":""}', "[]", "nothing",
             '{"received":1,"source":"a","base64":"*"}', '{"received":1,"source":"a"}'],
)  # fmt: skip
def test_a_line_that_is_no_frame_is_named(tmp_path: Path, line: str) -> None:
    good = '{"received":1.0,"source":"a","text":"b"}\n'
    with pytest.raises(InputFileError, match="line 2"):
        read(tmp_path, good + line + "\n")
