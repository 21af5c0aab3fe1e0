"""What of a plan is marginal, in words. Limits are common practice without a source, where no other
is named."""

from collections.abc import Iterator
from typing import Final

from groundstation.physics.buoyancy import Gas
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan

LEAST_FREE_SHARE: Final = 0.2
"""Zero-pressure balloons rise on a tenth of what they lift (Yajima et al. 2009); latex that leaks
or is wetted needs more."""

SLOWEST_MS, FASTEST_MS = 4.0, 6.5
HARD_MS: Final = 6.0
SLOW_FALL_MS: Final = 3.0
HARD_J: Final = 40.0


def warnings(flight: FlightFile, plan: Plan) -> Iterator[str]:
    """Each with what to do."""
    lift = plan.lift
    share = lift.free_kg / (flight.balloon.mass_kg + flight.payload_kg)
    if share < LEAST_FREE_SHARE:
        yield (
            f"The free lift is only {100.0 * share:.0f} % of what is lifted: rain, ice or a small"
            " leak may make it float, for hours and far away. Fill more."
        )
    rate = plan.ascent_rate_ms
    if rate.value < SLOWEST_MS:
        yield f"It rises at only {rate.value:.1f} m/s, so it drifts long and may float. Fill more."
    if rate.value > FASTEST_MS:
        yield (
            f"It rises at {rate.value:.1f} m/s, which takes gas and height and shakes the payload."
            " Fill less."
        )
    fall = plan.descent_rate_ms
    if fall.high > HARD_MS:
        yield (
            f"It may land at {fall.high:.1f} m/s ({plan.impact_j.high:.0f} J). Take a larger"
            " parachute or less mass."
        )
    if fall.low < SLOW_FALL_MS:
        yield f"It may fall at only {fall.low:.1f} m/s and drift far in the end."
    if flight.balloon.burst_diameter_m is None:
        yield (
            "The burst diameter is a typical one of the balloon's mass. Take that of its data"
            " sheet: it decides on the height."
        )
    if flight.gas.purity is None:
        yield "The gas is taken as pure; balloon gas may hold some air. Weigh the lift."
    if flight.gas.kind is Gas.HYDROGEN:
        yield (
            "Hydrogen burns with air at almost any mixture: outdoors only, everything earthed, no"
            " spark, no flame, no phone near it, and people who are trained for it."
        )
    missing = [one.name for one in flight.package if one.smallest_face_m is None]
    if missing:
        yield (
            f"The smallest face of {', '.join(missing)} is not given, so no rule on mass and area"
            " can be looked at."
        )
