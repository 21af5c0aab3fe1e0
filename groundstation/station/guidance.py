"""The current instruction of a flight, in the words that the page shows."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from groundstation.alerts.orders import (
    badge_text,
    happened_text,
    is_silent_aloft,
    order_text,
    rests_text,
)
from groundstation.alerts.phrases import AT_THE_LANDING
from groundstation.alerts.wording import WordingSettings, instruction_where
from groundstation.flight.instruct import instruction
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.language.catalogue import _
from groundstation.records import Act, Fix, Instruction, Place, Standing
from groundstation.search.found import Condition, Found
from groundstation.web.instruction_snapshot import InstructionSnapshot

PLACE = "{where}"
"""Where the page puts the place, from where its reader is."""


def guidance(
    settings: FlightSettings,
    state: FlightState,
    now_utc: float,
    wording: WordingSettings,
    *,
    vehicles: tuple[Fix, ...] = (),
    found: Found | None = None,
) -> InstructionSnapshot:
    """What to do about the payload at ``now_utc``. Once it is found there is nothing."""
    order = instruction(settings, state, now_utc)
    if found is not None:
        order = _ended(order, found)
    units, zone = wording.units, ZoneInfo(wording.timezone)
    progress = None if state.landing is None else state.landing.progress
    who = "" if found is None else found.who
    where = order.where
    return InstructionSnapshot(
        standing=order.standing,
        badge=badge_text(order),
        silent=is_silent_aloft(order),
        act=order.act,
        happened=happened_text(order, state.motion.since_utc, zone, who),
        todo=order_text(order, "" if where is None else PLACE, units, zone),
        where=instruction_where(order, now_utc, wording, vehicles),
        latitude_deg=None if where is None else where.latitude_deg,
        longitude_deg=None if where is None else where.longitude_deg,
        measured=order.measured,
        radius_50_m=order.radius_50_m,
        since_utc=order.since_utc or None,
        fix_utc=order.fix_utc,
        rests_on=rests_text(order, units, progress),
        caution=_(AT_THE_LANDING) if order.act in (Act.SEARCH, Act.FETCH) else "",
    )


def _ended(order: Instruction, found: Found) -> Instruction:
    lost = found.condition is Condition.LOST
    return replace(
        order,
        act=Act.NOTHING,
        standing=Standing.GIVEN_UP if lost else Standing.FOUND,
        since_utc=found.time_utc,
        where=Place(latitude_deg=found.latitude_deg, longitude_deg=found.longitude_deg),
        measured=not lost,
        radius_50_m=None,
    )
