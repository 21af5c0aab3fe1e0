"""The logbook, the exports and the report of a real flight, against reference programs."""

import asyncio
import csv
import json
import math
import sqlite3
from collections.abc import AsyncIterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import pytest_asyncio
from fluids.atmosphere import ATMOSPHERE_1976
from geographiclib.geodesic import Geodesic
from lxml import etree
from playwright.async_api import async_playwright

from groundstation.debrief import exports
from groundstation.debrief.figures import descent_pieces, errors, figures, track_of, winds
from groundstation.debrief.flights import FlightLog, flights
from groundstation.debrief.report import report_html
from groundstation.errors import InputFileError, StoreError
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, PlanSettings, TrackerSettings
from groundstation.jobs.debrief import (
    ReportRequest,
    logbook_lines,
    remove,
    write_export,
    write_report,
)
from groundstation.recordings.read_any import read_recording
from groundstation.records import Phase, Report, Verdict
from groundstation.search.found import Condition, Found
from groundstation.store.connection import only_writer
from groundstation.store.reader import Reader
from tests.support.browser import CHROMIUM, FLAGS
from tests.support.live_station import LiveStation
from tests.support.typed import typed

pytestmark = [pytest.mark.live, pytest.mark.slow, pytest.mark.asyncio(loop_scope="module")]


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def database(shared: Path, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Path]:
    """f19 of the real flights, through the station."""
    path = shared / "flights" / "packets" / "f19.txt"
    recording = read_recording(path)
    tracker = next(
        report.tracker
        for frame in recording.frames
        for report in recording.decoder.decode(frame.data, frame.received_utc)
        if isinstance(report, Report)
    )
    station = LiveStation(
        tmp_path_factory.mktemp("debrief"),
        f'[[payload]]\nname = "flight"\n[[payload.tracker]]\nid = "{tracker}"\n[[source]]\n'
        f'name = "recorded"\nkind = "recording"\npath = "{path}"\n',
        500.0,
    )
    await station.start(recording.frames[0].received_utc - 60.0)
    await station.until(
        lambda told: (
            told["sources"][0]["state"] == "ended" and told["payloads"][0]["phase"] == "landed"
        )
    )
    await station.stop()
    yield station.database


@pytest.fixture
def flight(database: Path) -> FlightLog:
    with Reader(database) as reader:
        [one] = flights(reader)
    return one


async def test_the_logbook_has_it(database: Path) -> None:
    [line] = logbook_lines(database, None)
    assert "31.4 km" in line
    assert "heard on the ground" in line
    assert list(logbook_lines(database, "other")) == ["There is no flight in it."]


async def test_figures_agree_with_the_recorded_track(flight: FlightLog, shared: Path) -> None:
    """The same balloon's own track file, by plain arithmetic."""
    with (shared / "flights" / "tracks" / "f19.csv").open() as file:
        rows = list(csv.DictReader(file))
    highest = max(float(row["alt_m"]) for row in rows)
    known = figures(flight)
    assert known.highest_m == pytest.approx(highest, abs=5.0)
    there = Geodesic.WGS84.Inverse(
        flight.fixes[0].latitude_deg, flight.fixes[0].longitude_deg,
        flight.fixes[-1].latitude_deg, flight.fixes[-1].longitude_deg,
    )  # fmt: skip
    assert known.distance_m == pytest.approx(there["s12"], rel=1e-6)
    assert known.touchdown_ms is not None
    assert 3.0 < known.touchdown_ms < 11.0
    # By hand from the track file: how long the fall took from 10 km to 1 km, over the path of
    # sqrt(rho / rho0) between them (7,804.0 - 976.2 m, an independent integral).
    fell = [(float(row["alt_m"]), row["time"]) for row in rows]
    top = max(range(len(fell)), key=lambda n: fell[n][0])
    down = [(height, np.datetime64(at.rstrip("Z"))) for height, at in fell[top:]]
    first = next(at for height, at in down if height <= 10_000.0)
    last = next(at for height, at in down if height <= 1_300.0)
    seconds = float((last - first) / np.timedelta64(1, "s"))
    assert known.descent_rate_ms == pytest.approx((7_804.0 - 1_260.0) / seconds, rel=0.15)


async def test_falls_are_reduced_by_the_standard_atmosphere(flight: FlightLog) -> None:
    """rate sqrt(rho / rho0) in the middle of each piece, by fluids (US Standard Atmosphere 1976);
    the pieces are short enough for the middle to stand for the whole to a few per cent."""
    track = track_of(flight)
    assert track is not None
    fall = descent_pieces(track)
    assert fall is not None
    low = fall.altitude_m < 15_000.0
    assert low.sum() >= 8
    for height, rate, reduced in zip(
        fall.altitude_m[low], fall.rate_ms[low], fall.reduced_ms[low], strict=True
    ):
        thin = math.sqrt(ATMOSPHERE_1976(float(height)).rho / 1.225)
        assert reduced == pytest.approx(rate * thin, rel=0.03)


async def test_winds_are_drift_over_time(flight: FlightLog) -> None:
    """Each point of the profile against the drift by hand, from the fixes around its height."""
    track = track_of(flight)
    assert track is not None
    for up, part in ((True, slice(0, track.top + 1)), (False, slice(track.top, None))):
        t, x, y, z = (one[part] for one in (track.time_s, track.x_m, track.y_m, track.altitude_m))
        found = list(winds(track, up=up))
        assert len(found) >= 12
        off = []
        for height, east, north in found:
            near = np.sort(np.argsort(np.abs(z - height))[:4])
            a, b = near[0], near[-1]
            lasted = t[b] - t[a]
            off.append(math.hypot(east - (x[b] - x[a]) / lasted, north - (y[b] - y[a]) / lasted))
        assert np.median(off) < 2.0
        assert max(off) < 10.0


async def test_errors_are_distances_to_where_it_ended(flight: FlightLog) -> None:
    off = list(errors(flight))
    # How many there are is up to the machine: a busy one makes fewer estimates.
    assert len(off) == sum(one.phase is not Phase.LANDED for one in flight.landings) > 5
    last = flight.fixes[-1]
    for one, landing in zip(off[:5], flight.landings[:5], strict=True):
        there = Geodesic.WGS84.Inverse(
            landing.latitude_deg, landing.longitude_deg, last.latitude_deg, last.longitude_deg
        )
        assert one.off_m == pytest.approx(there["s12"], rel=2e-3)
    found = Found(
        payload="flight", time_utc=0.0, told_utc=0.0, latitude_deg=flight.landings[0].latitude_deg,
        longitude_deg=flight.landings[0].longitude_deg, condition=Condition.WHOLE,
    )  # fmt: skip
    assert next(iter(errors(replace(flight, found=found)))).off_m == pytest.approx(0.0, abs=0.01)
    high = tuple(one for one in flight.fixes if (one.altitude_m or 0.0) > 3_000.0)
    unknown = replace(flight, fixes=high, landed_utc=None)
    assert list(errors(unknown)) == []


async def test_kml_keeps_to_the_published_schema(flight: FlightLog) -> None:
    """OGC's own XSD of KML, as fastkml (LGPL) carries it."""
    import fastkml  # noqa: PLC0415

    folder = Path(fastkml.__file__).parent / "schema"
    [schema] = [one for one in folder.glob("*.xsd") if one.name.startswith("ogckml")]
    validator = etree.XMLSchema(etree.parse(str(schema)))
    document = etree.fromstring(exports.kml(flight).encode())
    assert validator.validate(document), validator.error_log
    line = document.findtext(".//{*}LineString/{*}coordinates")
    assert line is not None
    lon, lat, height = (float(one) for one in line.split()[-1].split(","))
    last = flight.fixes[-1]
    assert (lat, lon) == (round(last.latitude_deg, 6), round(last.longitude_deg, 6))
    assert height == pytest.approx(last.altitude_m or 0.0, abs=0.05)


async def test_geojson_has_longitude_first_and_closed_rings(flight: FlightLog) -> None:
    """RFC 7946, 3.1.1 and 3.1.6."""
    told = json.loads(exports.geojson(flight))
    line, *points = told["features"]
    assert line["geometry"]["coordinates"][0][0] == round(flight.fixes[0].longitude_deg, 6)
    assert sum(one["geometry"]["type"] == "Point" for one in points) == len(flight.fixes)
    for one in points:
        if one["geometry"]["type"] == "Polygon":
            for ring in one["geometry"]["coordinates"]:
                assert ring[0] == ring[-1]


async def test_forms_go_round(flight: FlightLog, tmp_path: Path) -> None:
    """Read again by the replay's own readers: the same places, to the stated digits."""
    for form in ("csv", "gpx", "kml", "geojson"):
        path = tmp_path / f"flight.{form}"
        path.write_text(exports.FORMS[form](flight))
        recording = read_recording(path)
        back = [
            report
            for frame in recording.frames
            for report in recording.decoder.decode(frame.data, frame.received_utc)
            if isinstance(report, Report)
        ]
        assert len(back) == len(flight.fixes)
        for mine, fix in zip(back, flight.fixes, strict=True):
            assert mine.latitude_deg == round(fix.latitude_deg, 6)
            assert mine.longitude_deg == round(fix.longitude_deg, 6)
            assert mine.altitude_m == pytest.approx(fix.altitude_m, abs=0.051)
            assert mine.time_utc == pytest.approx(fix.time_utc, abs=1e-3)


async def test_frames_go_round(flight: FlightLog, database: Path, tmp_path: Path) -> None:
    """All that was heard in the flight, byte by byte, and a replay of it gives the same fixes."""
    out = tmp_path / "flight.jsonl"
    assert "frames, written to" in write_export(database, None, "frames", out)
    recording = read_recording(out)
    with Reader(database) as reader:
        first, last = flight.fixes[0].received_utc, flight.fixes[-1].received_utc
        heard = [one for _, one in reader.frames(first) if one.received_utc <= last]
    assert recording.frames == tuple(heard)
    tracker = flight.fixes[0].tracker
    settings = FlightSettings(payload="flight", trackers=(TrackerSettings(id=tracker),))
    again = Flights([settings])
    fixes = []
    for n, frame in enumerate(recording.frames):
        for report in recording.decode(frame):
            if isinstance(report, Report):
                event = Observed(
                    report_id=n, source=frame.source, received_utc=frame.received_utc, report=report
                )
                fixes += [one for one in again.observed(event) if isinstance(one, Verdict)]
    places = [(one.fix.latitude_deg, one.fix.time_utc) for one in fixes if one.fix is not None]
    assert sorted(places) == sorted((one.latitude_deg, one.time_utc) for one in flight.fixes)


async def test_the_position_log_leaves_no_two_hours_out(flight: FlightLog) -> None:
    """14 CFR 101.39(a)(1) and SERA Appendix 2, 6: at least every two hours."""
    _, *lines, down = exports.position_log(flight).splitlines()
    assert down.startswith("Came down about ")
    times = [np.datetime64(line.split("Z")[0]) for line in lines]
    assert max(np.diff(times)) <= np.timedelta64(2 * 3600 + 600, "s")
    assert "burst" in exports.position_log(flight)


async def test_the_report_stands_alone_and_is_small(
    database: Path, flight: FlightLog, tmp_path: Path
) -> None:
    out = tmp_path / "report.html"
    assert "flight 1" in "".join(write_report(ReportRequest(database=database, out=out)))
    assert out.stat().st_size < 3_000_000
    plan = PlanSettings(descent_rate_ms=6.0)
    out.write_text(report_html(flight, plan))
    asked: list[str] = []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = await browser.new_page(viewport={"width": 360, "height": 740})
        page.on("request", lambda request: asked.append(request.url))
        page.on("pageerror", lambda error: asked.append(str(error)))
        await page.goto(out.as_uri())
        assert await page.locator("figure").count() >= 7
        assert await page.evaluate("document.documentElement.scrollWidth") == 360
        text = await page.locator("body").inner_text()
        await browser.close()
    assert asked == [out.as_uri()]
    for word in ("31,365 m", "Beside the plan", "Hodograph", "recorded", "burst at 31.4 km"):
        assert word in text


async def test_a_flight_that_is_not_there_is_told(database: Path, tmp_path: Path) -> None:
    with pytest.raises(InputFileError, match="holds 1 flights"):
        write_export(database, 7, "gpx", tmp_path / "x")


async def test_the_commands_as_they_are_typed(
    database: Path, flight: FlightLog, tmp_path: Path
) -> None:
    on = datetime.fromtimestamp(flight.launch_utc - 60.0, UTC).isoformat()
    (tmp_path / "cameras.toml").write_text(
        f'[[camera]]\nname = "down"\nswitched_on = "{on}"\n'
        '[[camera.film]]\nfile = "flight.mp4"\nlasts_s = "5 h"\n'
        f'[[camera]]\nname = "side"\nswitched_on = "{on}"\n'
        '[[camera.film]]\nfile = "flight.mp4"\nlasts_s = "10 min"\n'
    )
    rows = "".join(f"{fix.time_utc - 500.0},{fix.altitude_m}\n" for fix in flight.fixes)
    (tmp_path / "log.csv").write_text(f"clock,height\n{rows}")
    (tmp_path / "columns.toml").write_text(
        'time_format = "seconds"\n[columns]\ntime = "clock"\naltitude_m = "height"\n'
    )
    own = ("--log", tmp_path / "log.csv", "--columns", tmp_path / "columns.toml")
    for words in (
        ("films", database, "--cameras", tmp_path / "cameras.toml", "--out", tmp_path / "films"),
        ("debrief", database, *own, "--out", tmp_path / "own.html"),
        ("logbook", database, "--compare"),
        ("logbook", database),
        ("debrief", database, "--out", tmp_path / "report.html"),
        ("export", database, "--form", "gpx", "--out", tmp_path / "flight.gpx"),
    ):
        done = await asyncio.to_thread(typed, *words)
        assert done.returncode == 0, done.stderr
        assert "flight" in done.stdout + done.stderr
    assert (tmp_path / "report.html").stat().st_size > 10_000
    assert "8 min 20 s behind" in (tmp_path / "own.html").read_text()
    # Two cameras call their films alike.
    assert "burst" in (tmp_path / "films" / "down-flight.mp4.vtt").read_text()
    assert "burst" not in (tmp_path / "films" / "side-flight.mp4.vtt").read_text()


async def test_flights_are_compared_and_found_by_their_words(database: Path) -> None:
    head, line = logbook_lines(database, None, compared=True)
    names, units = head.split("\n")
    assert len(names) == len(units)
    with Reader(database) as reader:
        [one] = flights(reader)
    known = figures(one)
    assert f"{known.ascent_rate_ms:9.1f}     31.4" in line
    assert len(list(logbook_lines(database, None, "On The GROUND"))) == 1
    assert list(logbook_lines(database, None, "lake")) == ["There is no such flight in it."]


async def test_a_flight_is_removed_whole_and_nothing_else(database: Path, tmp_path: Path) -> None:
    """A copy of the database, with another payload's fix put beside it."""
    copy = tmp_path / "station.db"
    with (
        closing(sqlite3.connect(database)) as source,
        closing(sqlite3.connect(copy)) as target,
        target,
    ):
        source.backup(target)
        (first,) = target.execute("SELECT min(report_id) FROM fix").fetchone()
        columns = [row[1] for row in target.execute("PRAGMA table_info(fix)")]
        others = ["'other'" if one == "payload" else one for one in columns]
        others[columns.index("report_id")] = "?"
        (unused,) = target.execute(
            "SELECT max(id) FROM report WHERE tracker = (SELECT max(tracker) FROM fix)"
            " AND id NOT IN (SELECT report_id FROM fix)"
        ).fetchone()
        target.execute(
            f"INSERT INTO fix SELECT {', '.join(others)} FROM fix WHERE report_id = ?",
            (unused, first),
        )
    with only_writer(copy), pytest.raises(StoreError, match="in use by another running station"):
        remove(copy, 1)
    assert "is removed" in remove(copy, 1)
    assert list(logbook_lines(copy, None)) == ["There is no flight in it."]
    with closing(sqlite3.connect(copy)) as left:
        for table in ("phase", "landing", "alert", "delivery"):
            assert left.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table
        assert left.execute("SELECT payload FROM fix").fetchall() == [("other",)]
        # Of this tracker only what the other payload rests on is left.
        assert left.execute(
            "SELECT count(*) FROM report WHERE tracker = (SELECT tracker FROM fix)"
        ).fetchone() == (1,)
        assert left.execute("PRAGMA foreign_key_check").fetchall() == []
        assert left.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with Reader(database) as reader:
        assert len(list(flights(reader))) == 1
