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

ASCENT_SHARE: Final = 0.08
BURST_M: Final = 1_200.0
DESCENT_SHARE: Final = 0.10
LEAST_FIXES: Final = 5
LEAST_DESCENT_M: Final = 3_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFlight:
    """What a flight was. ``descent_rate_ms`` is its mean descent rate reduced to sea level."""

    begun_utc: float
    ascent_rate_ms: float
    burst_altitude_m: float
    descent_rate_ms: float


def past_flights(phases: Sequence[PhaseChange], fixes: Iterable[Fix]) -> Iterator[PastFlight]:
    """The whole flights among these: begun, burst, and followed down far enough."""
    rows = np.array(
        [(fix.time_utc, fix.altitude_m) for fix in fixes if fix.altitude_m is not None], dtype=float
    ).reshape(-1, 2)
    launches = [change.since_utc for change in phases if change.phase is Phase.ASCENT]
    for begun, following in zip(launches, [*launches[1:], np.inf], strict=True):
        flown = rows[(rows[:, 0] >= begun) & (rows[:, 0] < following)]
        fell = [
            change for change in phases
            if change.phase is Phase.DESCENT and begun < change.since_utc < following
        ]  # fmt: skip
        if len(flown) < 2 * LEAST_FIXES or not fell:
            continue
        top = int(np.argmax(flown[:, 1]))
        down = flown[top:]
        # What lies still no longer falls.
        lies = down[:, 1] <= resting_m(down[:, 1]) + 100.0
        down = down[: max(int(np.argmax(lies)), 1)]
        fallen_m = down[0, 1] - down[-1, 1]
        if min(top, len(down)) < LEAST_FIXES or fallen_m < LEAST_DESCENT_M:
            continue
        path = fall_path_m(down[:, 1])
        yield PastFlight(
            begun_utc=begun,
            ascent_rate_ms=float((flown[top, 1] - flown[0, 1]) / (flown[top, 0] - flown[0, 0])),
            burst_altitude_m=float(flown[top, 1]),
            descent_rate_ms=float((path[0] - path[-1]) / (down[-1, 0] - down[0, 0])),
        )


def narrowed(plan: PlanSettings, past: Sequence[PastFlight]) -> PlanSettings:
    """The plan as the past has it; as it is without any."""
    if not past or plan.descent_rate_ms is None:
        return plan
    ascent, ascent_sd = _weighed(
        plan.ascent_rate_ms, plan.ascent_rate_sd_ms,
        [(flown.ascent_rate_ms, ASCENT_SHARE * flown.ascent_rate_ms) for flown in past],
    )  # fmt: skip
    burst, burst_sd = _weighed(
        plan.burst_altitude_m, plan.burst_altitude_sd_m,
        [(flown.burst_altitude_m, BURST_M) for flown in past],
    )  # fmt: skip
    descent, descent_sd = _weighed(
        plan.descent_rate_ms, plan.descent_rate_sd_ms,
        [(flown.descent_rate_ms, DESCENT_SHARE * flown.descent_rate_ms) for flown in past],
    )  # fmt: skip
    return replace(
        plan,
        ascent_rate_ms=ascent,
        ascent_rate_sd_ms=ascent_sd,
        burst_altitude_m=burst,
        burst_altitude_sd_m=burst_sd,
        descent_rate_ms=descent,
        descent_rate_sd_ms=descent_sd,
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
