"""Winds gathered into one file: JSON from a real HTTP server, GRIB2 made by ecCodes itself."""

import json
import math
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import eccodes
import numpy as np
import pytest

from groundstation.errors import InputFileError
from groundstation.jobs.winds import gather
from groundstation.planning.read_field import read_field
from groundstation.prepare.download import FetchError
from groundstation.prepare.forecast import LEVELS_HPA, Asked
from groundstation.weather.forecast_json import read_forecast
from groundstation.weather.grib import read_grib
from groundstation.weather.wind_table import EARTH_M
from groundstation.weather.winds import read_all_winds
from tests.support.open_services import HEIGHTS_M, RUN_UTC, Services, eastward_ms, serving

PACKINGS = (
    "grid_simple",
    "grid_ieee",
    "grid_ccsds",
    "grid_complex",
    "grid_complex_spatial_differencing",
    "grid_jpeg",
    "grid_png",
)


def forecast(unit: str = "km/h", **changes: Any) -> dict[str, Any]:
    """As such services answer: three hours, two levels."""
    hourly = {
        "time": ["2026-05-16T06:00", "2026-05-16T07:00", "2026-05-16T08:00"],
        "wind_speed_850hPa": [36.0, 37.0, None],
        "wind_direction_850hPa": [270, 271, 272],
        "geopotential_height_850hPa": [1500.0, 1501.0, 1502.0],
        "windspeed_500hPa": [72.0, 73.0, 74.0],
        "winddirection_500hPa": [180, 181, 182],
        "geopotential_height_500hPa": [5600.0, 5601.0, 5602.0],
        "temperature_850hPa": [5.0, 5.0, 5.0],
    }
    units = dict.fromkeys(hourly, "") | {
        "wind_speed_850hPa": unit, "windspeed_500hPa": unit,
        "geopotential_height_850hPa": "m", "geopotential_height_500hPa": "m",
    }  # fmt: skip
    return {"utc_offset_seconds": 0, "hourly_units": units, "hourly": hourly, **changes}


def test_json_is_read_with_its_units_and_hours() -> None:
    tables = read_forecast(json.dumps(forecast()), "x")
    # The third hour has one level left, which is no profile.
    assert len(tables) == 2
    assert tables[0].time_utc == 1_778_911_200.0
    # 36 km/h from the west are 10 m/s to the east; geometric heights are a little higher.
    assert tables[0].east_ms[0] == pytest.approx(10.0)
    assert tables[0].north_ms[1] == pytest.approx(20.0)
    assert tables[0].height_m[1] == pytest.approx(EARTH_M * 5600.0 / (EARTH_M - 5600.0))
    knots = read_forecast(json.dumps(forecast("kn")), "x")
    assert knots[0].east_ms[0] == pytest.approx(36.0 * 1852.0 / 3600.0)
    later = read_forecast(json.dumps(forecast(utc_offset_seconds=7200)), "x")
    assert later[0].time_utc == 1_778_911_200.0 - 7200.0


@pytest.mark.parametrize(
    "text",
    ["{}", '{"hourly": 5}', '{"hourly": {"time": ["x"]}, "hourly_units": {}}', "[", "[" * 100_000,
     json.dumps(forecast("furlongs")), json.dumps(forecast() | {"hourly": {"time": []}})],
)  # fmt: skip
def test_what_is_no_forecast_is_refused(text: str) -> None:
    with pytest.raises(InputFileError):
        read_forecast(text, "x")


def test_a_service_is_asked_and_the_file_reads_back_with_its_run(tmp_path: Path) -> None:
    out = tmp_path / "winds.csv"
    with serving(Services()) as service:
        asked = Asked(address=service.address, model="gfs_global", runs="ncep_gfs025")
        lines = list(gather((), (47.1, 20.3), (asked, 48), out))
    assert service.asked[0] == "/data/ncep_gfs025/static/meta.json"
    query = parse_qs(urlsplit(service.asked[1]).query)
    assert query["latitude"] == ["47.1000"]
    assert query["wind_speed_unit"] == ["ms"]
    assert query["models"] == ["gfs_global"]
    assert len(query["hourly"][0].split(",")) == 3 * len(LEVELS_HPA)
    assert f": {len(HEIGHTS_M)} levels" in lines[0]
    assert lines[0].endswith("made 2026-05-16T00:00:00Z")
    back = read_all_winds(out)
    assert len(back) == 48
    assert {one.issued_utc for one in back} == {RUN_UTC}
    assert {one.place for one in back} == {(47.1, 20.3)}
    hour = datetime.fromtimestamp(back[0].time_utc or 0.0, UTC).hour
    wanted = [eastward_ms(level, hour, 20.25) for level in HEIGHTS_M]
    assert back[0].east_ms == pytest.approx(wanted, abs=0.1)


def test_an_ensemble_gives_its_mean_and_how_far_it_spreads(tmp_path: Path) -> None:
    """Five members 2 m/s apart: their variance is 4 (1 + 0 + 1 + 4 + 4) / 4 = 10 m2/s2 along the
    wind and none across, so the root of the mean of both is 5 ** 0.5."""
    out = tmp_path / "winds.csv"
    with serving(Services(members=5, run_utc=None)) as service:
        asked = Asked(address=service.address, ensemble=True)
        list(gather((), (47.1, 20.3), (asked, 3), out))
    assert service.asked[0].startswith("/v1/ensemble?")
    back = read_all_winds(out)
    hour = datetime.fromtimestamp(back[0].time_utc or 0.0, UTC).hour
    assert back[0].east_ms[0] == pytest.approx(eastward_ms(1000, hour, 20.25), abs=0.1)
    assert back[0].spread_ms == pytest.approx(5.0**0.5, abs=0.01)
    assert back[0].issued_utc is None
    [first, *_] = read_field([out], 0.0).winds
    assert first.aloft.sd_ms == pytest.approx((2.2**2 + 5.0) ** 0.5, abs=0.01)


def test_a_service_that_is_not_there_is_told(tmp_path: Path) -> None:
    for address in ("http://127.0.0.1:9", "file:///etc/passwd", "forecast"):
        with pytest.raises(FetchError):
            list(gather((), (47.1, 20.3), (Asked(address=address), 48), tmp_path / "x"))


def grib(path: Path, packing: str) -> dict[tuple[str, int], np.ndarray[Any, Any]]:
    """u, v and gh on three levels and a grid of 16 by 31, packed so; gives what ecCodes decodes."""
    # Rounded: noise down to the last bit gets longer as PNG, for which ecCodes leaves no room.
    rng = np.random.default_rng(7)
    decoded = {}
    with path.open("wb") as file:
        for level, height in ((850, 1_500.0), (500, 5_600.0), (100, 16_200.0)):
            for name, values in (
                ("u", rng.normal(12.0, 5.0, 496).round()),
                ("v", rng.normal(-3.0, 5.0, 496).round()),
                ("gh", rng.normal(height, 20.0, 496).round(-1)),
            ):  # fmt: skip
                handle = eccodes.codes_grib_new_from_samples("regular_ll_pl_grib2")
                eccodes.codes_set(handle, "shortName", name)
                eccodes.codes_set(handle, "level", level)
                eccodes.codes_set(handle, "dataDate", 20260516)
                eccodes.codes_set(handle, "dataTime", 600)
                eccodes.codes_set(handle, "step", 3)
                eccodes.codes_set(handle, "bitsPerValue", 16)
                eccodes.codes_set(handle, "packingType", packing)
                eccodes.codes_set_values(handle, values)
                eccodes.codes_write(handle, file)
                decoded[name, level] = eccodes.codes_get_values(handle)
                lats = eccodes.codes_get_array(handle, "latitudes")
                lons = eccodes.codes_get_array(handle, "longitudes")
                eccodes.codes_release(handle)
    decoded["lat", 0], decoded["lon", 0] = lats, lons
    return decoded


@pytest.mark.parametrize("packing", PACKINGS)
def test_grib_in_every_packing_reads_back_exactly(tmp_path: Path, packing: str) -> None:
    """Against ecCodes' own decoding of the messages it made from its own sample."""
    path = tmp_path / "field.grib2"
    try:
        there = grib(path, packing)
    except eccodes.CodesInternalError as error:
        pytest.fail(f"ecCodes can't write {packing}: {error}")
    n = 200
    lat, lon = float(there["lat", 0][n]), float(there["lon", 0][n])
    [table] = read_grib(path, lat, lon)
    # 06:00 and three hours.
    assert table.time_utc == 1_778_911_200.0 + 3 * 3600.0
    assert table.issued_utc == 1_778_911_200.0
    levels = (850, 500, 100)
    assert table.east_ms.tolist() == [there["u", one][n] for one in levels]
    assert table.north_ms.tolist() == [there["v", one][n] for one in levels]
    for height, level in zip(table.height_m, levels, strict=True):
        gh = there["gh", level][n]
        assert height == EARTH_M * gh / (EARTH_M - gh)
    assert all(math.isfinite(one) for one in table.height_m)


def test_grib_that_is_cut_off_or_holds_no_winds_is_told(tmp_path: Path) -> None:
    path = tmp_path / "field.grib2"
    grib(path, "grid_simple")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 9 - 40])
    with pytest.raises(InputFileError):
        read_grib(path, 47.1, 20.3)
    path.write_bytes(b"GRIB and nothing else")
    with pytest.raises(InputFileError):
        read_grib(path, 47.1, 20.3)
    with pytest.raises(InputFileError, match="say where"):
        list(gather((path,), None, None, tmp_path / "x"))
