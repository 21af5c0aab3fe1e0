"""One's own flights narrow the next plan: against closed forms and a flight that was simulated."""

import asyncio
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from benchmarks.lessons import measure
from groundstation.flight.settings import PlanSettings
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import expected
from groundstation.planning.lessons_file import Lesson, lessons_text
from groundstation.planning.past_flights import PastFlight, narrowed, past_flights, what_was_learned
from groundstation.records import Fix, Phase, PhaseChange
from tests.support.live_station import LiveStation
from tests.support.plans import EXAMPLE

pytestmark = [pytest.mark.live, pytest.mark.slow]

PLAN = PlanSettings(
    burst_altitude_m=30_000.0, burst_altitude_sd_m=1_200.0, ascent_rate_ms=5.0,
    ascent_rate_sd_ms=0.4, descent_rate_ms=5.0, descent_rate_sd_ms=0.5,
)  # fmt: skip


def past(descent_rate_ms: float) -> PastFlight:
    return PastFlight(
        begun_utc=0.0,
        ascent_rate_ms=5.0,
        burst_altitude_m=32_000.0,
        descent_rate_ms=descent_rate_ms,
    )


def test_what_stays_with_the_gear_is_learned_and_what_differs_stays() -> None:
    """By hand: a plan of 5.0 ± 0.5 m/s whose rises repeat to 0.4 (0.08 of it) is off by 0.3 that
    stays; one flight of 6 m/s moves it by 0.09 / (0.09 + 0.16)."""
    plan = replace(PLAN, ascent_rate_sd_ms=0.5)
    after = narrowed(plan, [replace(past(5.0), ascent_rate_ms=6.0)])
    assert after.ascent_rate_ms == pytest.approx(5.0 + 0.09 / 0.25)
    left = 1.0 / (1.0 / 0.09 + 1.0 / 0.16)
    assert after.ascent_rate_sd_ms == pytest.approx(np.sqrt(left + 0.16))


def test_many_count_more_than_the_plan_but_the_next_flight_is_still_a_flight() -> None:
    """25 that differ as flights do: their mean, and no surer than one flight from the next."""
    rates = 6.0 + 0.5 * np.linspace(-1.7, 1.7, 25)
    after = narrowed(PLAN, [past(float(rate)) for rate in rates])
    assert after.descent_rate_ms == pytest.approx(6.0, abs=0.2)
    assert 0.4 < after.descent_rate_sd_ms < 0.6
    alike = narrowed(PLAN, [past(6.0)] * 25)
    assert alike.descent_rate_sd_ms < after.descent_rate_sd_ms
    assert narrowed(PLAN, []) == PLAN


def test_ten_flights_of_one_person_make_the_plan_surer_and_still_right() -> None:
    """The project's own simulator, 25 persons: the 90 % spans shrink and hold 0.80 to 0.97."""
    series = measure(25)
    assert 0.80 <= series.all_inside <= 0.97
    assert all(0.80 <= share <= 0.97 for share in series.by_name.values())
    assert series.width[-1] < 0.8 * series.width[0]
    assert all(later <= earlier + 0.02 for earlier, later in pairwise(series.width))


def test_a_known_flight_is_read_back() -> None:
    """Up at 5 m/s to 30 km, down as 6 m/s at sea level: dt = dz sqrt(rho / rho0) / 6 over standard
    air (US Standard Atmosphere 1976, by another program: 13,749 m of path from 30 km)."""
    up = [(n * 60.0, n * 300.0) for n in range(101)]
    rows, time = list(up), up[-1][0]
    for height in range(29_900, -1, -100):
        time += 100.0 * np.sqrt(ATMOSPHERE_1976(height + 50.0).rho / 1.225) / 6.0
        rows.append((time, float(height)))
    fixes = [
        Fix(payload="x", tracker="t", source="s", time_utc=t, received_utc=t, latitude_deg=47.0,
            longitude_deg=20.0, altitude_m=h)
        for t, h in rows
    ]  # fmt: skip
    phases = [
        PhaseChange(payload="x", time_utc=60.0, phase=Phase.ASCENT, since_utc=0.0),
        PhaseChange(payload="x", time_utc=6_060.0, phase=Phase.DESCENT, since_utc=6_000.0),
    ]
    [found] = past_flights(phases, fixes)
    assert found.ascent_rate_ms == pytest.approx(5.0, rel=1e-3)
    assert found.burst_altitude_m == 30_000.0
    assert found.descent_rate_ms == pytest.approx(6.0, rel=0.01)
    assert list(past_flights(phases[:1], fixes)) == []
    assert list(past_flights(phases, fixes[:110])) == []


def test_what_changed_is_told() -> None:
    lines = list(what_was_learned(PLAN, narrowed(PLAN, [past(6.0)]), [past(6.0)]))
    assert lines[0].startswith("By 1 past flight (1970-01-01), taken as flown with the same")
    assert "burst height 30.0 ± 1.2 km becomes 30.4 ± 1.3 km" in lines
    assert "fall at sea level 5.0 ± 0.5 m/s becomes 5.2 ± 0.5 m/s" in lines


async def test_the_rehearsals_own_database_narrows_a_plan(tmp_path: Path) -> None:
    """The bundled flight through the station, then the plan command on what it kept."""
    station = LiveStation(
        tmp_path,
        '[[payload]]\nname = "kanalas-1"\n[[payload.tracker]]\nid = "Q0HAB-11"\n[[source]]\n'
        'name = "r"\nkind = "recording"\npath = "resource:rehearsal.txt"\n[source.decoder]\n'
        'kind = "aprs"\n',
        600.0,
    )
    await station.start(1_778_919_600.0)
    await station.reached("landed")
    await station.stop()
    done = await asyncio.to_thread(planned_with, station.database)
    assert done.returncode == 0, done.stderr
    assert "By 1 past flight" in done.stdout


def planned_with(database: Path) -> subprocess.CompletedProcess[str]:
    example = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
    return subprocess.run(
        [sys.executable, "-m", "groundstation", "plan", example, "--past", database],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_a_station_expects_what_the_lessons_of_its_flight_file_say(tmp_path: Path) -> None:
    """The planned fall rate of the landing estimate comes from there."""
    lesson = Lesson(
        payload="kanalas-1", flown="2026-05-02T08:30:00Z", ascent_rate_ms=5.5,
        burst_altitude_m=29_000.0, fall_rate_ms=7.0,
    )  # fmt: skip
    kept = tmp_path / "lessons.toml"
    plain = read_flight(EXAMPLE)
    taught = replace(plain, lessons=kept)
    assert expected(taught) == expected(plain), "there is no such file yet"
    kept.write_text(lessons_text([lesson]), encoding="utf-8")
    before, after = expected(plain), expected(taught)
    assert before.descent_rate_ms is not None
    assert after.descent_rate_ms is not None
    assert before.descent_rate_ms < after.descent_rate_ms < 7.0
    assert after == narrowed(before, [lesson.flight])
