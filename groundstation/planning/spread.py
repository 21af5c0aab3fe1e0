"""How far a plan may be off, and what that comes from: many flights drawn from what is not known.

Drawn are the burst diameter, the drag of balloon and canopy, how well the fill is weighed, and how
much of the balloon stays on the string. What the spans rest on is told beside each number: most of
it is judgement, and the text says so. The mean ascent rate of latex balloons stays near that of
the launch (common practice, no source), so the time to burst is height over rate.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import OutOfModelRangeError
from groundstation.language.catalogue import N_, _
from groundstation.physics.atmosphere import STANDARD_GRAVITY_MS2
from groundstation.physics.buoyancy import Fill
from groundstation.planning.lift import Air, Balloon, Lift, descent_rate_ms, of_neck_lift, solved
from groundstation.planning.settings import FlightFile, Wanted

Array = NDArray[np.float64]

MEMBERS: Final = 1_000  # own choice: a share of 10 % is then known to 1 %
SEED: Final = 20_261_126  # any number; it is fixed so that a plan stays as it is
WEIGHED_SD: Final = 0.04
"""Of the free lift, as weighed on a field with some wind: judgement."""

ASCENT_SD: Final = 0.12
"""Of the mean ascent rate, beside what fill and drag tell: own choice, between the 0.08 of one's
own flights with the same gear and the 0.22 of 16 recorded flights of others (4.8 ± 1.1 m/s), in
which their different aims are, too."""

FALL_SD: Final = 0.10
"""Of the fall under an open canopy, beside its drag coefficient: own choice, as much as one's own
falls repeat. The fall of radiosondes is "very variable" (Ingleby et al. 2022, AMT 15, 165)."""

EARLY_CHANCE: Final = 0.15  # own choice, near 3 of 16 recorded flights
EARLY_SHARES: Final = (0.72, 0.95)
"""Some balloons burst early: of 16 recorded flights (29.9 ± 2.9 km, skew -1.2) three ended 5 to 7
km below the middle one, which is 0.72 to 0.78 of the diameter. Which share of a burst diameter it
was is not known of them: own choice."""

FOULED_CHANCE, BARE_CHANCE = 0.15, 0.01
"""Assumptions: no count of such flights was found. Recorded falls below 5 km of 7.5 to 17 m/s,
where 5 m/s is what people plan, say that the first is not rare."""

FOULED_SHARES: Final = (0.10, 0.50)
"""Of the open canopy's drag: brings a planned 5.4 m/s to the 7.5 to 17 m/s of those recorded falls.
What was planned of them is not known: own choice."""

BARE_M2_KG23: Final = (0.02 / 1.5 ** (2.0 / 3.0), 0.05 / 1.5 ** (2.0 / 3.0))
"""Drag area of a box without a canopy, for each kilogram to the power of 2/3: 0.02 to 0.05 m² of a
box of 1.5 kg (own choice), which falls at 22 to 35 m/s."""


SPANS: Final = N_("judged spans, meant to hold nine of ten")
"""How spans are called that rest on judgement, in English."""


class Cause(StrEnum):
    """What drives a spread, in English."""

    BURST_DIAMETER = N_("burst diameter")
    BALLOON_DRAG = N_("drag of the balloon")
    WEIGHING = N_("weighing")
    ASCENT = N_("the ascent itself")
    CANOPY_DRAG = N_("drag of the canopy")
    BALLOON_LEFT = N_("balloon left on the string")
    DESCENT = N_("the descent itself")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A value, and a span that is meant to hold nine tenths of the flights. ``by`` names what
    drives it, with the share of the variance, the largest first."""

    value: float
    low: float
    high: float
    by: tuple[tuple[Cause, float], ...]

    @property
    def sd(self) -> float:
        """Of a normal distribution with the same nine tenths."""
        return (self.high - self.low) / 3.29


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A fall that is not the planned one: how fast at the site and how hard, each from the least to
    the most. ``chance`` is an assumption, ``name`` is English."""

    name: str
    chance: float
    rate_ms: tuple[float, float]
    impact_j: tuple[float, float]

    @property
    def middle_ms(self) -> float:
        return math.sqrt(self.rate_ms[0] * self.rate_ms[1])

    @property
    def chance_text(self) -> str:
        return _("assumed: 1 flight in {count}", count=round(1.0 / self.chance))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is to be done, and what comes of it. ``lift`` is the fill without a spread, ``fouled``
    and ``bare`` are the falls under a canopy that did not open, and under none."""

    lift: Lift
    balloon: Balloon
    descending_kg: float
    ascent_rate_ms: Spread
    burst_altitude_m: Spread
    climb_s: Spread
    descent_rate_ms: Spread
    impact_j: Spread
    fouled: Case
    bare: Case


def planned(flight: FlightFile) -> Plan:
    """Solve the flight file. Raises ``OutOfModelRangeError`` with a sentence for what can't be."""
    balloon = balloon_of(flight)
    lift = solved(flight, balloon)
    chute = flight.parachute
    rng = np.random.default_rng(SEED)
    low, high = chute.drag_range
    drawn = {
        Cause.BURST_DIAMETER: _diameters(rng, flight.balloon.diameter_sd),
        Cause.BALLOON_DRAG: rng.normal(0.0, flight.balloon.drag_coefficient_sd, MEMBERS),
        Cause.WEIGHING: rng.normal(0.0, _weighed_sd(flight), MEMBERS),
        Cause.ASCENT: rng.normal(0.0, ASCENT_SD, MEMBERS),
        Cause.CANOPY_DRAG: rng.uniform(low, high, MEMBERS),
        Cause.BALLOON_LEFT: np.clip(rng.normal(chute.balloon_left, 0.15, MEMBERS), 0.0, 1.0),
        Cause.DESCENT: rng.normal(0.0, FALL_SD, MEMBERS),
    }
    members = [
        _member(flight, balloon, lift, {name: float(of[n]) for name, of in drawn.items()})
        for n in range(MEMBERS)
    ]
    middle = _member(
        flight, balloon, lift,
        {**dict.fromkeys(drawn, 0.0), Cause.CANOPY_DRAG: (low + high) / 2.0,
         Cause.BALLOON_LEFT: chute.balloon_left},
    )  # fmt: skip

    def spread(at: Callable[[tuple[float, ...]], float]) -> Spread:
        values = np.array([at(member) for member in members])
        return Spread(
            value=at(middle),
            low=float(np.quantile(values, 0.05)),
            high=float(np.quantile(values, 0.95)),
            by=_by(drawn, values),
        )

    return Plan(
        lift=lift,
        balloon=balloon,
        descending_kg=middle[3],
        ascent_rate_ms=spread(lambda member: member[0]),
        burst_altitude_m=spread(lambda member: member[1]),
        climb_s=spread(lambda member: (member[1] - flight.site.altitude_m) / member[0]),
        descent_rate_ms=spread(lambda member: member[2]),
        impact_j=spread(lambda member: 0.5 * member[3] * member[2] ** 2),
        fouled=_fouled(middle[2], middle[3]),
        bare=_bare(flight, balloon.air.density_kgm3),
    )


def _diameters(rng: np.random.Generator, sd: float) -> Array:
    """How far the burst diameters are off, as a share; some burst early."""
    usual = rng.normal(0.0, sd, MEMBERS)
    early = rng.random(MEMBERS) < EARLY_CHANCE
    return np.where(early, rng.uniform(*EARLY_SHARES, MEMBERS) - 1.0, usual)


def _fouled(open_ms: float, mass_kg: float) -> Case:
    low, high = (open_ms / math.sqrt(share) for share in reversed(FOULED_SHARES))
    return _case(N_("if the canopy fouls"), FOULED_CHANCE, (low, high), mass_kg)


def _bare(flight: FlightFile, air_kgm3: float) -> Case:
    mass = flight.payload_kg
    low, high = (
        math.sqrt(2.0 * mass * STANDARD_GRAVITY_MS2 / (air_kgm3 * of * mass ** (2.0 / 3.0)))
        for of in reversed(BARE_M2_KG23)
    )
    return _case(N_("without a canopy"), BARE_CHANCE, (low, high), mass)


def _case(name: str, chance: float, rate_ms: tuple[float, float], mass_kg: float) -> Case:
    low, high = (0.5 * mass_kg * rate**2 for rate in rate_ms)
    return Case(name=name, chance=chance, rate_ms=rate_ms, impact_j=(low, high))


def balloon_of(flight: FlightFile) -> Balloon:
    """What the flight file fixes before the fill."""
    gas = flight.gas
    return Balloon(
        mass_kg=flight.balloon.mass_kg,
        payload_kg=flight.payload_kg,
        burst_diameter_m=flight.balloon.diameter_at_burst_m,
        drag_coefficient=flight.balloon.drag_coefficient,
        fill=Fill(gas=gas.kind, purity=1.0 if gas.purity is None else gas.purity),
        air=Air.at(flight.site),
    )


def _weighed_sd(flight: FlightFile) -> float:
    # A cylinder's gauge tells less than a scale.
    return 2.0 * WEIGHED_SD if flight.aim.what is Wanted.CYLINDER else WEIGHED_SD


def _member(
    flight: FlightFile, balloon: Balloon, lift: Lift, off: Mapping[Cause, float]
) -> tuple[float, ...]:
    """Ascent rate, burst height, descent rate at the site, and the mass that comes down."""
    mine = replace(
        balloon,
        burst_diameter_m=balloon.burst_diameter_m * max(1.0 + off[Cause.BURST_DIAMETER], 0.5),
        drag_coefficient=max(balloon.drag_coefficient + off[Cause.BALLOON_DRAG], 0.1),
    )
    free = lift.free_kg * max(1.0 + off[Cause.WEIGHING], 0.05)
    try:
        flown = of_neck_lift(mine, mine.payload_kg + free)
    except OutOfModelRangeError:
        flown = lift
    mass = flight.payload_kg + off[Cause.BALLOON_LEFT] * flight.balloon.mass_kg
    air = balloon.air.density_kgm3
    descent = descent_rate_ms(mass, flight.parachute.diameter_m, off[Cause.CANOPY_DRAG], air)
    descent *= math.exp(off[Cause.DESCENT])
    ascent = max(flown.ascent_rate_ms * (1.0 + off[Cause.ASCENT]), 0.3)
    return ascent, flown.burst_altitude_m, descent, mass


def _by(drawn: Mapping[Cause, Array], values: Array) -> tuple[tuple[Cause, float], ...]:
    """The share of the variance that each of what was drawn explains, if it is a tenth at least."""
    if values.std() < 1e-9:
        return ()
    shares = {
        name: float(np.corrcoef(of, values)[0, 1] ** 2)
        for name, of in drawn.items()
        if of.std() > 0.0
    }
    shown = [(name, share) for name, share in shares.items() if share >= 0.1]
    return tuple(sorted(shown, key=lambda cause: -cause[1]))
