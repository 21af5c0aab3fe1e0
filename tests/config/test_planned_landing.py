"""Where a station takes the planned landing from."""

from pathlib import Path

import pytest

from groundstation import config
from groundstation.errors import ConfigurationError
from groundstation.flight.settings import FlightSettings
from groundstation.physics.geodesy import distance_m
from tests.support.configurations import PLANNED

CONFIG = Path(__file__).resolve().parents[2] / "config"
GIVEN = """
[landing]
latitude_deg = 47.28
longitude_deg = 20.83
radius_90_m = "15 km"
"""


def planned(folder: Path, flight: str, winds: str = "") -> FlightSettings:
    path = folder / "station.toml"
    path.write_text(PLANNED + winds, encoding="utf-8")
    (folder / "flight.toml").write_text(flight, encoding="utf-8")
    [settings] = config.flight_settings(config.load(path, {}), 1_778_920_200.0)
    return settings


def test_that_of_the_flight_file_counts(tmp_path: Path) -> None:
    flight = (CONFIG / "flight.toml").read_text(encoding="utf-8")
    winds = f'[landing]\nwinds = "{CONFIG / "winds-example.csv"}"\n'
    for more in ("", winds):
        landing = planned(tmp_path, flight + GIVEN, more).plan.landing
        assert landing is not None
        assert (landing.latitude_deg, landing.radius_90_m) == (47.28, 15_000.0)


def test_with_winds_aloft_the_station_makes_one(tmp_path: Path) -> None:
    flight = (CONFIG / "flight.toml").read_text(encoding="utf-8")
    assert planned(tmp_path, flight).plan.landing is None
    winds = f'[landing]\nwinds = "{CONFIG / "winds-example.csv"}"\n'
    landing = planned(tmp_path, flight, winds).plan.landing
    assert landing is not None
    away = distance_m(47.10, 20.30, landing.latitude_deg, landing.longitude_deg)
    assert 5_000.0 < away < 300_000.0
    assert 1_000.0 < landing.radius_90_m < away


@pytest.mark.parametrize("wrong", ["latitude_deg = 147.28", "radius_90_m = 0.0"])
def test_a_landing_that_cannot_be_is_refused(tmp_path: Path, wrong: str) -> None:
    flight = (CONFIG / "flight.toml").read_text(encoding="utf-8")
    name = wrong.split(maxsplit=1)[0]
    lines = [wrong if line.startswith(name) else line for line in GIVEN.splitlines()]
    with pytest.raises(ConfigurationError):
        planned(tmp_path, flight + "\n".join(lines))
