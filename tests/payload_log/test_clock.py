"""The clock of a payload's log, put off by a known amount on recorded flights."""

from pathlib import Path

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from numpy.typing import NDArray

from groundstation.errors import InputFileError
from groundstation.payload_log.clock import match
from groundstation.payload_log.reading import SensorLog
from tests.support.flown import Flown, track

GAS_JKGK, GRAVITY_MS2 = 287.053, 9.80665


def warm_pressure_hpa(height_m: NDArray[np.float64], warmer_k: float) -> NDArray[np.float64]:
    """Hydrostatic, in air that is warmer than the US Standard Atmosphere 1976 (by fluids), on a
    day of 1,022 hPa; steps of 10 m."""
    z = np.arange(0.0, 36_000.0, 10.0)
    kelvin = np.array([ATMOSPHERE_1976(float(one)).T for one in z]) + warmer_k
    gravity = GRAVITY_MS2 * (6_356_766.0 / (6_356_766.0 + z)) ** 2
    log = np.log(1_022.0) - np.cumsum(gravity / (GAS_JKGK * kelvin)) * 10.0
    return np.asarray(np.exp(np.interp(height_m, z, log)))


def put_off(flown: Flown, offset_s: float, drift_s_per_h: float) -> NDArray[np.float64]:
    """What a clock shows that counts from the first row, but for the offset, and runs fast."""
    counted = flown.time_s - flown.time_s[0]
    return np.asarray(counted * (1.0 + drift_s_per_h / 3_600.0) + offset_s)


@pytest.mark.parametrize("name", ["f01", "f02"])
@pytest.mark.parametrize(("offset_s", "drift"), [(137.0, 4.0), (-600.0, -7.0), (32_000.0, 12.0)])
@pytest.mark.parametrize("by", ["gps", "pressure"])
def test_offset_and_drift_are_found(
    shared: Path, name: str, offset_s: float, drift: float, by: str
) -> None:
    """1 Hz tracks of real flights, heard each minute; over the whole flight within two seconds."""
    flown = track(shared, name)
    heard = flown.every(60)
    noise = np.random.default_rng(3).normal(0.0, 0.05, len(flown.time_s))
    values = (
        {"altitude_m": flown.altitude_m + 31.0}
        if by == "gps"
        else {"pressure_hpa": np.round(warm_pressure_hpa(flown.altitude_m, 9.0) + noise, 2)}
    )
    shown = put_off(flown, offset_s, drift)
    found = match(SensorLog(time_s=shown, values=values), heard.time_s, heard.altitude_m)
    assert found.by == by
    assert np.abs(found.utc(shown) - flown.time_s).max() < 2.0
    assert np.abs(found.log_s(flown.time_s) - shown).max() < 2.0
    if by == "gps":
        assert 3_600.0 * found.drift == pytest.approx(drift, abs=0.1)
        assert found.bend[0] == pytest.approx(-31.0, abs=1.0)


def test_two_trackers_of_one_balloon_fit(shared: Path) -> None:
    """f13 beside f14: each by its own GPS and clock, both right to seconds."""
    one, other = track(shared, "f13"), track(shared, "f14")
    log = SensorLog(time_s=one.time_s, values={"altitude_m": one.altitude_m})
    found = match(log, other.time_s, other.altitude_m)
    assert abs(found.offset_s) < 2.0


@pytest.mark.parametrize("by", ["gps", "pressure"])
@pytest.mark.parametrize(
    ("log_of", "heard"),
    [("f05", "f03"), ("f19", "f21"), ("f09", "f15"), ("f23", "f25"), ("f13", "f18"), ("f01", "f04")],  # noqa: E501
)  # fmt: skip
def test_a_log_of_another_flight_is_refused(shared: Path, log_of: str, heard: str, by: str) -> None:
    mine, theirs = track(shared, log_of), track(shared, heard)
    values = (
        {"altitude_m": mine.altitude_m}
        if by == "gps"
        else {"pressure_hpa": warm_pressure_hpa(mine.altitude_m, -6.0)}
    )
    log = SensorLog(time_s=mine.time_s - mine.time_s[0], values=values)
    with pytest.raises(InputFileError, match="another flight"):
        match(log, theirs.time_s, theirs.altitude_m)


def test_a_log_that_never_left_the_ground_is_told(shared: Path) -> None:
    flown = track(shared, "f05")
    still = SensorLog(time_s=np.arange(5_000.0), values={"pressure_hpa": np.full(5_000, 1_013.0)})
    with pytest.raises(InputFileError, match="no flight in it"):
        match(still, flown.time_s, flown.altitude_m)
