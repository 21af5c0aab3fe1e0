"""What a flight teaches: each the inverse of what the plan computes, and kept in a file."""

import math
import re
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.debrief.derive_lessons import (
    Planned,
    balloon_drag,
    burst_diameter,
    canopy_drag,
    learned,
)
from groundstation.debrief.figures import figures, track_of
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.own_log import beside
from groundstation.debrief.report import report_html
from groundstation.debrief.words import Telling
from groundstation.errors import ConfigurationError
from groundstation.jobs import debrief as job
from groundstation.payload_log.reading import SensorLog
from groundstation.physics.atmosphere import pressure, temperature
from groundstation.physics.layers import EDGE_M, SPEED_RATIO
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.lessons_file import (
    Lesson,
    lessons_text,
    like,
    read_lessons,
    with_lesson,
)
from groundstation.planning.lift import descent_rate_ms, of_neck_lift
from groundstation.planning.readable_figures import Shown
from groundstation.planning.spread import planned
from groundstation.search.found import Condition, Found
from groundstation.units import Units
from tests.support.flown import Flown, flight_log

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
LESSON = Lesson(
    payload='kanalas-1 "red"\\',
    flown="2026-05-16T08:30:00Z",
    ascent_rate_ms=5.1,
    burst_altitude_m=30_120.0,
    fall_rate_ms=6.2,
    payload_kg=1.26,
    evidence="invented",
)


@pytest.fixture(scope="module")
def plan() -> Planned:
    file = read_flight(EXAMPLE)
    solved = planned(file)
    return Planned(file=file, plan=solved, expected=plan_settings(solved))


@pytest.fixture(scope="module")
def whole() -> FlightLog:
    return flight_log(flown(5.0, 30_000.0, 6.0))


def flown(ascent_rate_ms: float, burst_m: float, descent_rate_ms: float) -> Flown:
    """A flight of steady rates, the fall reduced to sea level, over a wind of 5 m/s to the east."""
    up = np.arange(0.0, (burst_m - 85.0) / ascent_rate_ms, 10.0)
    heights = [85.0 + ascent_rate_ms * t for t in up]
    z = heights[-1]
    while z > 85.0:
        z -= 10.0 * descent_rate_ms * float(np.interp(z, EDGE_M[:-1], SPEED_RATIO))
        heights.append(max(z, 85.0))
    heights += [85.0] * 12
    t = 1_778_920_200.0 + 10.0 * np.arange(len(heights), dtype=np.float64)
    lon = 20.3 + 5.0 * (t - t[0]) / (111_195.0 * math.cos(math.radians(47.1)))
    return Flown(t, np.full(len(t), 47.1), np.asarray(lon, float), np.array(heights))


def test_gear_is_the_inverse_of_the_plan(plan: Planned) -> None:
    """Rise, burst and fall that the plan's own functions give for known gear lead back to it."""
    balloon = replace(plan.plan.balloon, drag_coefficient=0.36, burst_diameter_m=7.1)
    lift = of_neck_lift(balloon, plan.plan.lift.neck_kg)
    fall = descent_rate_ms(plan.plan.descending_kg, plan.file.parachute.diameter_m, 0.62, 1.225)
    log = flight_log(flown(5.0, 28_000.0, 6.0))
    known = replace(
        figures(log),
        ascent_rate_ms=lift.ascent_rate_ms,
        highest_m=lift.burst_altitude_m,
        descent_rate_ms=fall,
    )
    assert balloon_drag(known, plan) == pytest.approx(0.36, rel=1e-3)
    assert burst_diameter(log, known, plan) == pytest.approx(7.1, rel=1e-3)
    assert canopy_drag(known, plan) == pytest.approx(0.62, rel=1e-3)


def test_a_flown_flight_is_told_and_kept(plan: Planned) -> None:
    expected = plan.expected
    assert expected.descent_rate_ms is not None
    log = flight_log(flown(1.5 * expected.ascent_rate_ms, 24_000.0, 1.4 * expected.descent_rate_ms))
    told = learned(log, track_of(log), figures(log), plan)
    words = "\n".join(told.words)
    assert "more free lift" in words
    assert "lower than planned" in words
    assert "with the fill that its ascent speaks for" in words
    assert "Put drag_coefficient = 0.39" in words  # 0.775 / 1.4², to 2 %
    assert "every 10 s at the median, about 100 %" in words
    assert told.lesson is not None
    assert told.lesson.ascent_rate_ms == pytest.approx(1.5 * expected.ascent_rate_ms, rel=0.01)
    assert told.lesson.burst_altitude_m == pytest.approx(24_000.0, abs=80.0)
    assert told.lesson.fall_rate_ms == pytest.approx(1.4 * expected.descent_rate_ms, rel=0.02)
    assert told.lesson.payload_kg == pytest.approx(plan.file.payload_kg)


def test_a_flight_as_planned_says_so(plan: Planned) -> None:
    expected = plan.expected
    assert expected.descent_rate_ms is not None
    log = flight_log(
        flown(expected.ascent_rate_ms, expected.burst_altitude_m, expected.descent_rate_ms)
    )
    words = "\n".join(learned(log, track_of(log), figures(log), plan).words)
    assert "rose as planned" in words
    assert "as planned: with the planned fill" in words
    assert "Put drag_coefficient" not in words


def test_what_was_heard_on_the_ground_and_found_is_not_told_as_last_heard_in_the_air(
    plan: Planned,
) -> None:
    expected = plan.expected
    assert expected.descent_rate_ms is not None
    log = flight_log(
        flown(expected.ascent_rate_ms, expected.burst_altitude_m, expected.descent_rate_ms)
    )
    last = log.fixes[-1]
    found = Found(
        payload=log.payload, time_utc=last.time_utc, told_utc=last.time_utc,
        latitude_deg=last.latitude_deg, longitude_deg=last.longitude_deg,
        condition=Condition.WHOLE,
    )  # fmt: skip
    for one in (log, replace(log, found=found)):
        words = "\n".join(learned(one, track_of(one), figures(one), plan).words)
        assert "The last packet came from" not in words


@pytest.mark.parametrize("ascent_rate_ms", [0.001, 0.05, 14.5, 30.0])
def test_no_flight_is_too_strange_for_its_report(plan: Planned, ascent_rate_ms: float) -> None:
    """As where the flight file is another balloon's: told, and no rise of nothing kept."""
    log = flight_log(flown(5.0, 28_000.0, 6.0))
    known = replace(figures(log), ascent_rate_ms=ascent_rate_ms)
    told = learned(log, track_of(log), known, plan)
    assert "no fill of such a balloon" in "\n".join(told.words) or ascent_rate_ms == 14.5
    assert (told.lesson is None) == (ascent_rate_ms < 0.005)


def test_without_a_burst_or_a_fall_nothing_is_kept(plan: Planned) -> None:
    log = flight_log(flown(5.0, 28_000.0, 6.0))
    unseen = replace(log, burst_utc=None, landed_utc=None)
    told = learned(unseen, track_of(unseen), figures(unseen), plan)
    assert told.lesson is None
    assert "No burst was seen" in "\n".join(told.words)
    climb = tuple(one for one in log.fixes if one.time_utc < (log.burst_utc or 0.0) - 600.0)
    cut = replace(unseen, fixes=climb)
    told = learned(cut, track_of(cut), figures(cut), None)
    assert told.lesson is None
    assert "heard as far as" in "\n".join(told.words)


def test_a_file_of_lessons_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "lessons.toml"
    newer = replace(LESSON, flown="2026-06-01T07:00:00Z", interval_s=30.0)
    path.write_text(lessons_text((LESSON, newer)), encoding="utf-8")
    assert read_lessons(path) == (LESSON, newer)
    again = with_lesson(read_lessons(path), replace(LESSON, ascent_rate_ms=4.0))
    assert [one.ascent_rate_ms for one in again] == [4.0, 5.1]
    assert [one.flown for one in like(again, LESSON.payload, 1.20)] == [LESSON.flown, newer.flown]
    assert like(again, LESSON.payload, 2.0) == []
    assert like(again, "other", 1.26) == []
    assert LESSON.flight.begun_utc == 1_778_920_200.0


@given(st.text(st.characters(exclude_categories=("Cs", "Cc"))), st.floats(0.1, 1e5))
def test_whatever_it_is_called_it_is_read_back(name: str, rate: float) -> None:
    lesson = replace(LESSON, payload=name, evidence=name, ascent_rate_ms=float(f"{rate:g}"))
    import tomllib  # noqa: PLC0415

    [back] = tomllib.loads(lessons_text((lesson,)))["lesson"]
    assert back.get("payload", "") == name
    assert back["ascent_rate_ms"] == lesson.ascent_rate_ms


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("fall_rate_ms = 0.0", "must be above 0"),
        ('flown = "in May"', "is not a time"),
        ("speed = 3.0", "speed"),
    ],
)
def test_a_lesson_that_cannot_be_is_told(tmp_path: Path, line: str, says: str) -> None:
    path = tmp_path / "lessons.toml"
    name = line.partition(" ")[0]
    rows = [one for one in lessons_text((LESSON,)).splitlines() if not one.startswith(name)]
    path.write_text("\n".join([*rows, line]), encoding="utf-8")
    with pytest.raises(ConfigurationError, match=says):
        read_lessons(path)


def test_the_report_offers_its_lesson_in_the_form_that_is_kept(whole: FlightLog) -> None:
    taught = learned(whole, track_of(whole), figures(whole))
    assert taught.lesson is not None
    text = lessons_text([taught.lesson], head="").strip()
    html = report_html(whole, next_time=taught.words, lesson=text)
    assert "<h2>For the next plan</h2>" in html
    offered = unescape(html.partition("<pre>")[2].partition("</pre>")[0])
    assert tomllib.loads(offered)["lesson"][0]["ascent_rate_ms"] == taught.lesson.ascent_rate_ms


def test_the_report_is_told_in_the_stations_units_and_time_zone(whole: FlightLog) -> None:
    """By hand: metres in feet, m/s in ft/min; Budapest is two hours ahead of UTC in summer."""
    telling = Telling("Europe/Budapest", Shown(Units.IMPERIAL))
    html = report_html(whole, telling=telling)
    known = figures(whole)
    assert known.highest_m is not None
    assert known.ascent_rate_ms is not None
    assert f"<dt>highest</dt><dd>{known.highest_m / 0.3048:,.0f} ft</dd>" in html
    assert f"<dt>ascent</dt><dd>{known.ascent_rate_ms * 60.0 / 0.3048:,.0f} ± " in html
    at = datetime.fromtimestamp(whole.launch_utc, UTC) + timedelta(hours=2)
    assert f"<dt>launch</dt><dd>{at:%H:%M:%S}</dd>" in html
    assert "Times are of Europe/Budapest." in html


def test_no_metric_figure_is_in_an_imperial_report(plan: Planned) -> None:
    """Drawings, lessons, silences, the payload's own log: the kept lesson alone is in SI."""
    track = flown(6.4, 24_000.0, 7.5)
    flight = replace(
        flight_log(track.every(30)), payload=plan.file.name, burst_utc=float(track.time_s[374])
    )
    log = SensorLog(
        time_s=track.time_s,
        values={
            "altitude_m": track.altitude_m,
            "pressure_hpa": np.array([pressure(z) / 100.0 for z in track.altitude_m]),
            "temperature_c": np.array([temperature(z) - 273.15 for z in track.altitude_m]) + 2.0,
        },
    )
    shown = Shown(Units.IMPERIAL)
    own = beside(flight, log, shown)
    taught = learned(flight, own.track, figures(flight, own.track), plan, shown=shown)
    html = report_html(
        flight, plan.expected, own, (), None, taught.words, telling=Telling("UTC", shown)
    )
    text = re.sub(r"<style>.*?</style>|<[^>]+>", "|", unescape(html), flags=re.DOTALL)
    assert re.findall(r"[\d|] ?(?:m|km|m/s|kg|°C|hPa)\b[^|]*", text) == []
    for imperial in ("|ft|", "|ft/min|", "|mph|", "|°F|", "mi east of the launch", " lb under"):
        assert imperial in text
    # By hand: 20,000 ft are 6.096 km, so the hodograph names 0, 20,000, 40,000 and 60,000 ft.
    assert "each 20,000 ft named" in text


def test_the_report_draws_what_was_measured(whole: FlightLog) -> None:
    """By hand: -40 is the same in both scales, and 0 °C are 32 °F."""
    fixes = tuple(
        replace(fix, telemetry=(("temperature_c", -40.0 if n % 2 else 0.0), ("battery_v", 4.0)))
        for n, fix in enumerate(whole.fixes)
    )
    html = report_html(replace(whole, fixes=fixes))
    assert "<figcaption>Temperature</figcaption>" in html
    assert "<figcaption>Battery</figcaption>" in html
    assert ">°C</text>" in html
    shown = Telling("UTC", Shown(Units.IMPERIAL))
    html = report_html(replace(whole, fixes=fixes), telling=shown)
    assert ">°F</text>" in html
    assert ">-40</text>" in html
    assert ">20</text>" in html


def test_a_plan_of_another_payload_is_refused_and_teaches_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, whole: FlightLog
) -> None:
    other = replace(whole, payload="other")
    monkeypatch.setattr(job, "one_flight", lambda _database, _number: other)
    kept = tmp_path / "lessons.toml"
    request = job.ReportRequest(
        database=tmp_path / "none.db", out=tmp_path / "r.html", plan=EXAMPLE, lessons=kept
    )
    with pytest.raises(ConfigurationError, match="the plan of 'kanalas-1', and the flight was of"):
        list(job.write_report(request))
    assert not kept.exists()
