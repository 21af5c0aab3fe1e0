"""What is looked at on the day, and which of it is told with every plan."""

from collections.abc import Iterator
from typing import Final

from groundstation.language.catalogue import N_, _
from groundstation.physics.buoyancy import Gas
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan

CHECKLIST: Final = (
    (N_("Before"), (
        N_("Notice filed, and what came back kept to"),
        N_("Weather and winds of today looked at again"),
        N_("Every tracker fixed and heard, at the base and in the car"),
        N_("Batteries fresh, cameras running, cards empty, time set"),
        N_("Name and telephone on the outside of every box"),
    )),
    (N_("Filling"), (
        N_("Cylinder chained, valve and regulator fit, nobody in front of it"),
        N_("Gas outdoors or well aired: it takes the breath away without a warning"),
        N_("Hydrogen: earthed, no spark, no flame, trained people only"),
        N_("Gloves, eyes covered, balloon kept off the ground and off sharp things"),
        N_("Neck lift weighed out of the wind"),
    )),
    (N_("Letting go"), (
        N_("Neck tied and taped, lines of the parachute free, knots looked at twice"),
        N_("Nothing tall, no power line, no crowd downwind; sky looked at"),
        N_("Trackers heard again, time noted, authority told where that is asked for"),
    )),
    (N_("Chase and search"), (
        N_("Two in a car: the driver drives, the passenger reads"),
        N_("Ask before you step on land; no railways, water, ice, roofs, trees or power lines"),
        N_("Somebody knows where you are"),
    )),
)  # fmt: skip
"""Common practice, no source. In English."""


def cautions(flight: FlightFile, plan: Plan) -> Iterator[str]:
    """Those of the list that keep people from harm, for whoever acts on this plan: common practice,
    no source."""
    yield _(
        "Gas outdoors or well aired: it takes the breath away without a warning. Cylinder chained,"
        " the right regulator, nobody in front of the valve."
    )
    if flight.gas.kind is Gas.HYDROGEN:
        yield _("Hydrogen: earthed, no spark, no flame, trained people only.")
    yield _(
        "What falls may hit somebody: without its canopy it comes at {rate}. Nothing tall, no power"
        " line and no crowd downwind when it is let go, no town where it may come down.",
        rate=flight.shown.span("rate", *plan.bare.rate_ms),
    )
    yield _(
        "Two in the car: the driver drives, the passenger reads. Never touch or pull at a power"
        " line; stay off railways, water, ice, roofs and trees; ask before you step on land, and"
        " let somebody know where you are."
    )
