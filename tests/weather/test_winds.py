"""Winds aloft from real soundings and from tables."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from groundstation.errors import ConfigurationError, InputFileError
from groundstation.physics.layers import MIDDLE_M
from groundstation.weather.inputs import LandingInputs, open_terrain, open_winds
from groundstation.weather.winds import read_winds


def test_a_real_sounding(shared: Path) -> None:
    """IGRA v2, Barrow (USM00070026); the values are those that stand in the file's lines."""
    file = shared / "soundings" / "igra2_USM00070026.txt"
    first = read_winds(file, near_utc=0.0)
    # "20  2018  48760  5600B -288B  157  179  204  175": 17.5 m/s from 204 degrees, towards NNE.
    at = int(np.argmin(np.abs(first.height_m - 5_600.0)))
    assert first.height_m[at] == pytest.approx(5_605.0, abs=1.0)  # geometric, not geopotential
    speed = np.hypot(first.east_ms[at], first.north_ms[at])
    assert speed == pytest.approx(17.5)
    towards = np.degrees(np.arctan2(first.east_ms[at], first.north_ms[at])) % 360.0
    assert (towards + 180.0) % 360.0 == pytest.approx(204.0)
    # "#USM00070026 2010 06 01 00 2303": released at 23:03 of the evening before.
    assert first.time_utc == datetime(2010, 5, 31, 23, 3, tzinfo=UTC).timestamp()
    last = read_winds(file)
    assert last.time_utc is not None
    assert last.time_utc > first.time_utc
    assert np.all(np.diff(first.height_m) > 0.0)


def test_a_real_ascent_as_a_table(shared: Path) -> None:
    table = read_winds(shared / "soundings" / "ascent_1s_2019-02-18.csv")
    assert len(table.height_m) > 5_000
    # First line: 5.4 m/s from 87 degrees at 25 m.
    assert table.east_ms[0] == pytest.approx(-5.4 * np.sin(np.radians(87.0)))
    assert table.north_ms[0] == pytest.approx(-5.4 * np.cos(np.radians(87.0)))
    assert table.time_utc is not None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("height_m,wind_from_deg\n1,2\n", "no column wind_speed_ms"),
        ("height_m,wind_from_deg,wind_speed_ms\n1,x,3\n", "line 2"),
        ("height_m,wind_from_deg,wind_speed_ms\n1,2,3\n5,2,999\n", "line 3: 999 m/s"),
        ("height_m,wind_from_deg,wind_speed_ms\n1,2,3\n", "no winds at two heights"),
        ("", "no column"),
    ],
)
def test_bad_files_are_said(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "winds.csv"
    file.write_text(text)
    with pytest.raises(InputFileError, match=says):
        read_winds(file)
    with pytest.raises(ConfigurationError, match=r"landing\.winds"):
        open_winds(LandingInputs(winds=file))


def test_nothing_given_is_nothing_known() -> None:
    assert open_winds(LandingInputs()) is None
    assert open_terrain(LandingInputs()) is None


def test_winds_on_the_layers(tmp_path: Path) -> None:
    file = tmp_path / "winds.csv"
    file.write_text(
        "time,height_m,wind_from_deg,wind_speed_ms\n"
        "2026-05-16T06:00:00Z,100,270,10\n2026-05-16T06:00:00Z,10100,270,30\n,,,\n"
    )
    winds = open_winds(LandingInputs(winds=file, winds_sd_ms=3.0))
    assert winds is not None
    assert winds.name == "winds aloft from winds.csv"
    assert (winds.lowest_m, winds.highest_m, winds.sd_ms) == (100.0, 10_100.0, 3.0)
    np.testing.assert_allclose(winds.u_ms[MIDDLE_M > 10_100.0], 30.0)
    at = int(np.argmin(np.abs(MIDDLE_M - 5_100.0)))
    assert winds.u_ms[at] == pytest.approx(20.0)
    np.testing.assert_allclose(winds.v_ms, 0.0, atol=1e-9)
