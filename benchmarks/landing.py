"""The landing estimate on recorded and simulated flights: ``python -m benchmarks.landing FLIGHTS``.

FLIGHTS are folders of recorded flights. Prints the figures beside what they should be, and between
which values nine tenths of each lie when the launch days are drawn anew (bootstrap); with
``--figure FILE`` draws error and region against height.
"""

import argparse
import statistics
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks import cases
from benchmarks.figure import Figure
from benchmarks.scores import Score, much_worse, over_days, ratio, share
from benchmarks.tracks import Track, read_tracks
from benchmarks.yardstick import Yardstick
from groundstation.simulation.profiles import Profile

EVERY_S = (10.0, 60.0, 300.0)
WIDTH = 70  # of a name: most are shorter
RATIOS = {10.0: 1.0, 60.0: 0.9, 300.0: 0.75}
LOW_RATIO = 1.04
AREAS_KM2 = {"20000": 90.0, "10000": 28.0, "5000": 10.0, "2000": 3.5}
ETA_S = {"10000": 45.0, "5000": 30.0}
ESTIMATE_S = 0.01
TUNED_ON = frozenset(
    f"f{n:02d}" for n in (1, 2, 4, 5, 6, 9, 11, 14, 17, 19, 21, 23, 25, 26, 27, 28)
)
"""Flights that were looked at while the estimate was made; figures of others say more."""

BLIND_KM = {"10000": 4.0, "2000": 1.5}
HARD = (Profile.FOULED, Profile.SLOW, Profile.FLOAT, Profile.LEAK, Profile.NO_BURST)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, nargs="+")
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--figure", type=Path)
    asked = parser.parse_args()
    tracks = [track for folder in asked.flights for track in read_tracks(folder)]
    print(tuned_on(tracks))
    figures = list[Figure]()
    with ProcessPoolExecutor() as pool:
        # It takes long: what is known is told.
        for part in (recorded(tracks, pool.map), simulated_figures(asked.seeds, pool.map)):
            figures += shown(part)
    figures += shown(times(tracks))
    if asked.figure is not None:
        from benchmarks.drawing import draw  # noqa: PLC0415 - a library only this needs

        draw(tracks, asked.figure)
    sys.exit(0 if all(one.good for one in figures) else 1)


Map = Callable[..., Iterable[list[Score]]]


def tuned_on(tracks: Sequence[Track]) -> str:
    seen = [track.name for track in tracks if track.name in TUNED_ON]
    days = len({track.day for track in tracks})
    return (
        f"{len(tracks)} balloons of {days} days; the estimate was tuned on {len(seen)} of them"
        f" ({', '.join(seen) or 'none'}), so that their figures are better than those of others"
    )


def together(mapped: Iterable[list[Score]], tracks: Sequence[Track] = ()) -> list[Score]:
    """All scores; those of a track with its day, others each with their own."""
    parts = list(mapped)
    days = [track.day for track in tracks] or [str(n) for n in range(len(parts))]
    return [replace(one, day=day) for day, part in zip(days, parts, strict=True) for one in part]


def within(
    name: str,
    scores: Sequence[Score],
    value_of: Callable[[Sequence[Score]], float],
    low: float,
    high: float,
    shown: str = "{:.2f}",
) -> Figure:
    goal = f"{low:g} to {high:g}" if low > -np.inf else f"<= {high:g}"
    value = value_of(scores)
    if not scores:
        return Figure(name=name, measured="none", goal=goal, good=False)
    least, most = (shown.format(one) for one in over_days(scores, value_of))
    return Figure(
        name=name,
        measured=f"{shown.format(value)} ({least} to {most})",
        goal=goal,
        good=bool(low <= value <= high),
    )


def held_90(scores: Sequence[Score]) -> float:
    return share([one.in_90 for one in scores])


def held_50(scores: Sequence[Score]) -> float:
    return share([one.in_50 for one in scores])


def in_time(scores: Sequence[Score]) -> float:
    return share([one.in_eta for one in scores])


def coverage(name: str, scores: Sequence[Score], low: float = 0.83, high: float = 0.97) -> Figure:
    return within(
        f"{name}: truth in the 90 % region (n = {len(scores)})", scores, held_90, low, high
    )


def shown(figures: Iterable[Figure]) -> Iterator[Figure]:
    for one in figures:
        mark = "ok  " if one.good else "MISS"
        print(f"{mark}  {one.name:{WIDTH}}  {one.measured:>24}  (goal {one.goal})", flush=True)
        yield one


def recorded(tracks: Sequence[Track], over: Map) -> Iterator[Figure]:
    rates_ms = [track.fall_rate_ms for track in tracks]
    for every_s in EVERY_S:
        heard = [track.every(every_s) for track in tracks]
        scores = together(over(cases.descent, heard), tracks)
        name = f"every {every_s:g} s"
        yield within(
            f"{name}: error, of the careful one (n = {len(scores)})",
            scores,
            ratio,
            -np.inf,
            RATIOS[every_s],
        )
        yield within(f"{name}: share much worse", scores, much_worse, -np.inf, 0.10)
        for low, words in ((False, "above 5 km"), (True, "5 km and below")):
            part = [one for one in scores if one.low is low]
            most = LOW_RATIO if low else np.inf
            words_of = f"{name}, {words}: error, of the careful one"
            yield within(words_of, part, ratio, -np.inf, most)
            yield coverage(f"{name}, {words}", part)
            yield within(
                f"{name}, {words}: truth in the 50 % region",
                part,
                held_50,
                0.40,
                0.65,
            )
        yield from with_plan(name, together(over(cases.planned, heard, rates_ms), tracks))
        if every_s == EVERY_S[0]:
            yield from close_look(scores)
        yield within(
            f"{name}: touchdown within eta_90",
            scores,
            in_time,
            0.83,
            0.97,
        )
        yield coverage(f"{name}, last heard", together(over(cases.last_heard, heard), tracks))
        yield coverage(f"{name}, in ascent", together(over(cases.ascent, heard), tracks), high=0.98)
    heard = [track.every(60.0) for track in tracks]
    for seen, words in ((0, "withheld in the descent"), (2, "withheld after two fixes of it")):
        case = partial(cases.without_altitude, seen_after_burst=seen)
        yield from blind(f"altitude {words}", together(over(case, heard), tracks), goal=seen == 0)
    yield from blind(
        "never an altitude", together(over(cases.never_an_altitude, heard), tracks), goal=False
    )
    rare = together(over(cases.descent, [track.every(600.0) for track in tracks]), tracks)
    yield within(
        f"every 600 s: error, of the careful one (n = {len(rare)})", rare, ratio, -np.inf, 0.65
    )
    yield coverage("every 600 s", rare)


def with_plan(name: str, scores: Sequence[Score]) -> Iterator[Figure]:
    name = f"{name}, planned to a tenth"
    yield within(f"{name}: error, of the careful one", scores, ratio, -np.inf, np.inf)
    for low, words in ((False, "above 5 km"), (True, "5 km and below")):
        part = [one for one in scores if one.low is low]
        yield coverage(f"{name}, {words}", part)
        yield within(f"{name}, {words}: truth in the 50 % region", part, held_50, 0.40, 0.65)


def close_look(scores: Sequence[Score]) -> list[Figure]:
    """What is asked of fixes every 10 s only."""
    figures = [
        within(
            "burst + 60 s: 90th percentile of the error",
            [one for one in scores if one.checkpoint == "burst"],
            lambda some: float(np.percentile([one.error_m for one in some], 90)) / 1000.0,
            -np.inf,
            14.0,
            "{:.1f} km",
        )
    ]
    for name, most in AREAS_KM2.items():
        part = [one for one in scores if one.checkpoint == name]
        words = f"{name} m: median area of the 90 % region"
        figures.append(within(words, part, median_area_km2, -np.inf, most, "{:.1f} km²"))
    for name, most in ETA_S.items():
        part = [one for one in scores if one.checkpoint == name]
        words = f"{name} m: median error of the touchdown time"
        figures.append(within(words, part, median_eta_error_s, -np.inf, most, "{:.0f} s"))
    return figures


def median_area_km2(scores: Sequence[Score]) -> float:
    return statistics.median(one.area_km2 for one in scores)


def median_eta_error_s(scores: Sequence[Score]) -> float:
    return statistics.median(one.eta_error_s for one in scores)


def median_error_km(scores: Sequence[Score]) -> float:
    return statistics.median(one.error_m for one in scores) / 1000.0


def blind(name: str, scores: Sequence[Score], *, goal: bool) -> list[Figure]:
    figures = []
    for checkpoint, most_km in BLIND_KM.items():
        part = [one for one in scores if one.checkpoint == checkpoint]
        if part:
            most = most_km if goal else np.inf
            words = f"{name}, {checkpoint} m: median error"
            figures.append(within(words, part, median_error_km, -np.inf, most, "{:.1f} km"))
    low, high = (0.80, 0.97) if goal else (0.0, 1.0)
    return [*figures, coverage(name, scores, low, high)]


def simulated_figures(seeds: int, over: Map) -> Iterator[Figure]:
    scores = together(over(cases.simulated, range(1, seeds + 1), chunksize=8))
    yield coverage(f"{seeds} simulated flights", scores, 0.87, 0.94)
    yield within(
        f"{seeds} simulated flights: truth in the 50 % region", scores, held_50, 0.46, 0.56
    )
    for profile in HARD:
        case = partial(cases.simulated, profile=profile)
        hard = together(over(case, range(1, seeds // 5 + 1), chunksize=4))
        yield coverage(f"simulated, {profile.value}", hard, 0.0, 1.0)


def times(tracks: Sequence[Track]) -> list[Figure]:
    """One estimate of 500 members after 8,000 fixes, and after 800 of the same flight."""
    track = max(tracks, key=lambda one: len(one.time_s))
    took = {step: _estimate_s(track, step) for step in (1, 10)}
    return [
        Yardstick().judged(
            f"one estimate after {len(track.time_s)} fixes, median", took[1], ESTIMATE_S
        ),
        Figure(
            name="the same, of one after a tenth of the fixes",
            measured=f"{took[1] / took[10]:.2f}",
            goal="<= 1.3",
            good=took[1] / took[10] <= 1.3,
        ),
    ]


def _estimate_s(track: Track, step: int) -> float:
    """In the middle of the descent."""
    at = track.below(10_000.0)
    assert at is not None
    return cases.estimate_time_s(track, at, step)


if __name__ == "__main__":
    main()
