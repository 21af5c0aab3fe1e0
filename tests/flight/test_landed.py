"""How sure it is where something lies, once it is heard there."""

from dataclasses import replace

import pytest

from groundstation.records import Phase, Report
from tests.support.flights import ANY, T0, Told, fold, report

SETTINGS = replace(ANY, members=100, climbing_every_s=600.0, estimate_every_s=120.0)
DEG_M = 75_900.0  # a degree of longitude at 47.1 N: 111,320 m times its cosine


def down(*east_m: float) -> Told:
    """A climb, a fall, then fixes so far east of one place, one a minute."""
    heights = [100.0 + 150.0 * n for n in range(60)]
    heights += [heights[-1] - 300.0 * n for n in range(1, 30)]
    told: list[Report] = [report(30.0 * n, height) for n, height in enumerate(heights)]
    begun = 30.0 * len(told)
    told += [
        report(begun + 60.0 * n, 100.0, lon=20.3 + metres / DEG_M)
        for n, metres in enumerate(east_m)
    ]
    return fold([((one.time_utc or 0.0) + 1.0, one) for one in told], SETTINGS)


@pytest.mark.parametrize("gone_m", [74.0, 111.0])
def test_a_place_that_it_went_from_by_metres_stays_in_the_region(gone_m: float) -> None:
    """A recorded balloon lay still and was then heard 74 m and 111 m off: by whoever found it."""
    told = down(0.0, 0.0, 0.0, 0.0, gone_m, gone_m)
    last = told.landings[-1]
    assert last.phase is Phase.LANDED
    assert last.time_utc > T0
    assert last.radius_90_m > gone_m


def test_more_fixes_of_one_place_make_it_surer() -> None:
    few, many = down(*[0.0] * 3).landings[-1], down(*[0.0] * 12).landings[-1]
    assert few.phase is many.phase is Phase.LANDED
    assert 20.0 < many.radius_90_m < few.radius_90_m < 60.0
