"""The search against closed forms: Bayes' rule on squares, circles of a normal distribution."""

import math

import numpy as np
import pytest

from groundstation.physics.geodesy import Plane
from groundstation.search.grid import REST, SIDE, Grid, grid_of, next_places, shares
from groundstation.search.looks import Look, LookKind

HERE = Plane(47.1, 20.3)


def look(kind: LookKind = LookKind.SEARCHED, *places: tuple[float, float], **more: object) -> Look:
    """At metres east and north of HERE."""
    shape = tuple(
        (float(lat), float(lon)) for lat, lon in (HERE.to_latlon(x, y) for x, y in places)
    )
    given: dict[str, object] = {"reach_m": 50.0, "chance": 0.8}
    return Look(payload="kanalas-1", time_utc=0.0, kind=kind, shape=shape, **(given | more))  # type: ignore[arg-type]


def even(size_m: float = 100.0) -> Grid:
    half = size_m * (SIDE - 1) / 2.0
    return Grid(HERE, -half, -half, size_m, np.full((SIDE, SIDE), 1.0 / SIDE**2))


def test_a_fruitless_search_is_bayes_rule() -> None:
    """p' = p (1 - d) / (1 - p d) for the place, p / (1 - p d) for all others (IAMSAR Manual,
    Volume II; Koopman 1946), here with one quarter of the grid searched at 0.8."""
    quarter = look(
        LookKind.SEARCHED, (-2400, -2400), (0, -2400), (0, 0), (-2400, 0),
        area=True, reach_m=5.0, chance=0.8,
    )  # fmt: skip
    after = even().after([quarter])
    half = SIDE // 2
    searched = float(after.chance[: half - 1, : half - 1].sum()) / (half - 1) ** 2 * half**2
    assert searched == pytest.approx(0.25 * 0.2 / (1.0 - 0.25 * 0.8), rel=2e-2)
    assert after.chance.sum() == pytest.approx(1.0)
    elsewhere = float(after.chance[half + 1, half + 1]) * SIDE**2
    assert elsewhere == pytest.approx(1.0 / (1.0 - 0.25 * 0.8), rel=1e-2)


def test_a_small_look_takes_as_much_as_its_area() -> None:
    """A circle of 50 m in squares of 1 km covers pi 50² / 1000² of one of them."""
    grid = even(1000.0)
    found = grid.detection(look(LookKind.SEARCHED, (300.0, 200.0)))
    assert found.sum() == pytest.approx(0.8 * math.pi * 50.0**2 / 1000.0**2, rel=0.02)
    assert np.count_nonzero(found) == 1


def test_a_way_is_covered_to_both_sides() -> None:
    found = even().detection(look(LookKind.SEARCHED, (-500.0, 0.0), (500.0, 0.0), reach_m=30.0))
    area = 1000.0 * 60.0 + math.pi * 30.0**2
    assert found.sum() * 100.0**2 == pytest.approx(0.8 * area, rel=0.02)


def test_hearing_nothing_is_half_as_sure_at_its_reach() -> None:
    silent = look(LookKind.SILENT, (0.0, 0.0), reach_m=1500.0, chance=0.7)
    x = np.array([0.0, 1500.0, 3000.0])
    told = silent.detection(HERE, x, np.zeros(3))
    assert told == pytest.approx([0.7, 0.35, 0.7 / 16.0], rel=1e-3)


@pytest.mark.parametrize("kind", [LookKind.SEARCHED, LookKind.SILENT])
@pytest.mark.parametrize("seed", range(20))
def test_looking_in_vain_never_makes_a_place_likelier_than_others(
    kind: LookKind, seed: int
) -> None:
    """And never raises the chance that it lies where one looked."""
    rng = np.random.default_rng(seed)
    grid = grid_of(HERE, rng.normal(0, 800, 400), rng.normal(300, 500, 400))
    places = rng.uniform(-1500, 1500, (int(rng.integers(1, 5)), 2)).tolist()
    reach_m, chance = float(rng.uniform(20, 2000)), float(rng.uniform(0.05, 0.95))
    one = look(kind, *places, reach_m=reach_m, chance=chance)
    found = grid.detection(one)
    after = grid.after([one])
    assert float((after.chance * found).sum()) <= float((grid.chance * found).sum()) + 1e-12
    most = found == found.max()
    assert float(after.chance[most].sum()) <= float(grid.chance[most].sum()) + 1e-12
    assert after.chance.sum() == pytest.approx(1.0)
    # Bayes' rule, square by square.
    left = grid.chance * (1.0 - found)
    assert after.chance == pytest.approx(left / left.sum(), rel=1e-9)


def test_the_order_of_looks_does_not_matter() -> None:
    looks = [
        look(LookKind.SILENT, (0.0, 0.0), reach_m=900.0, chance=0.6),
        look(LookKind.SEARCHED, (200.0, 100.0), reach_m=60.0),
        look(LookKind.HEARD, (700.0, -300.0), reach_m=1200.0, chance=0.9),
    ]
    there, back = even().after(looks), even().after(reversed(looks))
    assert there.chance == pytest.approx(back.chance, rel=1e-9)


def test_heard_draws_the_chance_to_where_it_was_heard() -> None:
    after = even().after([look(LookKind.HEARD, (1000.0, 1000.0), reach_m=600.0, chance=0.9)])
    x, y = after.places()
    near = np.hypot(x - 1000.0, y - 1000.0) < 1200.0
    # The closed form of a Gaussian of half-value radius r: 1 - 2^-(d/r)².
    assert float(after.chance[near].sum()) == pytest.approx(1.0 - 2.0**-4, abs=0.02)


def test_an_ensemble_becomes_a_grid_of_its_own_spread() -> None:
    """Half of a round normal distribution lies within 1.1774 sigma (Rayleigh)."""
    rng = np.random.default_rng(3)
    grid = grid_of(HERE, rng.normal(500, 300, 4000), rng.normal(-200, 300, 4000))
    x, y = grid.places()
    within = np.hypot(x - 500.0, y + 200.0) <= 1.1774 * 300.0
    assert float(grid.chance[within].sum()) == pytest.approx(0.5 * (1 - REST), abs=0.05)
    held = shares(grid.chance)
    assert held.min() > 0.0
    assert held.max() == pytest.approx(1.0)


def test_the_next_place_holds_what_it_says_and_avoids_what_was_searched() -> None:
    rng = np.random.default_rng(4)
    grid = grid_of(HERE, rng.normal(0, 400, 2000), rng.normal(0, 400, 2000))
    first = next_places(grid, 300.0)
    x, y = HERE.to_xy(first[0].latitude_deg, first[0].longitude_deg)
    assert math.hypot(float(x), float(y)) < 150.0
    assert first[0].chance == pytest.approx(
        (1 - REST) * (1 - math.exp(-(300**2) / 2 / 400**2)), abs=0.05
    )
    assert [one.chance for one in first] == sorted((one.chance for one in first), reverse=True)
    area = look(LookKind.SEARCHED, (-400, -400), (400, -400), (400, 400), (-400, 400), area=True,
                chance=0.95)  # fmt: skip
    there = next_places(grid.after([area]), 300.0)[0]
    x, y = HERE.to_xy(there.latitude_deg, there.longitude_deg)
    assert max(abs(float(x)), abs(float(y))) > 350.0


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"shape": ()}, "must be given"),
        ({"shape": ((91.0, 0.0),)}, "in degrees"),
        ({"shape": ((float("nan"), 0.0),)}, "in degrees"),
        ({"reach_m": 1.0}, "reach"),
        ({"chance": 1.0}, "chance"),
        ({"area": True}, "three corners"),
    ],
)
def test_a_look_that_can_not_be_is_refused(changes: dict[str, object], says: str) -> None:
    given = {"shape": ((47.0, 20.0),), "reach_m": 50.0, "chance": 0.5} | changes
    with pytest.raises(ValueError, match=says):
        Look(payload="x", time_utc=0.0, kind=LookKind.SEARCHED, **given)  # type: ignore[arg-type]
