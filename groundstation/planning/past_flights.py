"""What one's own flights say about the next one, where it is flown with the same gear.

Rates and burst height of a plan are taken as a normal distribution, each past flight as one
observation of it with its own repeatability. The repeatabilities are judgement, and give way to how
much one's own flights scatter.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Final

import numpy as np

from groundstation.flight.settings import PlanSettings
from groundstation.language.catalogue import N_, _, ngettext
from groundstation.language.dates import day_text
from groundstation.physics.fall import resting_m
from groundstation.physics.layers import fall_path_m
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.records import Fix, Height, Phase, PhaseChange

ASCENT_SHARE: Final = 0.08  # own choice: gas is weighed to a few percent
BURST_M: Final = 1_200.0  # own choice: two balloons of one box
DESCENT_SHARE: Final = 0.10  # own choice: one parachute, another mass and air
REPEAT_WEIGHT: Final = 6.0
"""The judged repeatability counts as much as the scatter of so many flights: own choice."""

LEAST_STAYS: Final = 0.5
"""Of a plan's spread at least this share stays with the gear: own choice, so that a plan which is
surer than flights repeat still learns."""

LEAST_FIXES: Final = 5  # own choice: fewer are no rate
LEAST_DESCENT_M: Final = 3_000.0  # own choice: over less, opening and wander count too much


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFlight:
    """What a flight was. ``descent_rate_ms`` is its mean descent rate reduced to sea level."""

    begun_utc: float
    ascent_rate_ms: float
    burst_altitude_m: float
    descent_rate_ms: float


def past_flights(
    phases: Sequence[PhaseChange], fixes: Iterable[Fix | Height]
) -> Iterator[PastFlight]:
    """The whole flights among these, which are in order of time: begun, burst, and followed down
    far enough."""
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
    ascent, ascent_sd = _next(
        plan.ascent_rate_ms, plan.ascent_rate_sd_ms,
        [flight.ascent_rate_ms for flight in past], ASCENT_SHARE * plan.ascent_rate_ms,
    )  # fmt: skip
    burst, burst_sd = _next(
        plan.burst_altitude_m, plan.burst_altitude_sd_m,
        [flight.burst_altitude_m for flight in past], BURST_M,
    )  # fmt: skip
    descent, descent_sd = _next(
        plan.descent_rate_ms, plan.descent_rate_sd_ms,
        [flight.descent_rate_ms for flight in past], DESCENT_SHARE * plan.descent_rate_ms,
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


def what_was_learned(
    before: PlanSettings,
    after: PlanSettings,
    past: Sequence[PastFlight],
    shown: Shown = METRIC,
) -> Iterator[str]:
    """What the past has changed, in words, and which flights that were."""
    days = ", ".join(day_text(day) for day in sorted({_day(flight.begun_utc) for flight in past}))
    yield ngettext(
        "By {count} past flight ({days}), taken as flown with the same balloon, fill, parachute and"
        " payload:",
        "By {count} past flights ({days}), taken as flown with the same balloon, fill, parachute"
        " and payload:",
        len(past), days=days,
    )  # fmt: skip
    for name, kind, value, sd in (
        (N_("ascent"), "rate", "ascent_rate_ms", "ascent_rate_sd_ms"),
        (N_("burst height"), "height", "burst_altitude_m", "burst_altitude_sd_m"),
        (N_("fall at sea level"), "rate", "descent_rate_ms", "descent_rate_sd_ms"),
    ):
        was, now = getattr(before, value), getattr(after, value)
        if was is None or now is None:
            continue
        yield _(
            "{what} {before} becomes {after}",
            what=_(name),
            before=shown.give_or_take(kind, was, getattr(before, sd)),
            after=shown.give_or_take(kind, now, getattr(after, sd)),
        )


def _day(time_utc: float) -> date:
    return datetime.fromtimestamp(time_utc, UTC).date()


def _next(plan: float, plan_sd: float, seen: Sequence[float], repeat: float) -> tuple[float, float]:
    """Mean and sd of the next flight.

    The plan is off by something that stays with the gear, and by what differs from flight to
    flight. The first is learned by the conjugate rule of a normal with known spread (Gelman et al.,
    Bayesian Data Analysis, 2.5), the second stays: it is ``repeat``, moved by how much the flights
    themselves scatter, and more so the more there are.
    """
    n = len(seen)
    mean = sum(seen) / n
    scatter = sum((value - mean) ** 2 for value in seen)
    each = (REPEAT_WEIGHT * repeat**2 + scatter) / (REPEAT_WEIGHT + n - 1)
    stays = max(plan_sd**2 - each, (LEAST_STAYS * plan_sd) ** 2)
    precision = 1.0 / stays + n / each
    middle = (plan / stays + n * mean / each) / precision
    return middle, math.sqrt(1.0 / precision + each)
