"""Which tracker a flight follows, and what is learned of the others, case by case."""

import pytest

from groundstation.flight.apart import Apart, compared
from groundstation.flight.lead import Lead, followed, follows, learned, passed_over
from groundstation.flight.track import Point, Track
from groundstation.records import Fix
from tests.support.flights import T0

EVERY_S = 20.0


def fix(
    tracker: str, at_s: float, altitude_m: float | None = 5_000.0, *, coarse: bool = False
) -> Fix:
    return Fix(
        payload="kanalas-1", tracker=tracker, source="x", time_utc=T0 + at_s,
        received_utc=T0 + at_s, latitude_deg=47.1, longitude_deg=20.3, altitude_m=altitude_m,
        uncertainty_m=500.0 if coarse else 10.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("other", "its_s", "blind", "expected"),
    [
        # As good: after one and a half intervals of the leader, and not before.
        (fix("b", 29.0), EVERY_S, False, False),
        (fix("b", 31.0), EVERY_S, False, True),
        # Twice as often is worth a change at once.
        (fix("b", 1.0), EVERY_S / 2.0, False, True),
        (fix("b", 1.0), EVERY_S / 1.9, False, False),
        # Without a height, or coarse: after four intervals, and never for being heard oftener.
        (fix("b", 79.0, None), 1.0, False, False),
        (fix("b", 81.0, None), EVERY_S, False, True),
        (fix("b", 79.0, coarse=True), 1.0, False, False),
        (fix("b", 81.0, coarse=True), EVERY_S, False, True),
        # At once, where the leader's heights are worth nothing.
        (fix("b", 1.0), EVERY_S, True, True),
        (fix("b", 1.0, None), EVERY_S, True, False),
        (fix("a", 1.0, None), EVERY_S, False, True),
    ],
)
def test_who_is_followed(other: Fix, its_s: float, blind: bool, expected: bool) -> None:
    lead = Lead(newest=fix("a", 0.0))
    assert follows(lead, other, its_s=its_s, leaders_s=EVERY_S, blind=blind) is expected


def test_a_change_takes_ten_seconds_at_least() -> None:
    lead = Lead(newest=fix("a", 0.0))
    assert not follows(lead, fix("b", 9.0), its_s=1.0, leaders_s=1.0, blind=False)
    assert follows(lead, fix("b", 11.0), its_s=1.0, leaders_s=1.0, blind=False)


def test_a_better_one_leads_at_once() -> None:
    lead = Lead(newest=fix("a", 0.0, None))
    assert follows(lead, fix("b", 1.0), its_s=600.0, leaders_s=EVERY_S, blind=False)


@pytest.mark.parametrize(("gap_s", "off_m"), [(180.0, 150.0), (181.0, 0.0)])
def test_how_far_heights_are_off_is_learned_between_near_fixes_only(
    gap_s: float, off_m: float
) -> None:
    """It climbs at 5 m/s: halfway the leader would have told the height between. Across a longer
    gap it may have burst meanwhile, and nothing is learned."""
    track = Track(
        settled=(Point(T0, 47.1, 20.3, 5_000.0),),
        newest=Point(T0 + gap_s, 47.1, 20.3, 5_000.0 + 5.0 * gap_s),
    )
    half_s = gap_s / 2.0
    lead = passed_over(Lead(), fix("b", half_s, 5_000.0 + 5.0 * half_s + 150.0))
    lead = learned(lead, track)
    _, level = followed(lead, fix("b", gap_s + 30.0, 7_000.0), blind=False)
    assert level.altitude_m == pytest.approx(7_000.0 - off_m)


@pytest.mark.parametrize(
    ("apart_s", "up_m", "expected_m"),
    [
        (2.0, 700.0, 700.0),
        (2.0, 640.0, 0.0),
        (2.0, 300.0, 0.0),
        (10.0, 850.0, 0.0),
        (10.0, 1_000.0, 1_000.0),
    ],
)
def test_two_trackers_are_as_far_apart_as_no_fall_explains(
    apart_s: float, up_m: float, expected_m: float
) -> None:
    """Near the burst one may be falling already, with ninety metres a second."""
    apart = compared(Apart(), fix("a", 0.0))
    apart = compared(apart, fix("b", apart_s, 5_000.0 + up_m))
    assert apart.by_m == expected_m
