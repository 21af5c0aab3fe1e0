"""What a day without a network needs, from services that speak as the open ones do."""

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from pmtiles import reader, writer
from pmtiles.tile import Compression, TileType, tileid_to_zxy, zxy_to_tileid

from groundstation import config
from groundstation.cli import cli
from groundstation.geo.pmtiles import tile_number
from groundstation.prepare import services as known
from groundstation.prepare.download import FetchError, MissingError, get, to_file
from groundstation.prepare.map_region import Source, covers, fetch_cut, planned_cut
from groundstation.prepare.record import fetched_from
from groundstation.prepare.region import Region
from groundstation.prepare.services import FORECAST, SERVICES, table
from groundstation.prepare.settings import PrepareSettings
from groundstation.prepare.terrain import fetch_tile, tile_name
from groundstation.weather.terrain import Tiles
from tests.support.configurations import PLANNED
from tests.support.open_services import RUN_UTC, Services, country, packed_tile, serving

# The library has no types.
Reader: Any = reader.Reader
MmapSource: Any = reader.MmapSource
Writer: Any = writer.Writer
ROOT = Path(__file__).resolve().parents[2]
PREPARED = """
[prepare]
forecast = "{address}"
forecast_runs = "ncep_gfs025"
terrain = "{address}/skadi"
villages = "{address}/dump"
map = "{address}/build.pmtiles"
map_zoom = 9
"""
BOX = (46.5, 19.5, 47.7, 21.2)


@pytest.fixture
def services(monkeypatch: pytest.MonkeyPatch) -> Iterator[Services]:
    """In the place of those that are known, so that their terms are told."""
    with serving(Services()) as made:
        for name, path in (("FORECAST", ""), ("TERRAIN", "/skadi"), ("VILLAGES", "/dump")):
            there = replace(getattr(known, name), address=f"{made.address}{path}")
            monkeypatch.setattr(known, name, there)
        yield made


def map_build(deepest: int = 10) -> bytes:
    """Tiles around the Great Hungarian Plain, whose bytes name them, and seas that are alike."""
    out = io.BytesIO()
    made = Writer(out)
    for zoom in range(deepest + 1):
        side = 1 << zoom
        numbers = []
        for x in range(side * 185 // 360, side * 210 // 360 + 1):
            for y in range(int(side * 0.33), int(side * 0.38) + 1):
                numbers.append((zxy_to_tileid(zoom, x, y), x, y))
        for number, x, y in sorted(numbers):
            sea = (x + y) % 3 == 0
            made.write_tile(number, b"sea" if sea else f"{zoom}/{x}/{y}".encode() * 40)
    made.finalize(
        {
            "tile_type": TileType.MVT, "tile_compression": Compression.GZIP, "min_zoom": 0,
            "max_zoom": deepest, "min_lon_e7": 0, "min_lat_e7": 0, "max_lon_e7": 300_000_000,
            "max_lat_e7": 600_000_000, "center_zoom": 5, "center_lon_e7": 0, "center_lat_e7": 0,
        },
        {"attribution": "© invented"},
    )  # fmt: skip
    return out.getvalue()


def ready(services: Services, folder: Path) -> Path:
    for south in range(45, 50):
        for west in range(17, 24):
            if (south, west) != (45, 17):  # as if it were sea
                name = tile_name(south, west)
                services.files[f"/skadi/{name[:3]}/{name}.hgt.gz"] = packed_tile(100)
    for code in ("HU", "RO", "RS", "SK", "HR", "UA", "BA", "AT", "SI", "PL", "CZ"):
        services.files[f"/dump/{code}.zip"] = country(
            code,
            [("Kanalaspuszta", 47.05, 20.31, "P", "PPL", 40), ("Tó", 47.1, 20.3, "H", "LK", 0),
             ("Régi", 47.1, 20.31, "P", "PPLH", 0), ("Messze", 10.0, 20.31, "P", "PPL", 9)]
            if code == "HU" else [],
        )  # fmt: skip
    services.files["/build.pmtiles"] = map_build()
    (folder / "flight.toml").write_bytes((ROOT / "config" / "flight.toml").read_bytes())
    path = folder / "station.toml"
    path.write_text(PLANNED + PREPARED.format(address=services.address), encoding="utf-8")
    return path


def said(*arguments: str) -> Result:
    return CliRunner().invoke(cli, [*arguments], catch_exceptions=False)


def test_one_command_brings_all_and_the_station_uses_it(services: Services, tmp_path: Path) -> None:
    path = ready(services, tmp_path)
    before = said("prepare", "--config", str(path), "--check")
    assert before.exit_code == 1
    for what in ("forecast", "terrain tiles", "villages", "map of the region"):
        assert any(what in one for one in before.output.splitlines() if "missing" in one), what
    done = said("prepare", "--config", str(path), "--radius", "60 km")
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    for name, licence in (
        ("forecast", "CC BY 4.0"), ("terrain", "open"), ("villages", "CC BY 4.0"), ("map", "ODbL"),
    ):  # fmt: skip
        [line] = [one for one in lines if one.startswith(f"{name}: ")]
        assert licence in line
        assert " MB from " in line
    assert "run of 2026-05-16 00:00 UTC" in lines[0]
    assert "from Open-Meteo," in lines[0]
    assert f"from {services.address}/build.pmtiles," in lines[-2]
    kept = json.loads((tmp_path / "data" / "prepared" / "prepared.json").read_text())
    assert [one["what"] for one in kept] == ["forecast", "terrain", "villages", "map"]
    assert kept[0]["made_utc"] == RUN_UTC

    # What is there is not asked for again.
    services.asked.clear()
    said("prepare", "--config", str(path), "--radius", "60 km", "--only", "terrain")
    assert services.asked == []
    after = said("prepare", "--config", str(path), "--radius", "60 km", "--check")
    assert [one for one in after.output.splitlines() if one.startswith("missing")] == [
        "missing: a newer forecast: the one there is of 2026-05-16 00:00 UTC"
    ]

    settings = config.load(path, {})
    rows = (tmp_path / "data" / "prepared" / "forecast.csv").read_text().splitlines()
    assert rows[0].endswith("issued,spread_ms")
    first_utc = np.datetime64(rows[1].split(",")[0].rstrip("Z"), "s").astype(float)
    [flight] = config.flight_settings(settings, float(first_utc) + 3_600.0)
    assert flight.aloft is not None
    assert flight.aloft.name.startswith(
        "forecast by Open-Meteo.com (CC BY 4.0), from NOAA GFS (run"
    )
    assert "run of 2026-05-16 00:00 UTC" in flight.aloft.name
    assert flight.aloft.fall is not None  # the wind changes on the way
    assert flight.plan.landing is not None
    assert flight.terrain is not None
    ground = flight.terrain.heights_m(np.array([47.1]), np.array([20.3]))
    assert ground == pytest.approx([100.0])
    town = config.places_of(settings).nearest(47.05, 20.31)
    assert town is not None
    assert town.name == "Kanalaspuszta"


def test_another_address_has_terms_of_its_own() -> None:
    region = Region(latitude_deg=47.1, longitude_deg=20.3, radius_m=1e5)
    own = fetched_from(
        "forecast", FORECAST, "https://mine.example.org", region, size_bytes=1, fetched_utc=0.0
    )
    assert (own.source, own.credit) == ("https://mine.example.org",) * 2
    assert "CC BY" not in own.licence
    theirs = fetched_from(
        "forecast", FORECAST, FORECAST.address, region, size_bytes=1, fetched_utc=0.0
    )
    assert theirs.licence == "CC BY 4.0"


def test_a_service_that_fails_is_named_and_the_rest_is_brought(
    services: Services, tmp_path: Path
) -> None:
    path = ready(services, tmp_path)
    del services.files["/dump/HU.zip"]
    done = CliRunner().invoke(cli, ["prepare", "--config", str(path), "--radius", "60 km"])
    assert "villages: not brought: " in done.output
    assert "HU.zip is not there (404)" in done.output
    assert "map: " in done.output.split("villages")[-1]
    assert "1 of 4 could not be brought; call again, what is there stays" in str(done.exception)


def test_a_file_that_was_cut_off_is_gone_on_with(services: Services, tmp_path: Path) -> None:
    services.files["/large"] = bytes(range(256)) * 20_000
    services.break_after = 1_000_000
    out = tmp_path / "large"
    told: list[int] = []
    with pytest.raises(FetchError, match="call again, it goes on from there"):
        to_file(f"{services.address}/large", out, 10_000_000, lambda have, _: told.append(have))
    assert not out.exists()
    had = (tmp_path / "large.part").stat().st_size
    assert had > 0
    to_file(f"{services.address}/large", out, 10_000_000, lambda have, _: told.append(have))
    assert out.read_bytes() == services.files["/large"]
    assert told[-1] == len(services.files["/large"])
    # Another file meanwhile: begun anew, never mixed.
    services.break_after = 1_000_000
    with pytest.raises(FetchError):
        to_file(f"{services.address}/large", out, 10_000_000, lambda *_: None)
    services.files["/large"] = bytes(3_000_000)
    to_file(f"{services.address}/large", out, 10_000_000, lambda *_: None)
    assert out.read_bytes() == bytes(3_000_000)


def test_a_region_of_a_map_is_cut_out_and_reads_as_the_whole_does(
    services: Services, tmp_path: Path
) -> None:
    """The whole and the part are read by the format's own library (pmtiles)."""
    services.files["/build.pmtiles"] = whole = map_build()
    source = Source(f"{services.address}/build.pmtiles")
    cut = planned_cut(source, BOX, 9)
    path = fetch_cut(source, cut, tmp_path, lambda *_: None)
    (tmp_path / "whole.pmtiles").write_bytes(whole)
    with path.open("rb") as part, (tmp_path / "whole.pmtiles").open("rb") as all_of_it:
        mine, theirs = Reader(MmapSource(part)), Reader(MmapSource(all_of_it))
        head = mine.header()
        assert (head["max_zoom"], head["tile_type"]) == (9, TileType.MVT)
        assert head["min_lon_e7"] == 195_000_000
        assert mine.metadata() == {"attribution": "© invented"}
        checked = 0
        for one in cut.wanted:
            zxy = tileid_to_zxy(one.tile)
            assert mine.get(*zxy) == theirs.get(*zxy)
            checked += 1
        assert checked > 20
        # The tile of the site at the deepest zoom, by the usual formula of slippy maps.
        assert mine.get(9, 284, 179) == theirs.get(9, 284, 179) is not None
        assert mine.get(9, 250, 179) is None
    assert covers(path, BOX)
    assert not covers(path, (46.5, 19.5, 47.7, 22.0))
    assert len(services.asked) < len(cut.wanted)


def test_a_map_that_was_cut_off_goes_on_where_it_was(
    services: Services, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("groundstation.prepare.map_region.PIECE_BYTES", 2_000)
    monkeypatch.setattr("groundstation.prepare.map_region.GAP_BYTES", 0)
    services.files["/build.pmtiles"] = map_build()
    source = Source(f"{services.address}/build.pmtiles")
    whole = fetch_cut(source, planned_cut(source, BOX, 9), tmp_path / "a", lambda *_: None)
    pieces = len(services.asked)
    services.asked.clear()

    def stop_half_way(have: int, total: int | None) -> None:
        assert total is not None
        if have > total / 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch_cut(source, planned_cut(source, BOX, 9), tmp_path / "b", stop_half_way)
    services.asked.clear()
    again = fetch_cut(source, planned_cut(source, BOX, 9), tmp_path / "b", lambda *_: None)
    assert again.read_bytes() == whole.read_bytes()
    assert len(services.asked) < pieces
    assert [one.name for one in (tmp_path / "b").iterdir()] == ["region.pmtiles"]


def test_who_gives_no_pieces_is_not_asked_for_a_planet(services: Services) -> None:
    services.files["/build.pmtiles"] = map_build(4)
    services.ranges = False
    with pytest.raises(FetchError, match="gives no pieces of a file"):
        planned_cut(Source(f"{services.address}/build.pmtiles"), BOX, 9)


def test_tiles_are_numbered_as_the_format_numbers_them() -> None:
    for zoom in range(6):
        for x in range(1 << zoom):
            for y in range(1 << zoom):
                assert tile_number(zoom, x, y) == zxy_to_tileid(zoom, x, y)


def test_what_is_damaged_or_elsewhere_is_told(services: Services, tmp_path: Path) -> None:
    services.files["/skadi/N47/N47E020.hgt.gz"] = b"\x1f\x8b rubbish"
    with pytest.raises(Exception, match=r"N47E020\.hgt\.gz from .* is damaged"):
        fetch_tile(f"{services.address}/skadi", "N47E020", tmp_path, lambda *_: None)
    with pytest.raises(MissingError):
        get(f"{services.address}/nothing", 1_000)
    with pytest.raises(FetchError, match="see whether there is a network"):
        get("http://127.0.0.1:9/", 1_000)
    services.files["/much"] = bytes(5_000)
    with pytest.raises(FetchError, match="gives more than"):
        get(f"{services.address}/much", 1_000)


def test_a_folder_of_ones_own_is_as_good_as_a_service(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "N47E020.hgt.gz").write_bytes(packed_tile(90))
    assert fetch_tile(str(own), "N47E020", tmp_path / "to", lambda *_: None) == 1201 * 1201 * 2
    with pytest.raises(Exception, match=r"holds no N48E020\.hgt"):
        fetch_tile(str(own), "N48E020", tmp_path / "to", lambda *_: None)
    (own / "map.pmtiles").write_bytes(map_build(6))
    source = Source(str(own / "map.pmtiles"))
    path = fetch_cut(source, planned_cut(source, BOX, 9), tmp_path / "to", lambda *_: None)
    assert covers(path, BOX)


def test_a_fine_tile_is_kept_at_three_arc_seconds(tmp_path: Path) -> None:
    """SRTM: the samples of both lie on the degree lines, so each third is the same place."""
    own = tmp_path / "own"
    own.mkdir()
    fine = (np.arange(3601)[:, None] + np.arange(3601)[None, :]).astype(">i2")
    (own / "N47E020.hgt").write_bytes(fine.tobytes())
    assert fetch_tile(str(own), "N47E020", tmp_path, lambda *_: None) == 1201 * 1201 * 2
    kept, whole = Tiles(tmp_path), Tiles(own)
    lat, lon = np.array([47.0, 47.25, 47.999, 47.9999]), np.array([20.0, 20.7, 20.5, 20.999])
    assert kept.heights_m(lat, lon) == pytest.approx(whole.heights_m(lat, lon), abs=0.01)


def test_a_region_at_the_date_line_has_tiles_on_both_sides() -> None:
    region = Region(latitude_deg=-17.5, longitude_deg=179.9, radius_m=60_000.0)
    assert {tile_name(*corner) for corner in region.tiles()} >= {"S18E179", "S18W180"}
    south, west, north, east = region.box
    assert west > 179.0
    assert east < -179.0
    assert north - south == pytest.approx(2 * 60_000.0 / 110_600.0, rel=0.01)
    assert len({lon for _, lon in region.columns(3)}) == 3


@pytest.mark.parametrize("given", [{"radius_m": 1.0}, {"forecast_every_s": 60.0}, {"map_zoom": 20}])
def test_bounds_of_what_is_asked_for(given: dict[str, float]) -> None:
    with pytest.raises(Exception, match=r"prepare\."):
        PrepareSettings(**given)  # type: ignore[arg-type]


def test_every_service_stands_in_the_readme_with_its_terms() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert table() in readme
    assert len(SERVICES) == 7


def test_a_plan_asks_for_the_forecast_of_its_hours_and_finds_it_again(
    services: Services, tmp_path: Path
) -> None:
    path = ready(services, tmp_path)
    flight = str(tmp_path / "flight.toml")
    wanted = ("plan", flight, "--config", str(path), "--launch", "2026-05-16T08:30:00Z")
    without = said(*wanted)
    assert "Landing\n" not in without.output
    done = said(*wanted, "--fetch", "--sweep", "2")
    assert done.exit_code == 0, done.output
    assert services.asked[-1].startswith("/v1/forecast?")
    assert "start_date=2026-05-16&end_date=2026-05-16" in services.asked[-1]
    assert "Landing\n" in done.output
    assert "run of 2026-05-16 00:00 UTC, 8 h before" in done.output
    services.asked.clear()
    again = said(*wanted)
    assert "run of 2026-05-16 00:00 UTC" in again.output
    assert services.asked == []
    refused = CliRunner().invoke(cli, ["plan", flight, "--fetch"])
    assert "--fetch needs --config" in str(refused.exception)
