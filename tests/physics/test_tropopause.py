"""Tropopauses against those that a weather service marked, and one that can be told by hand."""

from pathlib import Path

import numpy as np
import pytest

from groundstation.physics.atmosphere import geometric_m
from groundstation.physics.tropopause import tropopause_m


def soundings(path: Path) -> list[tuple[np.ndarray, list[float]]]:
    """(heights and temperatures, heights of the marked tropopauses) of IGRA v2 soundings.

    NOAA, igra2-data-format: columns 2 LVLTYP2 (2 is a tropopause), 17-21 geopotential height,
    23-27 temperature in tenths of a degree.
    """
    found: list[tuple[list[tuple[float, float]], list[float]]] = []
    for line in path.read_text().splitlines():
        if line.startswith("#"):
            found.append(([], []))
            continue
        height, kelvin = int(line[16:21]), int(line[22:27])
        if height < -8000 or kelvin < -8000:
            continue
        above = float(geometric_m(height))
        found[-1][0].append((above, kelvin / 10.0 + 273.15))
        if line[1] == "2":
            found[-1][1].append(above)
    return [(np.array(sorted(set(levels))), marked) for levels, marked in found]


def test_it_is_where_the_service_marked_it(shared: Path) -> None:
    """Two soundings of Barrow, Alaska, whose tropopause the service marked."""
    checked = 0
    for levels, marked in soundings(shared / "soundings" / "igra2_USM00070026.txt"):
        if not marked:
            continue
        height, kelvin = levels.T
        _, once = np.unique(height, return_index=True)
        found = tropopause_m(height[once], kelvin[once])
        assert found == pytest.approx(min(marked), abs=1.0)
        checked += 1
    assert checked == 2


def test_standard_and_none() -> None:
    """US Standard Atmosphere 1976: isothermal from 11 km; a constant lapse has none; a thin
    inversion at 8 km with a steep lapse above it is none (WMO's second condition)."""
    z = np.arange(0.0, 20_000.0, 100.0)
    standard = np.maximum(288.15 - 6.5e-3 * z, 216.65)
    assert tropopause_m(z, standard) == pytest.approx(11_000.0, abs=100.0)
    assert tropopause_m(z, 288.15 - 5e-3 * z) is None
    bent = standard + 2.0 * ((z > 8_000.0) & (z <= 8_300.0))
    assert tropopause_m(z, bent) == pytest.approx(11_000.0, abs=100.0)
    short = z < 12_000.0
    assert tropopause_m(z[short], standard[short]) is None
