"""What one's own flights say about the next one, where it is flown with the same gear.

Rates and burst height of a plan are taken as a normal distribution, each past flight as one
observation of it with its own repeatability; they are weighed by their precision (the normal's
conjugate rule). The repeatabilities are judgement.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from groundstation.flight.settings import PlanSettings
from groundstation.physics.fall import resting_m
from groundstation.physics.layers import fall_path_m
from groundstation.records import Fix, Phase, PhaseChange

RISE_SHARE: Final = 0.08
BURST_M: Final = 1_200.0
FALL_SHARE: Final = 0.10
LEAST_FIXES: Final = 5
LEAST_FALL_M: Final = 3_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFlight:
    """What a flight was. ``fall_ms`` is its mean rate of fall reduced to sea level."""

    begun_utc: float
    rise_ms: float
    burst_altitude_m: float
    fall_ms: float


def past_flights(phases: Sequence[PhaseChange], fixes: Iterable[Fix]) -> Iterator[PastFlight]:
    """The whole flights among these: begun, burst, and followed down far enough."""
    rows = np.array(
        [(one.time_utc, one.altitude_m) for one in fixes if one.altitude_m is not None], dtype=float
    ).reshape(-1, 2)
    launches = [one.since_utc for one in phases if one.phase is Phase.ASCENT]
    for begun, following in zip(launches, [*launches[1:], np.inf], strict=True):
        flown = rows[(rows[:, 0] >= begun) & (rows[:, 0] < following)]
        fell = [
            one for one in phases
            if one.phase is Phase.DESCENT and begun < one.since_utc < following
        ]  # fmt: skip
        if len(flown) < 2 * LEAST_FIXES or not fell:
            continue
        top = int(np.argmax(flown[:, 1]))
        down = flown[top:]
        # What lies still no longer falls.
        lies = down[:, 1] <= resting_m(down[:, 1]) + 100.0
        down = down[: max(int(np.argmax(lies)), 1)]
        if top < LEAST_FIXES or len(down) < LEAST_FIXES or down[0, 1] - down[-1, 1] < LEAST_FALL_M:
            continue
        path = fall_path_m(down[:, 1])
        yield PastFlight(
            begun_utc=begun,
            rise_ms=float((flown[top, 1] - flown[0, 1]) / (flown[top, 0] - flown[0, 0])),
            burst_altitude_m=float(flown[top, 1]),
            fall_ms=float((path[0] - path[-1]) / (down[-1, 0] - down[0, 0])),
        )


def narrowed(plan: PlanSettings, past: Sequence[PastFlight]) -> PlanSettings:
    """The plan as the past has it; as it is without any."""
    if not past or plan.descent_rate_ms is None:
        return plan
    rise, rise_sd = _weighed(
        plan.ascent_rate_ms, plan.ascent_rate_sd_ms,
        [(one.rise_ms, RISE_SHARE * one.rise_ms) for one in past],
    )  # fmt: skip
    burst, burst_sd = _weighed(
        plan.burst_altitude_m, plan.burst_altitude_sd_m,
        [(one.burst_altitude_m, BURST_M) for one in past],
    )  # fmt: skip
    fall, fall_sd = _weighed(
        plan.descent_rate_ms, plan.descent_rate_sd_ms,
        [(one.fall_ms, FALL_SHARE * one.fall_ms) for one in past],
    )  # fmt: skip
    return replace(
        plan,
        ascent_rate_ms=rise,
        ascent_rate_sd_ms=rise_sd,
        burst_altitude_m=burst,
        burst_altitude_sd_m=burst_sd,
        descent_rate_ms=fall,
        descent_rate_sd_ms=fall_sd,
    )


def told(before: PlanSettings, after: PlanSettings, past: Sequence[PastFlight]) -> Iterator[str]:
    """What the past has changed, in words."""
    flights = "1 past flight" if len(past) == 1 else f"{len(past)} past flights"
    yield f"By {flights}, taken as flown with the same balloon, fill, parachute and payload:"
    yield (
        f"ascent {before.ascent_rate_ms:.1f} ± {before.ascent_rate_sd_ms:.1f} m/s becomes"
        f" {after.ascent_rate_ms:.1f} ± {after.ascent_rate_sd_ms:.1f}"
    )
    yield (
        f"burst {before.burst_altitude_m / 1000:.1f} ± {before.burst_altitude_sd_m / 1000:.1f} km"
        f" becomes {after.burst_altitude_m / 1000:.1f} ± {after.burst_altitude_sd_m / 1000:.1f}"
    )
    if before.descent_rate_ms is not None and after.descent_rate_ms is not None:
        yield (
            f"fall at sea level {before.descent_rate_ms:.1f} ± {before.descent_rate_sd_ms:.1f} m/s"
            f" becomes {after.descent_rate_ms:.1f} ± {after.descent_rate_sd_ms:.1f}"
        )


def _weighed(mean: float, sd: float, seen: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Mean and sd of a normal after normal observations of known sd."""
    precision = sd**-2 + sum(off**-2 for _, off in seen)
    weighed = mean * sd**-2 + sum(value * off**-2 for value, off in seen)
    return weighed / precision, float(precision**-0.5)
