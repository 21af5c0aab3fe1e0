"""A payload's log read, looked at and laid beside its flight."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from groundstation.debrief.figures import errors
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.own_log import beside, estimated_again
from groundstation.debrief.report import report_html
from groundstation.errors import ConfigurationError, InputFileError
from groundstation.payload_log.air import air_of, hydrostatic_off_m, speed_ratio_beside_standard
from groundstation.payload_log.reading import SensorLog, read_log, read_log_settings
from groundstation.payload_log.sanity import findings, ground_off_m, lag_s
from groundstation.payload_log.settings import LogSettings
from tests.payload_log.test_clock import put_off, warm_pressure_hpa
from tests.support.flown import Flown, flight_log, track

SOUNDING = LogSettings(
    columns={
        "time": "time", "pressure_hpa": "pressure_hpa", "altitude_m": "height_m", "lat": "lat",
        "lon": "lon", "temperature_c": "temperature_c", "humidity": "relative_humidity_pct",
    }
)  # fmt: skip


@pytest.fixture(scope="module")
def sounding(shared: Path) -> SensorLog:
    """The 1 s ascent with sensors."""
    return read_log(shared / "soundings" / "ascent_1s_2019-02-18.csv", SOUNDING)


def lying_for(flown: Flown, seconds: int) -> Flown:
    """With so many more rows of the last place."""
    later = flown.time_s[-1] + np.arange(1.0, seconds + 1.0)
    lat, lon, height = (
        np.append(one, np.full(seconds, one[-1]))
        for one in (flown.lat, flown.lon, flown.altitude_m)
    )
    return Flown(np.append(flown.time_s, later), lat, lon, height)


def heard(log: SensorLog) -> FlightLog:
    values = log.values
    flown = Flown(log.time_s, values["lat"], values["lon"], values["altitude_m"])
    return flight_log(flown.every(60), landed=False)


def test_a_map_of_columns_reads_units_and_counts_what_it_leaves_out(tmp_path: Path) -> None:
    (tmp_path / "columns.toml").write_text(
        'time_format = "milliseconds"\nseparator = ";"\nskip = 1\n[columns]\ntime = "ms"\n'
        'pressure_hpa = "P"\nbattery_v = "bat"\n[units]\npressure_hpa = "Pa"\nbattery_v = "mV"\n'
    )
    rows = "".join(f"{500 * n};{101_325 - 50 * n};3{n:02}0\n" for n in range(60))
    (tmp_path / "log.csv").write_text(f"logger 1.0\nms;P;bat\n{rows}broken;;\n10;101000;3000\n")
    log = read_log(tmp_path / "log.csv", read_log_settings(tmp_path / "columns.toml"))
    assert log.time_s[1] == 0.5
    assert log.values["pressure_hpa"][1] == pytest.approx(1_012.75)
    assert log.values["battery_v"][59] == pytest.approx(3.590)
    assert "1 rows without" in log.notes[0]
    assert "60 of 61 rows" in log.notes[1]


@pytest.mark.parametrize(
    ("order", "first", "second"),
    [
        ("ymd", "2026-05-16", "2026-05-17"),
        ("ymd", "20260516", "20260517"),
        ("dmy", "16.5.2026", "17.5.2026"),
        ("dmy", "160526", "170526"),
        ("mdy", "05/16/26", "05/17/26"),
    ],
)
def test_a_date_stands_in_its_own_column(
    tmp_path: Path, order: str, first: str, second: str
) -> None:
    """Over midnight; a row whose date is none is left out and counted."""
    (tmp_path / "columns.toml").write_text(
        f'time_format = "hms"\ndate_order = "{order}"\n[columns]\ntime = "T"\ndate = "D"\n'
        'altitude_m = "z"\n'
    )
    rows = [f"{first},23:59:{n},1{n}" for n in range(30, 60)]
    rows += ["99-99-99,00:00:01,1", *(f"{second},00:00:{n},1{n}" for n in range(10, 40))]
    (tmp_path / "log.csv").write_text("D,T,z\n" + "\n".join(rows) + "\n")
    log = read_log(tmp_path / "log.csv", read_log_settings(tmp_path / "columns.toml"))
    assert len(log) == 60
    assert log.time_s[0] == 1_778_975_970.0  # 2026-05-16T23:59:30Z
    assert log.time_s[30] - log.time_s[0] == 40.0
    assert "1 rows without" in log.notes[0]


def test_the_example_map_is_one() -> None:
    example = Path(__file__).parents[2] / "config" / "columns.toml"
    assert read_log_settings(example).columns["pressure_hpa"] == "pressure"


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"pressure_hpa": "P"}, "which one is the time"),
        ({"time": "t", "battery_v": "b"}, "neither pressure_hpa nor altitude_m"),
        ({"time": "t", "altitude_m": "z", "lat": "lat"}, "only one of lat and lon"),
        ({"time": "t", "altitude_m": "z", "date": "d"}, "goes with time_format = 'hms'"),
    ],
)
def test_a_map_that_can_not_work_is_told(columns: dict[str, str], words: str) -> None:
    with pytest.raises(ConfigurationError, match=words):
        read_log(Path("/nowhere"), LogSettings(columns=columns))


def test_a_file_that_does_not_fit_is_told(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("time,P\n1,1000\n")
    settings = LogSettings(columns={"time": "t", "pressure_hpa": "P"})
    with pytest.raises(InputFileError, match=r"no column is called 't'; there are 'time', 'P'"):
        read_log(tmp_path / "log.csv", settings)
    settings = replace(settings, columns={"time": "time", "pressure_hpa": "P"})
    with pytest.raises(InputFileError, match="0 rows with a readable time"):
        read_log(tmp_path / "log.csv", settings)


def test_the_air_of_a_radiosonde(sounding: SensorLog, shared: Path) -> None:
    """Its own heights against the hypsometric equation, density by the gas law and fluids."""
    own = beside(heard(sounding), sounding)
    assert own.clock.by == "gps"
    assert abs(own.clock.offset_s) < 0.5
    assert own.findings == ()
    air = own.air
    assert air is not None
    off = hydrostatic_off_m(air)
    # Vapour, which the equation leaves out here, is worth some tens of metres in the tropics.
    assert off is not None
    assert abs(off) < 100.0
    ratio = speed_ratio_beside_standard(air)
    assert ratio is not None
    with (shared / "soundings" / "ascent_1s_2019-02-18.csv").open() as file:
        row = next(r for r in csv.DictReader(file) if float(r["height_m"]) >= 10_000.0)
    density = (
        100.0 * float(row["pressure_hpa"]) / (287.053 * (float(row["temperature_c"]) + 273.15))
    )
    level = int(np.argmin(np.abs(air.height_m - 10_000.0)))
    assert ratio[level] == pytest.approx(
        math.sqrt(density / ATMOSPHERE_1976(10_000.0).rho), rel=0.004
    )
    # In the tropics it lies where the air is coldest (WMO's definition finds no other here).
    assert air.temperature_k is not None
    coldest = float(air.height_m[np.nanargmin(air.temperature_k)])
    assert air.tropopause_m == pytest.approx(coldest, abs=300.0)


@pytest.mark.slow
def test_a_fast_log_takes_the_place_of_the_radio(shared: Path) -> None:
    """f01 at 1 Hz, heard each minute; its log by pressure, its clock off. It ends as it touches
    down, so a minute of lying still is added."""
    flown = lying_for(track(shared, "f01"), 60)
    flight = flight_log(flown.every(60))
    log = SensorLog(
        time_s=put_off(flown, -77.0, 3.0),
        values={
            "pressure_hpa": warm_pressure_hpa(flown.altitude_m, 5.0),
            "lat": flown.lat, "lon": flown.lon,
        },
    )  # fmt: skip
    own = beside(flight, log)
    assert len(own.track.time_s) > 6_000
    at = np.interp(own.track.time_s, flown.time_s, flown.altitude_m)
    assert np.median(np.abs(own.track.altitude_m - at)) < 25.0
    # By hand from the track: the last 200 m above where it lay.
    ground = float(np.median(flown.altitude_m[-30:]))
    top = int(flown.altitude_m.argmax())
    low = np.nonzero(flown.altitude_m[top:] < ground + 200.0)[0][0] + top
    lying = np.nonzero(flown.altitude_m[top:] < ground + 15.0)[0][0] + top
    rate = (flown.altitude_m[low] - flown.altitude_m[lying]) / (lying - low)
    assert own.touchdown_ms == pytest.approx(float(rate), rel=0.2)
    again = list(estimated_again(flight, own.track))
    off = list(errors(replace(flight, landings=tuple(again)), own.end))
    assert len(off) > 20
    assert off[-1].off_m < 500.0
    page = report_html(flight, None, own, again)
    for words in ("gains", "Estimated again", "Pressure altitude less true height"):
        assert words in page


def test_a_log_from_elsewhere_is_refused_by_its_places(shared: Path) -> None:
    flown = track(shared, "f05")
    log = SensorLog(
        time_s=flown.time_s,
        values={"altitude_m": flown.altitude_m, "lat": flown.lat + 1.0, "lon": flown.lon},
    )
    with pytest.raises(InputFileError, match="111 km"):
        beside(flight_log(flown), log)


def test_what_is_wrong_with_sensors_is_found(shared: Path) -> None:
    """Faults put into clean values, one at a time."""
    flown = track(shared, "f01")
    # A minute on the ground before it.
    height = np.concatenate([np.full(60, flown.altitude_m[0]), flown.altitude_m])
    seconds = np.arange(float(len(height)))
    celsius = np.array([ATMOSPHERE_1976(float(max(z, 0.0))).T for z in height]) - 273.15
    clean = {"pressure_hpa": warm_pressure_hpa(height, 0.0), "temperature_c": celsius}

    def told(**wrong: np.ndarray) -> str:
        return " ".join(findings(SensorLog(time_s=seconds, values={**clean, **wrong}), height))

    assert "out of range" not in told()
    assert "lags" not in told()
    stuck = celsius.copy()
    stuck[2_000:3_000] = stuck[2_000]
    assert "temperature_c is frozen" in told(temperature_c=stuck)
    wild = celsius.copy()
    wild[77] = 999.0
    assert "out of range in 1 rows, such as 999" in told(temperature_c=wild)
    gone = celsius.copy()
    gone[::3] = np.nan
    assert "missing in 33 %" in told(temperature_c=gone)
    late = np.interp(seconds - 40.0, seconds, celsius)
    log = SensorLog(time_s=seconds, values={"temperature_c": late})
    assert lag_s(log, "temperature_c", height) == pytest.approx(40.0, abs=4.0)
    assert "lags by about" in told(temperature_c=late)
    off = warm_pressure_hpa(height + 600.0, 0.0)
    assert "off at the ground" in told(pressure_hpa=off)
    high = ground_off_m(SensorLog(time_s=seconds, values={"pressure_hpa": off}), height)
    assert high is not None
    assert high > 450.0


def test_cloud_is_where_it_is_wet() -> None:
    z = np.arange(0.0, 12_000.0, 5.0)
    humidity = np.where((z > 2_000.0) & (z < 3_100.0), 97.0, 40.0)
    log = SensorLog(time_s=z / 5.0, values={"humidity": humidity})
    air = air_of(log, z)
    assert air is not None
    [(low, high)] = air.clouds
    assert low == pytest.approx(2_000.0, abs=10.0)
    assert high == pytest.approx(3_100.0, abs=10.0)
