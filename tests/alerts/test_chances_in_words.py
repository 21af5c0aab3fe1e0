"""What is told of a flight without heights is as sure as its chances, never more."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from groundstation.alerts.orders import badge_text, happened_text, order_text, rests_text
from groundstation.alerts.phrases import phrase
from groundstation.alerts.quantities import percent_text
from groundstation.flight.alert_records import Burst, TouchdownSoon
from groundstation.flight.instruct import SURELY_NOT
from groundstation.records import (
    Act,
    Instruction,
    Phase,
    PhaseChances,
    Place,
    Progress,
    Standing,
)
from groundstation.units import Units
from tests.support.alert_samples import message
from tests.support.store_samples import landing

UTC = ZoneInfo("UTC")
NOON_UTC = 1_778_932_800.0


def told(chance: PhaseChances | None, standing: Standing = Standing.RISING) -> Instruction:
    return Instruction(
        act=Act.FOLLOW,
        since_utc=NOON_UTC,
        phase=Phase.ASCENT,
        standing=standing,
        where=Place(latitude_deg=47.0, longitude_deg=20.0),
        radius_50_m=830.0,
        fix_utc=NOON_UTC,
        chance=chance,
        may_have_burst=chance is not None and chance.burst > SURELY_NOT,
    )


@pytest.mark.parametrize(
    ("chance", "badge", "so_far"),
    [
        (None, "Ascending", "it has not burst yet"),
        (PhaseChances(ascent=1.0), "Ascending", "it has not burst yet"),
        (PhaseChances(ascent=0.95, descent=0.05), "Ascending", "it has probably not burst yet"),
        (PhaseChances(ascent=0.7, descent=0.3), "Probably ascending", "it may have burst"),
        (PhaseChances(ascent=0.4, descent=0.6), "Probably descending", "it has probably burst"),
        (PhaseChances(descent=0.3, landed=0.7), "Probably down", "it has probably burst"),
        (PhaseChances(floating=0.8, ascent=0.2), "Probably floating", "it has not burst yet"),
    ],
)
def test_the_burst_is_told_as_sure_as_it_is(
    chance: PhaseChances | None, badge: str, so_far: str
) -> None:
    order = told(chance)
    assert badge_text(order) == badge
    assert order_text(order, "", Units.METRIC, UTC).endswith(f": {so_far}.")
    far = order_text(replace(order, where=None), "", Units.METRIC, UTC)
    assert ("it climbs" in far) == (not order.may_have_burst)


def test_what_happened_is_told_as_sure_as_it_is() -> None:
    fell = PhaseChances(ascent=0.08, descent=0.92)
    for order, text in (
        (told(PhaseChances(ascent=0.4, descent=0.6)), "In the air since about 12:00."),
        (told(PhaseChances(ascent=1.0)), "Ascending since 12:00."),
        (told(fell, Standing.FALLING), "Probably descending since about 12:00."),
        (told(None, Standing.FALLING), "Descending since 12:00."),
        (replace(told(None), old=True), "It was ascending at 12:00."),
    ):
        assert happened_text(order, NOON_UTC, UTC) == text


def test_no_chance_is_a_hundred_percent() -> None:
    assert percent_text(1.0) == percent_text(0.996) == "over 99"
    assert percent_text(0.91) == "91"
    burst = Burst(altitude_m=None, planned_m=None, chance=1.0, ago_90_s=(600.0, 300.0))
    assert "The chance is over 99 %" in phrase(message("1", burst).alert, Units.METRIC, "").more
    sure = Progress(chance=PhaseChances(descent=1.0), burst_90_utc=(NOON_UTC, NOON_UTC))
    assert rests_text(told(None), Units.METRIC, sure) == "descending (over 99 %)"


def test_a_touchdown_that_only_chances_tell_is_a_probable_one() -> None:
    seen = landing(1)
    chance = Progress(chance=PhaseChances(descent=0.95), burst_90_utc=(NOON_UTC, NOON_UTC))
    unseen = replace(seen, progress=chance)
    for made, what in ((seen, "touchdown in 10 min"), (unseen, "probably down in about 10 min")):
        soon = TouchdownSoon(remaining_s=600.0, loss=None, landing=made)
        assert phrase(message("1", soon).alert, Units.METRIC, "").what == what
