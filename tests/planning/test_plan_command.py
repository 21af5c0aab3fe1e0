"""The plan command, as a person types it; what is wrong in a flight file is told in words."""

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from groundstation.physics.geodesy import Plane, distance_m
from tests.support.plans import EXAMPLE, changed, run, told, winds


def test_the_example_is_solved_and_says_what_to_do() -> None:
    done = run(EXAMPLE, "--checklist")
    assert done.returncode == 0, done.stderr
    for line in (
        r"  helium +3\.36 m³ at the site, 1\.86 m across",
        r"  neck lift to weigh +2\.52 kg",
        r"  from the cylinder +78 bar",
        r"  ascent rate +5\.0 m/s  \(\d\.\d to \d\.\d; ",
        r"  below +one package: 0\.90, threshold 2\.72 kg \(14 CFR 101.1\(a\)\(4\)\(ii\), ed.*read",
        r"class light \(SERA",
        r"Ask your authority",
        r"  \[ \] Neck lift weighed out of the wind",
    ):
        assert re.search(line, done.stdout), done.stdout


def test_every_direction_comes_back_to_the_same_flight(tmp_path: Path) -> None:
    """Neck lift, burst height and cylinder from one another: to 0.1 %."""
    first = told(EXAMPLE)
    neck, burst = first["neck_lift_kg"], first["burst_altitude_m"]["value"]
    aim = 'what = "ascent-rate"'
    by_neck = told(
        changed(tmp_path, (aim, 'what = "neck-lift"'),
                ('#neck_lift_kg = "2100 g"', f"neck_lift_kg = {neck}"))
    )  # fmt: skip
    by_burst = told(
        changed(tmp_path, (aim, 'what = "burst-altitude"'),
                ('#burst_altitude_m = "30 km"', f"burst_altitude_m = {burst}"))
    )  # fmt: skip
    rest = 200e5 - first["cylinder_used_pa"]
    by_gas = told(
        changed(tmp_path, (aim, 'what = "cylinder"'), ('#rest_pa = "2 bar"', f"rest_pa = {rest}"))
    )
    for back in (by_neck, by_burst, by_gas):
        assert back["ascent_rate_ms"]["value"] == pytest.approx(5.0, rel=1e-3)
        assert back["volume_m3"] == pytest.approx(first["volume_m3"], rel=1e-3)
        assert back["burst_altitude_m"]["value"] == pytest.approx(burst, rel=1e-3)


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ('mass_kg = "900 g"', "mass_kg = 900", "did you mean 0.9 kg, which is 900 g?"),
        ('mass_kg = "1000 g"', "mass_kg = 1000", "did you mean 1 kg"),
        ("#burst_diameter_m = 7.9", "burst_diameter_m = 3.9", "does not fit a balloon of 1 kg"),
        ('kind = "helium"', 'kind = "hydrogen"', "is missing: hydrogen"),
        ("#purity = 0.995", "purity = 99.5", "give 0.995 for 99.5 %"),
        ('volume_m3 = "50 l"', "volume_m3 = 50", 'such as "50 l"'),
        ('pressure_pa = "200 bar"', "pressure_pa = 200", 'such as "200 bar"'),
        ('diameter_m = "1.2 m"', "diameter_m = 120", 'such as "90 cm"'),
        ('kind = "flat circular"', 'kind = "round"', "is not known; one of flat circular"),
        ("#temperature_k = \"15 degC\"\n#pressure", "temperature_k = 15\n#pressure", '"15 degC"'),
        ("altitude_m = 85.0", 'altitude_m = "85 kg"', "85 kg"),
        ("ascent_rate_ms = 5.0", "ascent_rate_ms = 500", "between 1 and 12 m/s"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_in_words(tmp_path: Path, before: str, after: str, says: str) -> None:
    done = run(changed(tmp_path, (before, after)))
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stdout == ""


def test_what_can_not_fly_is_told(tmp_path: Path) -> None:
    path = changed(
        tmp_path, ('what = "ascent-rate"', 'what = "neck-lift"'),
        ('#neck_lift_kg = "2100 g"', "neck_lift_kg = 1.1"),
    )  # fmt: skip
    done = run(path)
    assert done.returncode != 0
    assert "it would stay on the ground" in done.stderr


def test_marginal_flights_are_named(tmp_path: Path) -> None:
    slow = told(changed(tmp_path, ("ascent_rate_ms = 5.0", "ascent_rate_ms = 2.0")))
    assert any("may make it float" in one for one in slow["warnings"])
    hard = told(changed(tmp_path, ('diameter_m = "1.2 m"', 'diameter_m = "60 cm"')))
    assert any("larger parachute" in one for one in hard["warnings"])
    empty = told(changed(tmp_path, ('pressure_pa = "200 bar"', 'pressure_pa = "60 bar"')))
    assert any("take a fuller or a second one" in one for one in empty["warnings"])
    burns = told(changed(tmp_path, ('kind = "helium"\n#purity', 'kind = "hydrogen"\npurity')))
    assert any("Hydrogen burns" in one for one in burns["warnings"])


def test_it_lands_downwind_and_each_hour_anew(tmp_path: Path) -> None:
    box = [[21.0, 46.5], [23.0, 46.5], [23.0, 47.7], [21.0, 47.7], [21.0, 46.5]]
    area = {"type": "Feature", "properties": {"kind": "town", "name": "East"},
            "geometry": {"type": "Polygon", "coordinates": [box]}}  # fmt: skip
    keep_out = tmp_path / "towns.geojson"
    keep_out.write_text(json.dumps({"type": "FeatureCollection", "features": [area]}))
    found = told(EXAMPLE, "--winds", winds(tmp_path), "--sweep", "6", "--keep-out", keep_out)
    landings = found["landings"]
    assert len(landings) == 7
    assert landings[0]["launch"] == "2026-05-16T08:30:00Z"
    # The wind is from the west: the point is east of the site, and the town holds most of it.
    assert landings[0]["lon"] > 20.8
    assert abs(landings[0]["lat"] - 47.1) < 0.3
    assert landings[0]["keep_out"]["town East"] > 0.5
    radii = [one["radius_90_m"] for one in landings]
    assert radii[-1] > radii[0], "older winds say less"


def test_winds_that_do_not_do_are_refused(tmp_path: Path) -> None:
    low = run(EXAMPLE, "--winds", winds(tmp_path, top_m=11_000.0))
    assert low.returncode != 0
    assert "the winds end at 11.0 km" in low.stderr
    old = run(EXAMPLE, "--winds", winds(tmp_path, at="2026-05-01T06:00:00Z"))
    assert "get some of that day" in old.stderr
    none = run(EXAMPLE, "--winds", tmp_path / "none.csv")
    assert "cannot read the winds" in none.stderr


def winds_of(sounding: Path, header: str) -> list[tuple[float, float, float]]:
    """(height, m; east and north wind, m/s) of one sounding, by the columns of the format's own
    description (NOAA, igra2-data-format)."""
    found, inside = [], False
    for line in sounding.read_text().splitlines():
        if line.startswith("#"):
            inside = line[13:26] == header
            continue
        height, way, speed = int(line[16:21]), int(line[40:45]), int(line[46:51])
        if inside and height >= 0 and way >= 0 and speed >= 0:
            toward = math.radians(way + 180.0)
            found.append(
                (float(height), speed / 10 * math.sin(toward), speed / 10 * math.cos(toward))
            )
    return found


def test_a_real_sounding_is_flown_through(shared: Path) -> None:
    """IGRA v2, 1 June 2010: up at 5 m/s, down on the root of the density with a scale height of
    7 km, each layer's wind for the time in it; summed here by hand."""
    sounding = shared / "soundings" / "igra2_USM00070026.txt"
    found = told(EXAMPLE, "--winds", sounding, "--launch", "2010-06-01T00:30:00Z")
    landing = found["landings"][0]
    heights, east, north = zip(*winds_of(sounding, "2010 06 01 00"), strict=True)
    layers = np.arange(85.0, found["burst_altitude_m"]["value"], 50.0)
    ground_ms = found["descent_rate_ms"]["value"]
    in_it_s = 50.0 / found["ascent_rate_ms"]["value"]
    in_it_s += 50.0 / (ground_ms * np.exp(layers / 2.0 / 7_000.0))
    drift = [float(np.sum(in_it_s * np.interp(layers, heights, one))) for one in (east, north)]
    lat, lon = Plane(47.1, 20.3).to_latlon(*drift)
    assert math.hypot(*drift) > 50_000.0
    assert distance_m(landing["lat"], landing["lon"], float(lat), float(lon)) < 8_000.0
    assert landing["radius_50_m"] > 0.0


def test_a_file_that_can_not_be_written_is_told(tmp_path: Path) -> None:
    there = tmp_path / "no" / "brief.html"
    done = run(EXAMPLE, "--winds", winds(tmp_path), "--brief", there)
    assert done.returncode != 0
    assert f"{there} can't be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_sites_are_ranked(tmp_path: Path) -> None:
    far = '[[candidate]]\nname = "far"\nlatitude_deg = 45.5\nlongitude_deg = 20.3\n\n[reference]'
    path = changed(tmp_path, ("[reference]", far))
    box = [[21.0, 46.5], [23.0, 46.5], [23.0, 47.7], [21.0, 47.7], [21.0, 46.5]]
    area = {"type": "Feature", "properties": {"kind": "town", "name": "East"},
            "geometry": {"type": "Polygon", "coordinates": [box]}}  # fmt: skip
    keep_out = tmp_path / "towns.geojson"
    keep_out.write_text(json.dumps({"type": "FeatureCollection", "features": [area]}))
    done = run(path, "--winds", winds(tmp_path), "--keep-out", keep_out)
    assert done.returncode == 0, done.stderr
    order = re.findall(r"^  \d\. (.+): (\d+) %", done.stdout, re.MULTILINE)
    assert [name for name, _ in order] == ["far", "the Circle's field"]
    assert int(order[0][1]) < int(order[1][1])
