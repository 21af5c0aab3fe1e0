"""Ten flights of one person, again and again: does what the flights teach make the next plan surer,
and still right?

    python -m benchmarks.lessons [PERSONS]

Each person's gear is off the plan by what stays with it, each flight by what does not, as
``groundstation.planning.past_flights`` takes them to be; then the project's simulator flies it,
with its own wander, and each flight is read back from its fixes.
"""

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from groundstation.flight.settings import PlanSettings
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.past_flights import (
    ASCENT_SHARE,
    BURST_M,
    DESCENT_SHARE,
    PastFlight,
    narrowed,
    past_flights,
)
from groundstation.planning.spread import planned
from groundstation.records import Fix, Phase, PhaseChange
from groundstation.simulation.flight import fly
from groundstation.simulation.settings import SimulationSettings

EXAMPLE = Path(__file__).resolve().parents[1] / "config" / "flight.toml"
FLIGHTS = 10
NINETY = 1.645
EVERY = 10
NAMES = ("ascent_rate", "burst_altitude", "descent_rate")


@dataclass(frozen=True, kw_only=True)
class Series:
    """By the flight, from the first: how many of the figures lay in their 90 % spans, and how wide
    those were beside the first ones."""

    inside: tuple[float, ...]
    width: tuple[float, ...]
    by_name: dict[str, float]

    @property
    def all_inside(self) -> float:
        return float(np.mean(self.inside))


def measure(persons: int, seed: int = 1) -> Series:
    """Fly ``persons`` times ten flights."""
    plan = plan_settings(planned(read_flight(EXAMPLE)))
    rng = np.random.default_rng(seed)
    inside: dict[tuple[int, str], list[bool]] = defaultdict(list)
    width: dict[int, list[float]] = defaultdict(list)
    for person in range(persons):
        past: list[PastFlight] = []
        for n, flown in enumerate(_flown(plan, rng, seed=1_000 * seed + 10 * person)):
            expected = narrowed(plan, past)
            for name in NAMES:
                unit = "m" if name == "burst_altitude" else "ms"
                value, sd = (
                    getattr(expected, f"{name}_{unit}"),
                    getattr(expected, f"{name}_sd_{unit}"),
                )
                off = abs(getattr(flown, f"{name}_{unit}") - value)
                inside[n, name].append(off <= NINETY * sd)
                width[n].append(sd / getattr(plan, f"{name}_sd_{unit}"))
            past.append(flown)
    return Series(
        inside=tuple(float(np.mean([inside[n, name] for name in NAMES])) for n in range(FLIGHTS)),
        width=tuple(float(np.mean(width[n])) for n in range(FLIGHTS)),
        by_name={name: float(np.mean([inside[n, name] for n in range(FLIGHTS)])) for name in NAMES},
    )


def _flown(plan: PlanSettings, rng: np.random.Generator, seed: int) -> Iterator[PastFlight]:
    """Ten flights of one person, as their fixes tell them."""
    assert plan.descent_rate_ms is not None
    rows = (
        (plan.ascent_rate_ms, plan.ascent_rate_sd_ms, ASCENT_SHARE * plan.ascent_rate_ms),
        (plan.burst_altitude_m, plan.burst_altitude_sd_m, BURST_M),
        (plan.descent_rate_ms, plan.descent_rate_sd_ms, DESCENT_SHARE * plan.descent_rate_ms),
    )
    gear = [
        value + np.sqrt(max(sd**2 - each**2, 0.0)) * rng.standard_normal()
        for value, sd, each in rows
    ]
    for n in range(FLIGHTS):
        ascent, burst, descent = (
            float(mine + each * rng.standard_normal())
            for mine, (_, _, each) in zip(gear, rows, strict=True)
        )
        truth = fly(
            SimulationSettings(
                seed=seed + n,
                ascent_rate_ms=max(ascent, 2.0),
                burst_altitude_m=float(np.clip(burst, 10_000.0, 38_000.0)),
                descent_rate_ms=max(descent, 2.0),
            )
        )
        fixes = [
            Fix(
                payload="x", tracker="t", source="s", time_utc=float(truth.time_utc[at]),
                received_utc=float(truth.time_utc[at]), latitude_deg=float(truth.latitude_deg[at]),
                longitude_deg=float(truth.longitude_deg[at]),
                altitude_m=float(truth.altitude_m[at]),
            )
            for at in range(0, len(truth.time_utc), EVERY)
        ]  # fmt: skip
        phases = [
            PhaseChange(payload="x", time_utc=at, phase=phase, since_utc=at)
            for phase, at in ((Phase.ASCENT, truth.launch_utc), (Phase.DESCENT, truth.top_utc))
        ]
        yield from past_flights(phases, fixes)


def main() -> None:
    """Print a line a flight of the series, and end with 1 where the spans do not hold."""
    series = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
    for n, (inside, width) in enumerate(zip(series.inside, series.width, strict=True), 1):
        print(f"flight {n:2}: {inside:.2f} within the 90 % spans, which are {width:.2f} as wide")
    names = ", ".join(f"{name.replace('_', ' ')} {of:.2f}" for name, of in series.by_name.items())
    print(f"all: {series.all_inside:.3f} ({names}; goal 0.80 to 0.97)")
    sys.exit(0 if 0.80 <= series.all_inside <= 0.97 else 1)


if __name__ == "__main__":
    main()
