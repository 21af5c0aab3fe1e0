"""What is looked at on the day, and which of it is told with every plan."""

from collections.abc import Iterator
from typing import Final

from groundstation.physics.buoyancy import Gas
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan

CHECKLIST: Final = (
    ("Before", (
        "Notice filed, and what came back kept to",
        "Weather and winds of today looked at again",
        "Every tracker fixed and heard, at the base and in the car",
        "Batteries fresh, cameras running, cards empty, time set",
        "Name and telephone on the outside of every box",
    )),
    ("Filling", (
        "Cylinder chained, valve and regulator fit, nobody in front of it",
        "Gas outdoors or well aired: it takes the breath away without a warning",
        "Hydrogen: earthed, no spark, no flame, trained people only",
        "Gloves, eyes covered, balloon kept off the ground and off sharp things",
        "Neck lift weighed out of the wind",
    )),
    ("Letting go", (
        "Neck tied and taped, lines of the parachute free, knots looked at twice",
        "Nothing tall, no power line, no crowd downwind; sky looked at",
        "Trackers heard again, time noted, authority told where that is asked for",
    )),
    ("Chase and search", (
        "Two in a car: the driver drives, the passenger reads",
        "Ask before you step on land; no railways, water, ice, roofs, trees or power lines",
        "Somebody knows where you are",
    )),
)  # fmt: skip
"""Common practice, no source."""


def cautions(flight: FlightFile, plan: Plan) -> Iterator[str]:
    """Those of the list that keep people from harm, for whoever acts on this plan: common practice,
    no source."""
    yield (
        "Gas outdoors or well aired: it takes the breath away without a warning. Cylinder chained,"
        " the right regulator, nobody in front of the valve."
    )
    if flight.gas.kind is Gas.HYDROGEN:
        yield "Hydrogen: earthed, no spark, no flame, trained people only."
    yield (
        "What falls may hit somebody: without its canopy it comes at"
        f" {flight.shown.span('rate', *plan.bare.rate_ms)}. Nothing tall, no power line and no"
        " crowd downwind when it is let go, no town where it may come down."
    )
    yield (
        "Two in the car: the driver drives, the passenger reads. Never touch or pull at a power"
        " line; stay off railways, water, ice, roofs and trees; ask before you step on land, and"
        " let somebody know where you are."
    )
