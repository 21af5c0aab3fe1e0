"""Nobody is told to listen for what speaks to satellites or networks only."""

from dataclasses import replace

import pytest

from groundstation.alerts.wording import render
from groundstation.flight.alert_records import OnGround, ShouldBeDown
from groundstation.records import AlertKind
from tests.alerts.test_wording import FACTS, HOME, LANDING, ORDERS, alert


@pytest.mark.parametrize(("past", "says"), [(False, "down about"), (True, "it was due at")])
def test_who_can_t_hear_it_waits(past: bool, says: str) -> None:
    soon = replace(ORDERS[AlertKind.TOUCHDOWN_SOON], audible=False, past=past)
    told = render(replace(alert(FACTS[AlertKind.TOUCHDOWN_SOON]), instruction=soon), HOME).body
    assert told.startswith(f"Stop where it is safe and wait for its next fix: {says}")


@pytest.mark.parametrize("ago_s", [None, 600.0])
@pytest.mark.parametrize(
    ("hints", "listen"),
    [
        ((OnGround.NEEDS_SKY,), False),
        ((OnGround.CELLULAR_NEEDS_NETWORK,), False),
        ((OnGround.RADIO_REACHES_LITTLE, OnGround.NEEDS_SKY), True),
    ],
)
def test_only_a_radio_is_listened_for_from_high_places(
    hints: tuple[OnGround, ...], listen: bool, ago_s: float | None
) -> None:
    told = render(alert(ShouldBeDown(hints=hints, ago_s=ago_s, landing=LANDING)), HOME).body
    assert ("Listen" in told) == listen
