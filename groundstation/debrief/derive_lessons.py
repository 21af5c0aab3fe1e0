"""What a flight says about drag, fill, burst, intervals and radio range, for the next one."""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final

from groundstation.debrief.figures import Figures, Track, ascent_pieces, descent_pieces, ending
from groundstation.debrief.flights import FlightLog
from groundstation.errors import OutOfModelRangeError
from groundstation.flight.settings import BaseSettings, PlanSettings
from groundstation.jsonout import iso_utc
from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number
from groundstation.physics.atmosphere import (
    SEA_LEVEL_DENSITY_KGM3,
    STANDARD_GRAVITY_MS2,
    density,
)
from groundstation.physics.buoyancy import diameter_m
from groundstation.physics.fall import resting_m
from groundstation.physics.geodesy import distance_m
from groundstation.planning.lessons_file import Lesson
from groundstation.planning.lift import Lift, canopy_m, of_ascent_rate
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan
from groundstation.records import Fix

LEAST_DESCENT_M: Final = 3_000.0  # own choice: over less, opening and wander count too much
LEAST_BALLOON_DRAG: Final = 0.1  # own choice: a smooth sphere has no less
AS_PLANNED_SDS: Final = 1.65  # two-sided 90 % of a normal distribution
LONG_S: Final = 60.0  # own choice: slower than radio trackers usually send
FEWEST: Final = 10  # own choice: of fewer no rule is made
LEAST_DRAG, MOST_DRAG = 0.2, 2.5
"""Of a canopy, as the flight file takes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What was meant to fly: the flight file, solved, as the station expected it."""

    file: FlightFile
    plan: Plan
    expected: PlanSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """``words`` are sentences for a person; ``lesson`` what is kept, None of a flight that was not
    heard whole."""

    words: tuple[str, ...]
    lesson: Lesson | None


def learned(
    flight: FlightLog,
    track: Track | None,
    known: Figures,
    planned: Planned | None = None,
    base: BaseSettings | None = None,
    shown: Shown = METRIC,
) -> Learned:
    """``planned`` is needed for what it says about the gear, ``base`` for how far it was heard from
    there; else that is told from the launch. ``shown`` writes the figures of the sentences; what is
    kept is in SI."""
    words = [
        *_of_the_ascent(known, planned, shown),
        *_of_the_burst(flight, known, planned, shown),
        *_of_the_descent(known, planned, shown),
        *_of_intervals(flight, known, shown),
        *_of_range(flight, base, shown),
    ]
    return Learned(words=tuple(words), lesson=_lesson(flight, track, known, planned, base))


def canopy_drag(known: Figures, planned: Planned) -> float | None:
    """The drag coefficient of the parachute that fell so fast with the mass that was planned to
    come down: weight is rho Cd S v² / 2 (Knacke, NWC TP 6575, chapter 5)."""
    if known.descent_rate_ms is None:
        return None
    area = math.pi * planned.file.parachute.diameter_m**2 / 4.0
    weight = planned.plan.descending_kg * STANDARD_GRAVITY_MS2
    return 2.0 * weight / (SEA_LEVEL_DENSITY_KGM3 * known.descent_rate_ms**2 * area)


def balloon_drag(known: Figures, planned: Planned) -> float | None:
    """The drag coefficient of a balloon that rose so fast with the fill that was planned."""
    if known.ascent_rate_ms is None:
        return None
    lift = planned.plan.lift
    area = math.pi * lift.diameter_m**2 / 4.0
    pull = 2.0 * lift.free_kg * STANDARD_GRAVITY_MS2
    return pull / (planned.plan.balloon.air.density_kgm3 * known.ascent_rate_ms**2 * area)


def burst_diameter(flight: FlightLog, known: Figures, planned: Planned) -> float | None:
    """How wide the planned fill was where it burst: the gas grows as the air thins."""
    if known.highest_m is None or flight.burst_utc is None:
        return None
    air = planned.plan.balloon.air.density_kgm3
    return diameter_m(planned.plan.lift.volume_m3 * air / float(density(known.highest_m)))


def _of_the_ascent(known: Figures, planned: Planned | None, shown: Shown) -> Iterator[str]:
    if known.ascent_rate_ms is None or planned is None:
        return
    expected = planned.expected
    rate = shown.text("rate", known.ascent_rate_ms)
    if _as_planned(known.ascent_rate_ms, expected.ascent_rate_ms, expected.ascent_rate_sd_ms):
        yield _("It rose as planned, at {rate}: fill and weighing were right.", rate=rate)
        return
    wanted = shown.number("rate", expected.ascent_rate_ms)
    lift = _fill_of(known.ascent_rate_ms, planned)
    if lift is None:
        yield _(
            "It rose at {rate}, planned {planned}: no fill of such a balloon does that; was it this"
            " flight file's?",
            rate=rate, planned=wanted,
        )  # fmt: skip
        return
    more = lift.free_kg - planned.plan.lift.free_kg
    other = shown.text("mass", abs(more))
    other = _("{mass} more", mass=other) if more > 0.0 else _("{mass} less", mass=other)
    drag = balloon_drag(known, planned) or 0.0
    if LEAST_BALLOON_DRAG <= drag <= 1.0:
        yield _(
            "It rose at {rate}, planned {planned}: as with {other} free lift, or with the planned"
            " fill and a balloon's drag coefficient of {drag}. Weigh the neck lift once more before"
            " you blame the balloon.",
            rate=rate, planned=wanted, other=other, drag=number(drag, 2),
        )  # fmt: skip
    else:
        yield _(
            "It rose at {rate}, planned {planned}: as with {other} free lift. Weigh the neck lift"
            " once more before you blame the balloon.",
            rate=rate, planned=wanted, other=other,
        )  # fmt: skip


def _of_the_burst(
    flight: FlightLog, known: Figures, planned: Planned | None, shown: Shown
) -> Iterator[str]:
    if planned is None or known.highest_m is None:
        return
    across = burst_diameter(flight, known, planned)
    if across is None:
        yield _("No burst was seen, so it says nothing about the balloon's diameter.")
        return
    sheet = planned.plan.balloon.burst_diameter_m
    expected = planned.expected
    as_it_was = _("as planned")
    if not _as_planned(known.highest_m, expected.burst_altitude_m, expected.burst_altitude_sd_m):
        as_it_was = _("lower than planned") if across < sheet else _("higher than planned")
    height, wider = shown.text("height", known.highest_m), _by_the_ascent(known, planned, across)
    if wider is None:
        yield _(
            "It burst at {height}, {as_it_was}: with the planned fill the balloon was {across}"
            " across there, and {expected} was expected.",
            height=height, as_it_was=as_it_was, across=shown.text("across", across),
            expected=shown.text("across", sheet),
        )  # fmt: skip
        return
    yield _(
        "It burst at {height}, {as_it_was}: with the planned fill the balloon was {across} across"
        " there ({wider} with the fill that its ascent speaks for), and {expected} was expected.",
        height=height, as_it_was=as_it_was, across=shown.text("across", across),
        wider=shown.text("across", wider), expected=shown.text("across", sheet),
    )  # fmt: skip


def _by_the_ascent(known: Figures, planned: Planned, across: float) -> float | None:
    """How wide it was if the ascent tells of another fill than the planned one."""
    expected, ascent = planned.expected, known.ascent_rate_ms
    if ascent is None or _as_planned(ascent, expected.ascent_rate_ms, expected.ascent_rate_sd_ms):
        return None
    filled = _fill_of(ascent, planned)
    if filled is None:
        return None
    return float(across * (filled.volume_m3 / planned.plan.lift.volume_m3) ** (1.0 / 3.0))


def _fill_of(ascent_rate_ms: float, planned: Planned) -> Lift | None:
    """The fill with which this balloon rises so fast; None where there is none."""
    try:
        return of_ascent_rate(planned.plan.balloon, ascent_rate_ms)
    except OutOfModelRangeError:
        return None


def _of_the_descent(known: Figures, planned: Planned | None, shown: Shown) -> Iterator[str]:
    if known.descent_rate_ms is None or planned is None:
        return
    drag, expected = canopy_drag(known, planned), planned.expected
    low, high = planned.file.parachute.drag_range
    yield _(
        "It fell at {rate}, reduced to sea level: with {mass} under the canopy that is a drag"
        " coefficient of {drag}, and {low} to {high} was expected.",
        rate=shown.text("rate", known.descent_rate_ms),
        mass=shown.text("mass", planned.plan.descending_kg),
        drag=number(drag or 0.0, 2),
        low=number(low, 2),
        high=number(high, 2),
    )
    if drag is None or expected.descent_rate_ms is None or low <= drag <= high:
        return
    if not LEAST_DRAG <= drag <= MOST_DRAG:
        yield _(
            "That is no open canopy's: it did not open well, or something else came down than was"
            " planned. It is not kept as one."
        )
        return
    air = SEA_LEVEL_DENSITY_KGM3
    wanted = canopy_m(planned.plan.descending_kg, expected.descent_rate_ms, drag, air)
    line = f"drag_coefficient = {drag:.2f}"
    yield _(
        "Put {line} into the flight file; for the planned fall of {rate} it would take a canopy of"
        " {across}. Where some of the balloon stayed on the string or the lines were tangled, this"
        " is not the canopy's.",
        line=line,
        rate=shown.text("rate", expected.descent_rate_ms),
        across=shown.text("across", wanted),
    )


def _of_intervals(flight: FlightLog, known: Figures, shown: Shown) -> Iterator[str]:
    by_tracker: dict[str, list[float]] = defaultdict(list)
    for fix in flight.fixes:
        if fix.time_utc >= flight.launch_utc:
            by_tracker[fix.tracker].append(fix.time_utc)
    for tracker, times in sorted(by_tracker.items()):
        apart = [b - a for a, b in pairwise(sorted(times)) if b > a]
        if len(apart) < FEWEST:
            continue
        usual = median(apart)
        share = min(len(times) * usual / (max(times) - min(times) + usual), 1.0)
        yield _(
            "{tracker} was heard every {seconds} s at the median, about {percent} % of what it"
            " likely sent.",
            tracker=tracker, seconds=round(usual), percent=round(100.0 * share),
        )  # fmt: skip
        descent = known.touchdown_ms
        if descent is not None and usual > LONG_S:
            yield _(
                "At that interval it falls {height} from one packet to the next near the ground:"
                " let it send more often in the fall.",
                height=shown.text("altitude", usual * descent),
            )


def _of_range(flight: FlightLog, base: BaseSettings | None, shown: Shown) -> Iterator[str]:
    away, farthest = _farthest(flight, base)
    if farthest.altitude_m is None:
        bare = (
            N_("It was heard as far as {distance} from the launch.")
            if base is None
            else N_("It was heard as far as {distance} from base.")
        )
        yield _(bare, distance=shown.text("distance", away))
    else:
        high = (
            N_("It was heard as far as {distance} from the launch, at {height}.")
            if base is None
            else N_("It was heard as far as {distance} from base, at {height}.")
        )
        yield _(
            high,
            distance=shown.text("distance", away),
            height=shown.text("altitude", farthest.altitude_m),
        )
    last = flight.fixes[-1]
    if flight.landed_utc is not None or (ending(flight) is not None and flight.found is None):
        return  # heard on the ground
    if last.altitude_m is not None and flight.burst_utc is not None:
        away = _away(last, flight, base)
        end = (
            N_(
                "The last packet came from {height}, {distance} from the launch: a receiver nearer"
                " to the landing would have heard it lower."
            )
            if base is None
            else N_(
                "The last packet came from {height}, {distance} from base: a receiver nearer to"
                " the landing would have heard it lower."
            )
        )
        yield _(
            end,
            height=shown.text("altitude", last.altitude_m),
            distance=shown.text("distance", away),
        )


def _farthest(flight: FlightLog, base: BaseSettings | None) -> tuple[float, Fix]:
    return max(((_away(fix, flight, base), fix) for fix in flight.fixes), key=lambda each: each[0])


def _away(fix: Fix, flight: FlightLog, base: BaseSettings | None) -> float:
    first = flight.fixes[0]
    lat, lon = (
        (first.latitude_deg, first.longitude_deg)
        if base is None
        else (base.latitude_deg, base.longitude_deg)
    )
    return distance_m(lat, lon, fix.latitude_deg, fix.longitude_deg)


def _lesson(
    flight: FlightLog,
    track: Track | None,
    known: Figures,
    planned: Planned | None,
    base: BaseSettings | None,
) -> Lesson | None:
    ascent, highest, descent = known.ascent_rate_ms, known.highest_m, known.descent_rate_ms
    if track is None or flight.burst_utc is None or flight.called_off:
        return None
    if ascent is None or highest is None or descent is None:
        return None
    if round(ascent, 2) <= 0.0:
        return None
    pieces, ascents = descent_pieces(track), ascent_pieces(track, flight.launch_utc)
    lowest = float(resting_m(track.altitude_m[track.top :]))
    if pieces is None or ascents is None or highest - lowest < LEAST_DESCENT_M:
        return None
    gear: dict[str, float | None] = {}
    if planned is not None:
        canopy = canopy_drag(known, planned)
        if canopy is not None and not LEAST_DRAG <= canopy <= MOST_DRAG:
            canopy = None
        gear = {
            "payload_kg": round(planned.file.payload_kg, 3),
            "drag_coefficient": _rounded(canopy, 2),
            "burst_diameter_m": _rounded(burst_diameter(flight, known, planned), 2),
            "balloon_drag_coefficient": _rounded(balloon_drag(known, planned), 2),
        }
    times = sorted(fix.time_utc for fix in flight.fixes if fix.time_utc >= flight.launch_utc)
    apart = [b - a for a, b in pairwise(times) if b > a]
    return Lesson(
        payload=flight.payload,
        flown=iso_utc(round(flight.launch_utc)) or "",
        ascent_rate_ms=round(ascent, 2),
        burst_altitude_m=round(highest),
        fall_rate_ms=round(descent, 2),
        interval_s=round(median(apart), 1) if apart else None,
        heard_as_far_as_m=round(_farthest(flight, base)[0]),
        evidence=(
            f"{known.fixes} fixes; the ascent from {len(ascents[0])} pieces of a minute"
            f" (± {known.ascent_rate_sd_ms or 0.0:.1f} m/s), the descent from"
            f" {len(pieces.rate_ms)}, {highest / 1000.0:.1f} to"
            f" {pieces.altitude_m[-1] / 1000.0:.1f} km"
            + ("; gear as in the flight file" if planned is not None else "")
        ),
        **gear,
    )


def _as_planned(flown: float, wanted: float, sd: float) -> bool:
    return abs(flown - wanted) <= AS_PLANNED_SDS * sd


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)
