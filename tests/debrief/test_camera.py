"""What is where in the films of a recorded flight."""

import xml.etree.ElementTree as ET
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from groundstation.debrief.camera import (
    CameraFile,
    CameraSettings,
    FilmSettings,
    Photo,
    Shown,
    chapters,
    happened,
    photos,
    read_cameras,
    shown,
    sidecar,
)
from groundstation.debrief.exports import gpx_of_photos
from groundstation.debrief.figures import Track, track_of
from groundstation.debrief.flights import FlightLog
from groundstation.errors import ConfigurationError
from tests.support.flown import flight_log, track

FILMS = (
    FilmSettings(file="a.mp4", lasts_s=3_000.0),
    FilmSettings(file="b.mp4", lasts_s=4_000.0, gap_s=5.0),
)


def moment(utc: float) -> str:
    return datetime.fromtimestamp(utc, UTC).isoformat()


@pytest.fixture
def flown(shared: Path) -> tuple[FlightLog, Track]:
    flight = flight_log(track(shared, "f01").every(10))
    made = track_of(flight)
    assert made is not None
    return flight, made


def test_heights_are_passed_when_the_track_says(flown: tuple[FlightLog, Track]) -> None:
    """By hand: the track's own height at each time, up and down."""
    flight, made = flown
    events = happened(flight, made, ((1_200.0, 2_300.0),))
    assert [at for at, _ in events] == sorted(at for at, _ in events)
    words = [what for _, what in events]
    assert words[0] == "launch"
    assert words[-1].startswith("touchdown, about ")
    assert words.index("30 km, going up") < words.index("burst") < words.index("30 km, going down")
    for at, what in events:
        if "km" in what:
            wanted = 1_000.0 * float(what.split()[0])
            assert np.interp(at, made.time_s, made.altitude_m) == pytest.approx(wanted, abs=1.0)
    # Down through a cloud one comes in at its top.
    down = {what: at for at, what in events}
    assert down["into cloud, going up"] < down["out of cloud, going up"]
    assert down["into cloud, going down"] < down["out of cloud, going down"]


def test_one_thing_seen_lays_all_films_in_time(flown: tuple[FlightLog, Track]) -> None:
    flight, made = flown
    events = happened(flight, made)
    on = flight.launch_utc - 600.0
    by_switch = CameraSettings(name="down", switched_on=moment(on), film=FILMS)
    first = list(shown(CameraFile(camera=(by_switch,)), events))
    burst = next(one for one in first if one.what == "burst")
    assert flight.burst_utc is not None
    assert burst.film == "b.mp4"
    assert burst.at_s == pytest.approx(flight.burst_utc - on - 3_005.0, abs=0.01)
    assert (first[0].film, first[0].what) == ("a.mp4", "launch")
    assert first[0].at_s == pytest.approx(600.0, abs=0.01)
    by_burst = CameraSettings(
        name="down", seen="burst", seen_in="b.mp4", seen_at_s=burst.at_s, film=FILMS
    )
    second = list(shown(CameraFile(camera=(by_burst,)), events))
    assert [one.at_s for one in second] == pytest.approx([one.at_s for one in first])


def test_what_can_not_be_laid_in_time_is_told(flown: tuple[FlightLog, Track]) -> None:
    flight, made = flown
    events = happened(flight, made)
    for camera, words in (
        (CameraSettings(name="x", film=FILMS), "give switched_on, or seen"),
        (CameraSettings(name="x", film=FILMS, seen="burst", seen_in="c.mp4"), "no file of its"),
        (CameraSettings(name="x", film=FILMS, switched_on="noon"), "no time such as"),
    ):
        with pytest.raises(ConfigurationError, match=words):
            list(shown(CameraFile(camera=(camera,)), events))


def test_chapters_are_webvtt() -> None:
    """W3C WebVTT: header, blank line, hh:mm:ss.ttt --> hh:mm:ss.ttt, text. To whole seconds."""
    marks = [Shown("c", "a", 61.5, 0.0, "launch"), Shown("c", "a", 3_723.25, 0.0, "burst")]
    assert chapters(marks).splitlines() == [
        "WEBVTT", "", "00:01:02.000 --> 01:02:03.000", "launch", "",
        "01:02:03.000 --> 01:03:03.000", "burst",
    ]  # fmt: skip


def test_a_sidecar_holds_the_place() -> None:
    """XMP specification part 2: GPSCoordinate "DDD,MM.mmk", rational metres."""
    text = sidecar(Photo("side", Path("p.jpg"), 1_778_918_400.0, -47.9999999, 20.25, 1_234.56))
    body = text.split("\n", 1)[1].rsplit("\n<?", 1)[0]
    [about] = ET.fromstring(body).iter("{http://www.w3.org/1999/02/22-rdf-syntax-ns#}Description")
    exif = "{http://ns.adobe.com/exif/1.0/}"
    assert about.get(f"{exif}GPSLatitude") == "48,0.0000S"
    assert about.get(f"{exif}GPSLongitude") == "20,15.0000E"
    assert about.get(f"{exif}GPSAltitude") == "12346/10"
    assert about.get(f"{exif}DateTimeOriginal") == "2026-05-16T08:00:00Z"


def test_photos_are_where_the_track_was(flown: tuple[FlightLog, Track], tmp_path: Path) -> None:
    flight, made = flown
    for n in range(5):
        (tmp_path / f"p{n}.jpg").touch()
    camera = CameraSettings(
        name="side",
        photos=tmp_path,
        first_photo=moment(float(made.time_s[100])),
        photo_every_s=50.0,
    )
    taken = list(photos(CameraFile(camera=(camera,)), made))
    assert [one.path.name for one in taken] == [f"p{n}.jpg" for n in range(5)]
    for n, one in enumerate(taken):
        fix = flight.fixes[100 + 5 * n]
        assert one.altitude_m == pytest.approx(fix.altitude_m, abs=0.5)
        assert one.latitude_deg == pytest.approx(fix.latitude_deg, abs=1e-5)
    read = gpxpy.parse(gpx_of_photos([("a.jpg", 0.0, 47.1, 20.3, 99.0)]))
    assert read.waypoints[0].elevation == 99.0


def test_the_example_is_one() -> None:
    cameras = read_cameras(Path(__file__).parents[2] / "config" / "cameras.toml")
    assert [one.name for one in cameras.camera] == ["down", "side"]
    assert cameras.camera[0].film[0].lasts_s == 1_800.0
