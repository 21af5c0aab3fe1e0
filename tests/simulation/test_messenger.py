"""A flight that only a satellite messenger tells, as such trackers are on recorded flights: a place
each ten minutes without a height, a fifth lost, silent above a ceiling or face down (the project's
study of real flights; product sheets give intervals of 5 and 10 min)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groundstation.physics.geodesy import distance_m
from groundstation.simulation.forms.form import Form
from groundstation.simulation.forms.winds import forecast
from groundstation.simulation.forms.write import write
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.settings import HOME, SimulationSettings, Site
from groundstation.simulation.simulate import simulate
from groundstation.weather.winds import read_winds


def messenger(seed: int, **tracker: object) -> SimulationSettings:
    settings = settings_of(Profile.MESSENGER, seed)
    return replace(settings, tracker=replace(settings.tracker, **tracker))  # type: ignore[arg-type]


def test_a_place_each_ten_minutes_of_which_a_fifth_is_lost() -> None:
    flights = [simulate(messenger(seed)) for seed in range(40)]
    gaps = np.concatenate([np.diff([s.time_utc for s in f.fixes]) for f in flights])
    intervals = np.round(gaps / 600.0)
    assert np.abs(gaps - 600.0 * intervals).max() < 90.0
    # Of about 900 messages: the share is known to 1.4 % (one standard deviation).
    lost = 1.0 - len(intervals) / intervals.sum()
    assert lost == pytest.approx(0.2, abs=0.045)
    assert intervals.max() >= 3.0, "now and then two in a row"


@pytest.mark.parametrize("form", list(Form))
def test_no_form_tells_a_height(form: Form) -> None:
    flight = simulate(messenger(3))
    silent = write(flight, form)
    heights = write(simulate(messenger(3, heights=True)), form)
    assert silent != heights
    if form is Form.PACKETS:
        assert b"/A=" in heights
        assert b"/A=" not in silent
    if form is Form.TRACK:
        cells = [row.split(b",")[3] for row in silent.splitlines() if row[:2] == b"20"]
        assert set(cells) == {b""}


def test_it_is_heard_from_anywhere_and_by_one_way() -> None:
    flight = simulate(replace(messenger(1), site=Site(latitude_deg=-40.0, longitude_deg=-150.0)))
    assert len(flight.fixes) == len(flight.heard)
    delays = [copy.received_utc - copy.sent.time_utc for copy in flight.heard]
    assert min(delays) >= 20.0
    assert float(np.median(delays)) < 120.0


def test_a_ceiling_and_a_face_down_landing_hide_the_rest() -> None:
    flight = simulate(messenger(1, ceiling_m=18_000.0, face_down=True))
    assert max(sent.altitude_m for sent in flight.fixes) < 18_050.0
    assert flight.fixes[-1].time_utc <= flight.truth.touchdown_utc


def test_switched_on_at_home_it_is_driven_to_the_site_and_flies_as_before() -> None:
    stayed = simulate(messenger(8))
    driven = simulate(replace(messenger(8), home=HOME))
    truth, site = driven.truth, driven.settings.site
    assert distance_m(
        float(truth.latitude_deg[0]), float(truth.longitude_deg[0]), HOME.latitude_deg,
        HOME.longitude_deg,
    ) < 30.0  # fmt: skip
    assert np.all(np.diff(truth.time_utc) == 1.0)
    speed = np.hypot(np.diff(truth.latitude_deg) * 111e3, np.diff(truth.longitude_deg) * 76e3)
    driving = truth.time_utc[:-1] < truth.launch_utc - driven.settings.before_s
    assert 15.0 < speed[driving].max() < 60.0
    at_site = np.searchsorted(truth.time_utc, truth.launch_utc - 600.0)
    away_m = distance_m(
        float(truth.latitude_deg[at_site]), float(truth.longitude_deg[at_site]),
        site.latitude_deg, site.longitude_deg,
    )  # fmt: skip
    assert away_m < 1.0
    assert truth.landing == stayed.truth.landing
    assert truth.touchdown_utc == stayed.truth.touchdown_utc


def test_its_forecast_is_off_by_what_is_usual(tmp_path: Path) -> None:
    errors = []
    for seed in range(12):
        flight = simulate(messenger(seed))
        file = tmp_path / "winds.csv"
        file.write_bytes(forecast(flight))
        table = read_winds(file)
        heights = np.array(table.height_m)
        u, v = flight.truth.wind.at(heights, 0.0)
        errors.append(np.concatenate([table.east_ms - u, table.north_ms - v]))
    # 36 km of heights are some six independent ones of 3 km each way: 150 in all, known to 6 %.
    assert float(np.std(errors)) == pytest.approx(2.5, rel=0.2)
