"""Areas in which it must not come down: how much of the ensemble does, and that it is told once."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groundstation import config
from groundstation.flight.alert_records import Alert, MayLandInside
from groundstation.flight.estimate import estimate, landing_points
from groundstation.flight.events import Estimated
from groundstation.flight.fold import step
from groundstation.flight.settings import FlightSettings, KeepOut, PlanSettings
from groundstation.flight.state import FlightState
from groundstation.physics.region import inside
from groundstation.physics.wind import WindsAloft
from groundstation.planning.forecast import _just_launched
from groundstation.planning.settings import SiteSettings
from groundstation.records import Landing
from groundstation.schema.landing import landing_json

PLAN = PlanSettings(burst_altitude_sd_m=500.0, ascent_rate_sd_ms=0.3, descent_rate_ms=6.0)
SITE = SiteSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)
WEST = WindsAloft.of("west", np.array([0.0, 4e4]), np.full(2, 10.0), np.zeros(2), 1.0)


def box(name: str, south: float, west: float, north: float, east: float) -> KeepOut:
    ring = ((south, west), (south, east), (north, east), (north, west), (south, west))
    return KeepOut(name=name, rings=(ring,))


def flown(*keep_outs: KeepOut) -> tuple[FlightSettings, FlightState, Landing]:
    settings = FlightSettings(
        payload="kanalas-1", trackers=(), plan=PLAN, ground_m=85.0, aloft=WEST, keep_outs=keep_outs
    )
    state = _just_launched("kanalas-1", SITE, PLAN, WEST, 1_778_920_200.0)
    landing = estimate(settings, state)
    assert landing is not None
    return settings, state, landing


def test_inside_is_the_even_odd_rule() -> None:
    """A square with a hole, points on a lattice: by hand 7² of 9² lie inside, 3² of those in the
    hole."""
    xs, ys = (one.reshape(-1) for one in np.meshgrid(np.arange(9.0), np.arange(9.0)))
    square = np.array([0.5, 7.5, 7.5, 0.5, 0.5]), np.array([0.5, 0.5, 7.5, 7.5, 0.5])
    hole = np.array([2.5, 5.5, 5.5, 2.5, 2.5]), np.array([2.5, 2.5, 5.5, 5.5, 2.5])
    assert inside(xs, ys, [square]).sum() == 49
    assert inside(xs, ys, [square, hole]).sum() == 40


def test_the_share_is_that_of_the_ensemble() -> None:
    _, _, plain = flown()
    middle = plain.longitude_deg
    east = box("the east", 46.0, middle, 48.5, 25.0)
    everywhere, nowhere = box("all", 40.0, 10.0, 55.0, 30.0), box("none", 10.0, 10.0, 11.0, 11.0)
    settings, state, landing = flown(east, everywhere, nowhere)
    told = dict(landing.inside)
    assert told.keys() == {"the east", "all"}
    assert told["all"] == 1.0
    scatter = landing_points(settings, state)
    assert scatter is not None
    _, lon = scatter.plane.to_latlon(scatter.x_m, scatter.y_m)
    assert told["the east"] == pytest.approx(float((np.asarray(lon) > middle).mean()), abs=0.01)
    # It changes nothing else, and the estimate without areas says nothing of them.
    assert replace(landing, inside=()) == plain
    assert "inside" not in landing_json(plain)
    assert landing_json(landing)["inside"]["all"] == 1.0


def test_it_is_told_once_for_each_area() -> None:
    settings, state, landing = flown(
        box("town East", 40.0, 10.0, 55.0, 30.0), box("lake", 10.0, 10.0, 11.0, 11.0)
    )
    alerts: list[Alert] = []
    for n in range(3):
        later = replace(landing, time_utc=landing.time_utc + 60.0 * n)
        state, outcomes = step(settings, state, Estimated(landing=later))
        alerts += [one for one in outcomes if isinstance(one, Alert)]
    [kept_out] = [one.facts for one in alerts if isinstance(one.facts, MayLandInside)]
    assert (kept_out.area, kept_out.share) == ("town East", 1.0)


def test_the_configuration_reads_areas_and_gives_lines_a_width(tmp_path: Path) -> None:
    ring = [[20.9, 46.9], [21.2, 46.9], [21.2, 47.1], [20.9, 47.1], [20.9, 46.9]]
    features = [
        {"type": "Feature", "properties": {"kind": "town", "name": "East"},
         "geometry": {"type": "Polygon", "coordinates": [ring]}},
        {"type": "Feature", "properties": {"kind": "power line"},
         "geometry": {"type": "LineString", "coordinates": ring}},
    ]  # fmt: skip
    (tmp_path / "out.geojson").write_text(json.dumps({"features": features}))
    file = tmp_path / "station.toml"
    file.write_text(
        '[station]\ndata_dir = "d"\n[landing]\nkeep_out = "out.geojson"\n[[payload]]\nname = "x"\n'
        '[[payload.tracker]]\nid = "Q0HAB-11"\n[[source]]\nname = "r"\nkind = "recording"\n'
        'path = "resource:rehearsal.txt"\n'
    )
    [flight] = config.flight_settings(config.load(file, {}))
    town, line = flight.keep_outs
    assert (town.name, town.half_width_m) == ("town East", 0.0)
    assert town.rings[0][0] == (46.9, 20.9)
    assert (line.name, line.half_width_m) == ("power line", 100.0)


def test_a_railway_that_the_ensemble_comes_down_beside_is_told() -> None:
    """A line along the meridian of the landing, 4 km across: by hand, the share of the members that
    come down within 2 km of it."""
    settings, state, plain = flown()
    points = landing_points(settings, state)
    assert points is not None
    lon = plain.longitude_deg
    railway = KeepOut(name="railway", rings=(((46.0, lon), (48.5, lon)),), half_width_m=2_000.0)
    _, _, landing = flown(railway)
    middle = float(points.plane.to_xy(plain.latitude_deg, lon)[0])
    by_hand = float((abs(points.x_m - middle) < 2_000.0).mean())
    assert dict(landing.inside)["railway"] == pytest.approx(by_hand, abs=0.02)
