"""The landing estimate on recorded and simulated flights: ``python -m benchmarks.landing FLIGHTS``.

FLIGHTS is a folder of recorded flights. Prints the figures beside what they should be; with
``--figure FILE`` draws error and region against height.
"""

import argparse
import statistics
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks import cases
from benchmarks.figure import Figure
from benchmarks.scores import Score, much_worse, ratio, share
from benchmarks.tracks import Track, read_tracks
from benchmarks.yardstick import Yardstick
from groundstation.simulation.profiles import Profile

EVERY_S = (10.0, 60.0, 300.0)
RATIOS = {10.0: 1.0, 60.0: 0.9, 300.0: 0.75}
AREAS_KM2 = {"20000": 90.0, "10000": 28.0, "5000": 10.0, "2000": 3.5}
ETA_S = {"10000": 45.0, "5000": 30.0}
ESTIMATE_S = 0.01
BLIND_KM = {"10000": 4.0, "2000": 1.5}
HARD = (Profile.FOULED, Profile.SLOW, Profile.FLOAT, Profile.LEAK, Profile.NO_BURST)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path)
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--figure", type=Path)
    asked = parser.parse_args()
    tracks = read_tracks(asked.flights)
    with ProcessPoolExecutor() as pool:
        figures = [*recorded(tracks, pool.map), *simulated_figures(asked.seeds, pool.map)]
    figures += times(tracks)
    width = max(len(one.name) for one in figures)
    for one in figures:
        mark = "ok  " if one.good else "MISS"
        print(f"{mark}  {one.name:{width}}  {one.measured:>14}  (goal {one.goal})")
    if asked.figure is not None:
        from benchmarks.drawing import draw  # noqa: PLC0415 - a library only this needs

        draw(tracks, asked.figure)
    sys.exit(0 if all(one.good for one in figures) else 1)


Map = Callable[..., Iterable[list[Score]]]


def together(mapped: Iterable[list[Score]]) -> list[Score]:
    return [one for part in mapped for one in part]


def within(name: str, value: float, low: float, high: float, shown: str = "{:.2f}") -> Figure:
    goal = f"{low:g} to {high:g}" if low > -np.inf else f"<= {high:g}"
    return Figure(
        name=name, measured=shown.format(value), goal=goal, good=bool(low <= value <= high)
    )


def coverage(name: str, scores: Sequence[Score], low: float = 0.83, high: float = 0.97) -> Figure:
    return within(
        f"{name}: truth in the 90 % region (n = {len(scores)})",
        share([one.in_90 for one in scores]),
        low,
        high,
    )


def recorded(tracks: Sequence[Track], over: Map) -> list[Figure]:
    figures = []
    for every_s in EVERY_S:
        heard = [track.every(every_s) for track in tracks]
        scores = together(over(cases.descent, heard))
        name = f"every {every_s:g} s"
        figures.append(
            within(
                f"{name}: error, of the careful one (n = {len(scores)})",
                ratio(scores),
                -np.inf,
                RATIOS[every_s],
            )
        )
        figures.append(within(f"{name}: share much worse", much_worse(scores), -np.inf, 0.10))
        for low, words in ((False, "above 5 km"), (True, "5 km and below")):
            part = [one for one in scores if one.low is low]
            figures.append(coverage(f"{name}, {words}", part))
            figures.append(
                within(
                    f"{name}, {words}: truth in the 50 % region",
                    share([one.in_50 for one in part]),
                    0.40,
                    0.62,
                )
            )
        if every_s == EVERY_S[0]:
            figures += close_look(scores)
        figures.append(
            within(
                f"{name}: touchdown within eta_90",
                share([one.in_eta for one in scores]),
                0.83,
                0.97,
            )
        )
        figures.append(coverage(f"{name}, last heard", together(over(cases.last_heard, heard))))
        figures.append(
            coverage(f"{name}, in ascent", together(over(cases.ascent, heard)), high=0.98)
        )
    heard = [track.every(60.0) for track in tracks]
    for seen, words in ((0, "withheld in the descent"), (2, "withheld after two fixes of it")):
        case = partial(cases.without_altitude, seen_after_burst=seen)
        figures += blind(f"altitude {words}", together(over(case, heard)), goal=seen == 0)
    figures += blind(
        "never an altitude", together(over(cases.never_an_altitude, heard)), goal=False
    )
    rare = together(over(cases.descent, [track.every(600.0) for track in tracks]))
    figures.append(
        within(
            f"every 600 s: error, of the careful one (n = {len(rare)})", ratio(rare), -np.inf, 0.65
        )
    )
    figures.append(coverage("every 600 s", rare))
    return figures


def close_look(scores: Sequence[Score]) -> list[Figure]:
    """What is asked of fixes every 10 s only."""
    figures = []
    burst = [one.error_m for one in scores if one.checkpoint == "burst"]
    figures.append(
        within(
            "burst + 60 s: 90th percentile of the error",
            float(np.percentile(burst, 90)) / 1000.0,
            -np.inf,
            14.0,
            "{:.1f} km",
        )
    )
    for name, most in AREAS_KM2.items():
        area = statistics.median(one.area_km2 for one in scores if one.checkpoint == name)
        figures.append(
            within(f"{name} m: median area of the 90 % region", area, -np.inf, most, "{:.1f} km²")
        )
    for name, most in ETA_S.items():
        late = statistics.median(one.eta_error_s for one in scores if one.checkpoint == name)
        figures.append(
            within(f"{name} m: median error of the touchdown time", late, -np.inf, most, "{:.0f} s")
        )
    return figures


def blind(name: str, scores: Sequence[Score], *, goal: bool) -> list[Figure]:
    figures = []
    for checkpoint, most_km in BLIND_KM.items():
        errors = [one.error_m for one in scores if one.checkpoint == checkpoint]
        if errors:
            figures.append(
                within(
                    f"{name}, {checkpoint} m: median error",
                    statistics.median(errors) / 1000.0,
                    -np.inf,
                    most_km if goal else np.inf,
                    "{:.1f} km",
                )
            )
    low, high = (0.80, 0.97) if goal else (0.0, 1.0)
    return [*figures, coverage(name, scores, low, high)]


def simulated_figures(seeds: int, over: Map) -> list[Figure]:
    scores = together(over(cases.simulated, range(1, seeds + 1), chunksize=8))
    figures = [
        coverage(f"{seeds} simulated flights", scores, 0.87, 0.94),
        within(
            f"{seeds} simulated flights: truth in the 50 % region",
            share([one.in_50 for one in scores]),
            0.46,
            0.56,
        ),
    ]
    for profile in HARD:
        case = partial(cases.simulated, profile=profile)
        hard = together(over(case, range(1, seeds // 5 + 1), chunksize=4))
        figures.append(coverage(f"simulated, {profile.value}", hard, 0.0, 1.0))
    return figures


def times(tracks: Sequence[Track]) -> list[Figure]:
    """One estimate of 500 members after 8,000 fixes, and after 800 of the same flight."""
    track = max(tracks, key=lambda one: len(one.time_s))
    took = {step: _estimate_s(track, step) for step in (1, 10)}
    return [
        Yardstick().judged(
            f"one estimate after {len(track.time_s)} fixes, median", took[1], ESTIMATE_S
        ),
        within("the same, of one after a tenth of the fixes", took[1] / took[10], -np.inf, 1.3),
    ]


def _estimate_s(track: Track, step: int) -> float:
    """In the middle of the descent."""
    at = track.below(10_000.0)
    assert at is not None
    return cases.estimate_time_s(track, at, step)


if __name__ == "__main__":
    main()
