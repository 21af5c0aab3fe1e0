"""A look of the search, as it is noted on the page: it moves the landing estimate, as somebody who
stands at the point and finds nothing does, and the grid of the search, each once."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groundstation.clock import RehearsalClock
from groundstation.flight.estimate import landing_points
from groundstation.flight.events import Sighted
from groundstation.flight.flights import Flights
from groundstation.flight.sightings import NothingHere
from groundstation.records import Landing
from groundstation.search.grid import grid_of
from groundstation.search.looks import Look, LookKind
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import simulate
from groundstation.station.search_desk import Search
from groundstation.store.reader import Reader
from groundstation.store.writer import Store
from tests.support.flights import ANY, fold, reports_of

PAYLOAD = "kanalas-1"


@pytest.fixture
def flights() -> Flights:
    """Silent from 2 km on, and down by now."""
    flight = simulate(SimulationSettings(seed=16))
    truth = flight.truth
    low = truth.top_utc + float(
        np.interp(
            -2_000.0,
            -truth.altitude_m[truth.time_utc > truth.top_utc],
            truth.time_utc[truth.time_utc > truth.top_utc] - truth.top_utc,
        )
    )
    heard = [one for one in reports_of(flight) if one[0] < low]
    flights = fold(heard, ANY, until_s=1_800.0, estimates=False).flights
    landing = flights.estimate(PAYLOAD)
    assert landing is not None
    flights.estimated(landing)
    return flights


def estimated(flights: Flights) -> Landing:
    assert flights.due() == (PAYLOAD,), "what was done in the search says something new"
    landing = flights.estimate(PAYLOAD)
    assert landing is not None
    flights.estimated(landing)
    return landing


def look(landing: Landing, kind: LookKind, reach_m: float, chance: float) -> Look:
    return Look(
        payload=PAYLOAD, time_utc=0.0, kind=kind, reach_m=reach_m, chance=chance,
        shape=((landing.latitude_deg, landing.longitude_deg),),
    )  # fmt: skip


async def test_a_look_moves_the_estimate_and_taken_back_it_is_as_before(
    flights: Flights, tmp_path: Path
) -> None:
    now = flights.state(PAYLOAD).now_utc + 3_600.0
    clock = RehearsalClock(now)
    async with Store.open(tmp_path / "station.db") as store:
        search = Search(flights, store, clock)
        plain = flights.state(PAYLOAD).landing
        assert plain is not None
        far = await search.add(look(plain, LookKind.SILENT, 5.0, 0.1))
        assert far is not None
        before = estimated(flights)
        silent = await search.add(look(before, LookKind.SILENT, 400.0, 0.9))
        assert silent is not None
        after = estimated(flights)
        assert after.radius_50_m > before.radius_50_m, "it is not where nothing was heard"
        with Reader(tmp_path / "station.db") as reader:
            again = Search(flights, store, clock)
            again.restore(reader)
        assert flights.due() == (), "a restart weighs the same looks"
        assert await search.take_back(silent.number)
        assert estimated(flights).region_90 == before.region_90


async def test_nobody_at_the_point_weighs_as_a_look_of_the_search(
    flights: Flights, tmp_path: Path
) -> None:
    now = flights.state(PAYLOAD).now_utc + 3_600.0
    async with Store.open(tmp_path / "station.db") as store:
        search = Search(flights, store, RehearsalClock(now))
        landing = flights.state(PAYLOAD).landing
        assert landing is not None
        noted = await search.add(look(landing, LookKind.SEARCHED, 300.0, 0.8))
        assert noted is not None
        by_look = estimated(flights)
        view = await search.view(PAYLOAD)
        assert view is not None
        assert view.grid is not None
        assert await search.take_back(noted.number)
        told = NothingHere(
            number=1, at_utc=noted.time_utc, told_utc=noted.time_utc, reach_m=300.0, chance=0.8,
            latitude_deg=landing.latitude_deg, longitude_deg=landing.longitude_deg,
        )  # fmt: skip
        flights.sighted(PAYLOAD, Sighted(now_utc=now + 60.0, sighting=told))
        by_word = estimated(flights)
        assert by_word.radius_50_m == pytest.approx(by_look.radius_50_m, rel=0.02)
        assert by_word.latitude_deg == pytest.approx(by_look.latitude_deg, abs=2e-4)
        same = await search.view(PAYLOAD)
    assert same is not None
    assert same.grid is not None
    assert same.grid.chance == pytest.approx(view.grid.chance, abs=1e-3)
    assert same.looks == (), "it stands among what people saw"
    plain = landing_points(ANY, replace(flights.state(PAYLOAD), looks=(), sightings=()))
    assert plain is not None
    once = grid_of(plain.plane, plain.x_m, plain.y_m, view.looks).after(view.looks)
    assert same.grid.chance == pytest.approx(once.chance), "each look counts once"
