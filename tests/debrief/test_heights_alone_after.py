"""A flight whose place was lost aloft: the heights that went on stand in its report and exports."""

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from groundstation.debrief import exports
from groundstation.debrief.figures import descent_pieces, figures, track_of, winds
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.track_drawings import drawn
from groundstation.flight.events import HeightHeard
from groundstation.flight.heights import height_told
from groundstation.planning.readable_figures import METRIC
from groundstation.recordings.read_any import read_recording
from groundstation.records import Height, HeightReport, Reason, Report, Verdict
from groundstation.store.batch import Batch
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.flown import flight_log, track
from tests.support.store_samples import PAYLOAD, START_UTC, fix, frame, report

LOST_M = 12_000.0


@pytest.fixture(scope="module")
def whole(shared: Path) -> FlightLog:
    return flight_log(track(shared, "f19"))


@pytest.fixture(scope="module")
def lost(whole: FlightLog) -> FlightLog:
    """From 12 km of the climb to 4 km of the fall only heights came."""
    assert whole.burst_utc is not None
    up = next(n for n, one in enumerate(whole.fixes) if (one.altitude_m or 0.0) > LOST_M)
    down = next(
        n for n, one in enumerate(whole.fixes)
        if one.time_utc > whole.burst_utc and (one.altitude_m or 0.0) < 4_000.0
    )  # fmt: skip
    heights = tuple(
        Height(payload=one.payload, tracker=one.tracker, source=one.source, time_utc=one.time_utc,
               received_utc=one.received_utc, altitude_m=one.altitude_m or 0.0)
        for one in whole.fixes[up:down]
    )  # fmt: skip
    return replace(whole, fixes=whole.fixes[:up] + whole.fixes[down:], heights=heights)


def test_its_rates_and_its_top_are_those_of_all_heights(whole: FlightLog, lost: FlightLog) -> None:
    all_of_it, heard_so = figures(whole), figures(lost)
    assert heard_so.highest_m == all_of_it.highest_m
    assert heard_so.descent_rate_ms == pytest.approx(all_of_it.descent_rate_ms)
    assert heard_so.ascent_rate_ms == pytest.approx(all_of_it.ascent_rate_ms)
    blind = figures(replace(lost, heights=()))
    assert blind.highest_m is not None
    assert blind.highest_m < LOST_M + 1_000.0


def test_no_wind_is_made_of_places_that_nobody_knew(whole: FlightLog, lost: FlightLog) -> None:
    known, blind = track_of(whole), track_of(lost)
    assert known is not None
    assert blind is not None
    assert max(z for z, _, _ in winds(known, up=True)) > 2 * LOST_M
    assert max(z for z, _, _ in winds(blind, up=True)) < LOST_M
    assert all(z < 4_000.0 for z, _, _ in winds(blind, up=False))
    falls = descent_pieces(blind)
    assert falls is not None
    assert falls.altitude_m.max() > LOST_M


def test_they_are_drawn_and_said_to_be_without_a_place(lost: FlightLog) -> None:
    blind = track_of(lost)
    assert blind is not None
    where, heights = drawn(lost, blind, None, METRIC).flight
    assert "dots: heights without a place" in heights
    assert heights.count("<circle") == len(lost.heights)
    assert "highest" not in where


def test_what_is_exported_is_read_back(lost: FlightLog, tmp_path: Path) -> None:
    table = exports.table(lost)
    rows = list(csv.DictReader(io.StringIO(table)))
    assert sum(not row["lat"] for row in rows) == len(lost.heights)
    path = tmp_path / "flight.csv"
    path.write_text(table, encoding="utf-8")
    recording = read_recording(path)
    read = [one for frame in recording.frames for one in recording.decode(frame)]
    alone = [one for one in read if isinstance(one, HeightReport)]
    assert [one.altitude_m for one in alone] == [round(one.altitude_m, 1) for one in lost.heights]
    assert sum(isinstance(one, Report) for one in read) == len(lost.fixes)
    features = json.loads(exports.geojson(lost))["features"]
    unlocated = [one["properties"] for one in features if one["geometry"] is None]
    assert [one["altitude_m"] for one in unlocated] == [one.altitude_m for one in lost.heights]
    points = etree.fromstring(exports.gpx(lost).encode()).findall(f".//{{{exports.GPX}}}trkpt")
    assert len(points) == len(lost.fixes)


async def test_the_store_tells_the_heights_of_a_payloads_own_trackers(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    sent = (("Q0HAB-11", 900.0, 26_500.0), ("Q0HAB-11", 600.0, 54_000.0),
            ("Q0CAR-9", 700.0, 54_000.0), ("Q0HAB-11", 950.0, 54_000.0))  # fmt: skip
    told = [
        HeightReport(tracker=tracker, time_utc=START_UTC + after, pressure_pa=pressure_pa)
        for tracker, after, pressure_pa in sent
    ]
    other = replace(fix(2), payload="kanalas-2", tracker="Q0CAR-9")
    verdicts = [
        Verdict(report_id=10 + n, height=height_told(PAYLOAD, event, event.report.time_utc))
        for n, event in enumerate(
            HeightHeard(report_id=10 + n, source="serial", received_utc=START_UTC, report=one)
            for n, one in enumerate(told)
        )
    ]
    verdicts[3] = Verdict(report_id=13, reason=Reason.JUMP)
    async with Store.open(path) as store:
        await store.commit(
            Batch(
                frames=((1, frame(1)),),
                reports=((2, 1, report(1)), (3, 1, report(2)),
                         *((10 + n, 1, one) for n, one in enumerate(told))),
                verdicts=(Verdict(report_id=2, fix=fix(1)), Verdict(report_id=3, fix=other),
                          *verdicts),
            )
        )  # fmt: skip
    with Reader(path) as reader:
        found = reader.heights(PAYLOAD)
    assert [one.time_utc - START_UTC for one in found] == [600.0, 900.0]
    assert found[0].altitude_m == pytest.approx(5_000.0, abs=100.0)  # ISO 2533: 540 hPa
    assert all(one.by_pressure for one in found)
