"""Whether what is known of falls holds for flights of others: ``benchmarks.groups_left_out``.

Flights of one crew, one site and one kind fall alike, so leaving out single flights flatters what
was fitted on the rest. Here each launch group is left out whole: level, spread, slope, and how
strong trend and wander of a steady fall are, are found anew on the other groups, and the group is
then scored with them and with the numbers that the station has. What is argued and not fitted (the
shares of the kinds, the kinds that bend and hang) stays. Groups are flights let go within
``NEAR_M`` of each other from one folder.

The new numbers: level and its spread are mean and standard deviation of the flights' own levels,
the others are those of a small grid under which the other groups' falls are likeliest. Each group
counts alike.
"""

import argparse
import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final
from unittest import mock

import numpy as np

from benchmarks import cases
from benchmarks.scores import Score, over_days, ratio, share
from benchmarks.tracks import Track, read_tracks
from groundstation.flight import fallfit
from groundstation.physics.fall import (
    HANGING,
    KINDS,
    STEADY,
    FallModel,
    FallSamples,
    regress,
    samples,
)
from groundstation.physics.geodesy import distance_m

NEAR_M: Final = 100_000.0  # own choice: a crew goes so far to launch, and hardly farther
EVERY_S: Final = (60.0, 300.0)
PIECES_S: Final = 10.0
"""Finer fixes tell nothing more of a fall in pieces of 300 m."""

SLOPES: Final = (0.0, 0.05, 0.10, 0.15, 0.20, 0.30)
TREND_SDS: Final = (0.0125, 0.025, 0.05, 0.10)
WANDER_SDS: Final = (0.025, 0.05, 0.10)
LEAST_SD: Final = 0.2
"""Of the level: few flights of one kind say too little of others (own choice)."""

Kinds = tuple[tuple[FallModel, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Flights that were let go near each other."""

    name: str
    tracks: tuple[Track, ...]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, nargs="+")
    asked = parser.parse_args()
    groups = list(grouped(read_tracks(folder) for folder in asked.flights))
    kept: dict[tuple[float, str], list[Score]] = {}
    with ProcessPoolExecutor() as pool:
        for group in groups:
            others = [other for other in groups if other is not group]
            found = refitted([[fall_of(track) for track in other.tracks] for other in others])
            print(f"{group.name} ({len(group.tracks)}), without it: {numbers(found)}")
            for every_s, (name, kinds) in itertools.product(
                EVERY_S, (("station's", KINDS), ("refitted", found))
            ):
                score = partial(scored_with, kinds)
                tracks = [track.every(every_s) for track in group.tracks]
                scores = [
                    replace(one, day=group.name)
                    for part in pool.map(score, tracks) for one in part
                ]  # fmt: skip
                print(f"  every {every_s:3.0f} s, {name:9}  {told(scores)}")
                kept.setdefault((every_s, name), []).extend(scores)
    print(f"all, the station's numbers: {numbers(KINDS)}")
    for (every_s, name), scores in kept.items():
        low, high = over_days(scores, ratio)
        print(f"  every {every_s:3.0f} s, {name:9}  {told(scores)}  ({low:.2f} to {high:.2f})")


def grouped(folders: Iterable[Sequence[Track]]) -> Iterator[Group]:
    for tracks in folders:
        groups: list[list[Track]] = []
        for track in tracks:
            near = next((group for group in groups if _apart_m(group[0], track) < NEAR_M), None)
            if near is None:
                groups.append(near := [])
            near.append(track)
        for group in groups:
            first, last = group[0].name, group[-1].name
            name = first if len(group) == 1 else f"{first} to {last}"
            yield Group(name=name, tracks=tuple(group))


def _apart_m(a: Track, b: Track) -> float:
    return distance_m(float(a.lat[0]), float(a.lon[0]), float(b.lat[0]), float(b.lon[0]))


def fall_of(track: Track) -> FallSamples:
    """The whole fall, as the estimate sees it at the end."""
    thin = track.every(PIECES_S)
    down = slice(thin.top, None)
    above = thin.altitude_m[down] > thin.ground_m
    time_s, altitude_m = thin.time_s[down][above], thin.altitude_m[down][above]
    return samples(time_s, altitude_m, float(time_s[1] - time_s[0]), STEADY.noise)


def refitted(groups: Sequence[Sequence[FallSamples]]) -> Kinds:
    """The kinds of fall with their fitted numbers found anew on these flights."""
    best = max(
        itertools.product(SLOPES, TREND_SDS, WANDER_SDS),
        key=lambda numbers: sum(
            sum(_log_evidence(changed(groups, *numbers), fall) for fall in group) / len(group)
            for group in groups
        ),
    )
    return changed(groups, *best)


def changed(
    groups: Sequence[Sequence[FallSamples]], slope: float, trend_sd: float, wander_sd: float
) -> Kinds:
    """The kinds with these numbers, and with the level of these flights."""
    each = [np.array([_level(fall, slope) for fall in group]) for group in groups]
    levels = np.array([group.mean() for group in each])
    within = np.mean([group.var() for group in each])
    level_sd = max(math.sqrt(float(levels.var() + within)), LEAST_SD)

    def anew(kind: FallModel) -> FallModel:
        if kind is HANGING:
            return kind
        steady = {"trend_sd": trend_sd, "wander_sd": wander_sd} if kind is STEADY else {}
        return replace(kind, level=float(levels.mean()), level_sd=level_sd, slope=slope, **steady)

    return tuple((anew(kind), weight) for kind, weight in KINDS)


def _level(fall: FallSamples, slope: float) -> float:
    """Of one flight, with hardly any prior."""
    wide = replace(STEADY, level_sd=3.0, slope=slope, trend_sd=0.1, wander_sd=0.1)
    z = fall.altitude_m
    close = regress(wide.covariance(z, z), fall.log_rate - wide.mean(z), z, fall.variance)
    at, _ = wide.factors(z)
    return float(wide.level + wide.level_sd**2 * at @ close.solve @ close.residual)


def _log_evidence(kinds: Kinds, fall: FallSamples) -> float:
    z, found = fall.altitude_m, []
    for kind, weight in kinds:
        close = regress(kind.covariance(z, z), fall.log_rate - kind.mean(z), z, fall.variance)
        found.append(math.log(weight) + close.log_evidence)
    return float(np.logaddexp.reduce(found))


def scored_with(kinds: Kinds, track: Track) -> list[Score]:
    with mock.patch.object(fallfit, "KINDS", kinds):
        return cases.descent(track)


def numbers(kinds: Kinds) -> str:
    kind = kinds[0][0]
    return (
        f"level {kind.level:.2f} ± {kind.level_sd:.2f}, slope {kind.slope:.2f},"
        f" trend {kind.trend_sd:.3f}, wander {kind.wander_sd:.3f}"
    )


def told(scores: Sequence[Score]) -> str:
    words = [f"{ratio(scores):.2f} of the careful one"]
    for low, where in ((False, "above 5 km"), (True, "below")):
        part = [one for one in scores if one.low is low]
        words.append(
            f"{where} {ratio(part):.2f}, in 90 % {share([one.in_90 for one in part]):.2f},"
            f" in 50 % {share([one.in_50 for one in part]):.2f}"
        )
    return "; ".join(words)


if __name__ == "__main__":
    main()
