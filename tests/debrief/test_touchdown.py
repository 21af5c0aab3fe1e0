"""When and where it came down: against falls whose end is known."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from numpy.typing import NDArray

from groundstation.debrief import exports
from groundstation.debrief.camera import happened
from groundstation.debrief.figures import ending, figures, track_of
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.report import report_html
from groundstation.debrief.touchdown import came_down
from groundstation.flight.touchdown import touchdown
from tests.support.flown import flight_log, track


def fall(k_ms: float, ground_m: float = 100.0, every_s: float = 10.0) -> NDArray[np.float64]:
    """(time, height) from 20 km at ``k_ms`` reduced to sea level (standard air by another program),
    and the time of the touchdown in the last row's place."""
    rows, time, height = [(0.0, 20_000.0)], 0.0, 20_000.0
    while height > ground_m:
        height -= k_ms * np.sqrt(1.225 / ATMOSPHERE_1976(height).rho)
        time += 1.0
        if time % every_s == 0.0:
            rows.append((time, height))
    rows.append((time, ground_m))
    return np.array(rows)


@pytest.mark.parametrize("last_m", [200.0, 1_000.0, 3_000.0])
def test_a_steady_fall_comes_down_when_it_does(last_m: float) -> None:
    rows = fall(7.0)
    end = rows[-1, 0]
    heard = rows[rows[:, 1] > last_m]
    found = touchdown(heard[:, 0], heard[:, 1], 100.0, 15.0, lay=False)
    assert found is not None
    assert found.time_utc == pytest.approx(end, abs=0.02 * (end - heard[-1, 0]) + 2.0)
    assert found.span_utc[0] <= end <= found.span_utc[1]


def test_the_first_packet_from_the_ground_is_not_the_touchdown() -> None:
    """Heard 1 km up, and 43 minutes later lying."""
    rows = fall(7.0)
    end = rows[-1, 0]
    heard = rows[rows[:, 1] > 1_100.0]
    later = heard[-1, 0] + 43 * 60.0
    lying = np.array([(later + 60.0 * n, 100.0) for n in range(3)])
    rows = np.concatenate([heard, lying])
    found = touchdown(rows[:, 0], rows[:, 1], 100.0, 15.0, lay=True)
    assert found is not None
    assert found.heard_utc == later
    assert found.time_utc == pytest.approx(end, abs=5.0)
    assert found.span_utc[1] - found.span_utc[0] < 120.0


@pytest.mark.parametrize("cut_m", [100.0, 300.0, 1_000.0, 2_000.0])
def test_recorded_falls_that_are_cut_short_end_within_their_spans(
    shared: Path, cut_m: float
) -> None:
    """Flights that were heard down to the ground, as if they had not been: the span of nine tenths
    holds most of their ends."""
    inside, seen = 0, 0
    for name in ("f01", "f04", "f06", "f09", "f11", "f19", "f21", "f23", "f25"):
        flown = track(shared, name)
        top = int(flown.altitude_m.argmax())
        time, height = flown.time_s[top:], flown.altitude_m[top:]
        ground = float(height.min())
        low = np.nonzero(height < ground + 60.0)[0]
        heard = height > ground + cut_m
        if not len(low) or heard.sum() < 5 or time[low[0]] - time[heard][-1] > 900.0:
            continue
        seen += 1
        found = touchdown(time[heard], height[heard], ground, 15.0, lay=False)
        assert found is not None
        before = time[low[0] - 1] if low[0] else time[low[0]]
        early, late = found.span_utc
        inside += early <= time[low[0]] + 30.0 and late >= before - 30.0
    assert seen >= 5
    assert inside >= 0.8 * seen


@pytest.fixture(scope="module")
def flight(shared: Path) -> FlightLog:
    return flight_log(track(shared, "f19"))


def without_ground(flight: FlightLog) -> FlightLog:
    """As if nothing had been heard once it lay; the last fix is low."""
    ground = flight.fixes[-1].altitude_m or 0.0
    top = flight.fixes.index(max(flight.fixes, key=lambda one: one.altitude_m or 0.0))
    fixes = [one for n, one in enumerate(flight.fixes)
             if n <= top or (one.altitude_m or 0.0) > ground + 5.0]  # fmt: skip
    return replace(flight, fixes=tuple(fixes), landed_utc=None)


def test_a_track_that_ends_low_is_known_to_have_come_down_there(flight: FlightLog) -> None:
    heard = without_ground(flight)
    down, place = came_down(heard), ending(heard)
    assert down is not None
    assert place is not None
    html = report_html(heard)
    assert "Where it came down is not known" not in html
    assert "<dt>came down</dt><dd>about " in html
    assert "above the ground, at" in html
    assert "down to" in heard.outcome
    assert figures(heard).duration_s == pytest.approx(down.when.time_utc - heard.launch_utc)


def test_a_silence_before_the_ground_does_not_make_the_flight_longer(flight: FlightLog) -> None:
    """Forty minutes later it is heard lying: report, films and the log for an authority say when it
    came down, not when it was heard."""
    heard = without_ground(flight)
    last, lying = heard.fixes[-1], flight.fixes[-1]
    later = last.time_utc + 2_580.0
    fixes = (*heard.fixes, *(replace(lying, time_utc=later + 60.0 * n) for n in range(3)))
    late = replace(heard, fixes=fixes, landed_utc=later)
    down = came_down(late)
    assert down is not None
    assert down.when.time_utc < last.time_utc + 120.0
    assert figures(late).duration_s < last.time_utc + 120.0 - late.launch_utc
    known = track_of(late)
    assert known is not None
    [(at, what)] = [one for one in happened(late, known) if one[1].startswith("touchdown")]
    assert at == down.when.time_utc
    assert what == f"touchdown, {down.words()}"
    assert "first heard from the ground at" in report_html(late)
    assert "Came down about" in exports.position_log(late)
    assert ".000" not in exports.position_log(late)


def test_what_is_last_heard_high_up_has_a_time_but_no_place(flight: FlightLog) -> None:
    top = flight.fixes.index(max(flight.fixes, key=lambda one: one.altitude_m or 0.0))
    fixes = [one for n, one in enumerate(flight.fixes)
             if n <= top or (one.altitude_m or 0.0) > 9_000.0]  # fmt: skip
    high = replace(flight, fixes=tuple(fixes), landed_utc=None)
    down = came_down(high)
    assert down is not None
    assert down.place is None
    assert down.when.span_utc[1] - down.when.span_utc[0] > 120.0
    assert "Where it lies is not known" in report_html(high)
