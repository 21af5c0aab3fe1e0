"""What of a plan is marginal, in words. Limits are common practice without a source, where no other
is named."""

from collections.abc import Iterator
from typing import Final

from groundstation.language.catalogue import _
from groundstation.language.numbers import number
from groundstation.physics.atmosphere import SEA_LEVEL_PRESSURE_PA, pressure
from groundstation.physics.buoyancy import Gas
from groundstation.planning.gear import SMALL_KG
from groundstation.planning.lift import LEAST_FREE_SHARE, canopy_m
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan

SLOWEST_MS, FASTEST_MS = 4.0, 6.5  # usual ascents (common practice, no source)
HARD_MS: Final = 6.0  # own choice: as from 1.8 m of height
SLOW_DESCENT_MS: Final = 3.0  # own choice: an hour from 30 km and more
GOOD_FALL_MS: Final = 5.0  # common practice, no source
DEADLY_MS: Final = 15.0
"""Own choice: three times a good fall, where a box of a kilogram brings 110 J and more; without a
parachute it comes at 20 to 35 m/s."""

LOW_SITE_M: Final = 150.0
"""Below this the two pressures differ by less than weather does."""


def warnings(flight: FlightFile, plan: Plan) -> Iterator[str]:
    """Each with what to do."""
    lift = plan.lift
    share = lift.free_kg / (flight.balloon.mass_kg + flight.payload_kg)
    if share < LEAST_FREE_SHARE:
        yield _(
            "The free lift is only {percent} % of what is lifted: rain, ice or a small leak may"
            " make it float, for hours and far away. Fill more.",
            percent=number(100.0 * share),
        )
    rate = plan.ascent_rate_ms
    rises = flight.shown.text("rate", rate.value)
    if rate.value < SLOWEST_MS:
        yield _("It rises at only {rate}, so it drifts long and may float. Fill more.", rate=rises)
    if rate.value > FASTEST_MS:
        yield _(
            "It rises at {rate}, which takes gas and height and shakes the payload. Fill less.",
            rate=rises,
        )
    yield from _of_the_descent(flight, plan)
    if flight.balloon.burst_diameter_m is None:
        yield _(
            "The burst diameter is a typical one of the balloon's mass, from memory of data sheets."
            " Take that of its own: it decides on the height."
        )
    if flight.balloon.mass_kg < SMALL_KG:
        yield _(
            "For a balloon below 200 g both the typical burst diameter and the drag are little"
            " known: try one, or give those of its maker."
        )
    yield from _of_the_air(flight)
    if flight.gas.purity is None:
        yield _("The gas is taken as pure; balloon gas may hold some air. Weigh the lift.")
    if flight.gas.kind is Gas.HYDROGEN:
        yield _(
            "Hydrogen burns with air at almost any mixture: outdoors only, everything earthed, no"
            " spark, no flame, no phone near it, and people who are trained for it."
        )
    missing = [piece.name for piece in flight.package if piece.smallest_face_m is None]
    if missing:
        yield _(
            "The smallest face of {pieces} is not given, so no rule on mass and area can be looked"
            " at.",
            pieces=", ".join(missing),
        )


def _of_the_descent(flight: FlightFile, plan: Plan) -> Iterator[str]:
    fall, shown = plan.descent_rate_ms, flight.shown
    hard = f"{shown.text('rate', fall.high)} ({shown.text('energy', plan.impact_j.high)})"
    low, high = flight.parachute.drag_range
    wanted = canopy_m(
        plan.descending_kg, GOOD_FALL_MS, (low + high) / 2.0, plan.balloon.air.density_kgm3
    )
    larger = _(
        "for {rate} it takes about {size} of such a canopy",
        rate=shown.text("rate", GOOD_FALL_MS),
        size=shown.text("size", wanted),
    )
    if fall.value > DEADLY_MS:
        beside = _("hardly slower than without a parachute")
        if fall.value > plan.bare.middle_ms:
            beside = _("so small a canopy brakes less than the boxes themselves, as without one")
        yield _(
            "It lands at {rate}: {beside}, and what falls so hard can kill. Do not fly this one:"
            " {larger}.",
            rate=hard, beside=beside, larger=larger,
        )  # fmt: skip
    elif fall.high > HARD_MS:
        yield _(
            "It may land at {rate}. Take a larger parachute or less mass: {larger}.",
            rate=hard, larger=larger,
        )  # fmt: skip
    if fall.low < SLOW_DESCENT_MS:
        yield _(
            "It may fall at only {rate} and drift far in the end.",
            rate=shown.text("rate", fall.low),
        )


def _of_the_air(flight: FlightFile) -> Iterator[str]:
    site = flight.site
    if site.pressure_pa is None or site.altitude_m < LOW_SITE_M:
        return
    here = float(pressure(site.altitude_m))
    if abs(site.pressure_pa - SEA_LEVEL_PRESSURE_PA) < abs(site.pressure_pa - here):
        yield _(
            "The pressure of {given} is nearer to what is usual at sea level than to the {usual} of"
            " the site's height: it may be reduced to sea level. Then put it as"
            " sea_level_pressure_pa, or the fill is too small.",
            given=flight.shown.text("air", site.pressure_pa),
            usual=flight.shown.text("air", here),
        )
