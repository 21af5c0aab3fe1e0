"""Whether the landing point moves only as the evidence makes it: ``benchmarks.steps FLIGHTS``.

What is believed of a landing is a martingale, so the squares of the point's steps add up to what
the region's variance falls by, each step measured by the variance just before it: 1 is right, more
is jitter or a surprise, less is a region that shrinks without saying why. A surprise is one large
step after which the region is wider; jitter is what the next step takes back. So it is told how
large at most the part is that steps take back, as a share of the 50 % radius, and how large the
largest step was.
"""

import argparse
import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchmarks.cases import SETTINGS
from benchmarks.figure import Figure
from benchmarks.tracks import Track, read_tracks
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.physics.geodesy import Plane
from groundstation.records import Landing, Report

STEP_S: Final = 5.0  # as often as a fall is estimated
OFTEN_S: Final = 12.0  # flights with rarer fixes are left out
FALLEN_STEPS: Final = 40  # the burst is a surprise
LOWEST_AGL_M: Final = 1_500.0
MOST_STEPS: Final = 260
HALF: Final = math.log(2.0)  # of a round normal distribution: radius_50^2 / its variance in both
MOST_JITTER: Final = 0.1  # of the 50 % radius: less is not seen on a map (own choice)

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """How a point moved: ``squares`` of its steps and ``falls`` of the variance, each as a share
    of the variance just before; ``jitter``, ``largest`` as shares of the 50 % radius; ``far`` is
    the share of steps beyond a tenth of it."""

    steps: int
    squares: float
    falls: float
    jitter: float
    largest: float
    far: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, nargs="+")
    asked = parser.parse_args()
    squares, falls, figures = 0.0, 0.0, list[Figure]()
    for track in (track for folder in asked.flights for track in read_tracks(folder)):
        if float(np.median(np.diff(track.time_s))) > OFTEN_S:
            continue
        found = estimates(track.every(STEP_S))
        if len(found) < FALLEN_STEPS:
            continue
        radius = np.array([one.radius_50_m for one in found])
        move = moves(_points_m(found), radius)
        squares, falls = squares + move.squares, falls + move.falls
        figures.append(
            Figure(
                name=f"{track.name}: steps take back, of the 50 % radius",
                measured=f"at most {move.jitter:.3f}",
                goal=f"<= {MOST_JITTER:g}",
                good=move.jitter <= MOST_JITTER,
            )
        )
        print(
            f"{track.name}: {move.steps} steps, 50 % radius {radius[0]:.0f} to {radius[-1]:.0f} m,"
            f" squares {move.squares / move.falls:.2f} of the variance's fall,"
            f" {move.far:.0%} beyond a tenth, the largest {move.largest:.2f}"
        )
    print(f"all: squares {squares / falls:.2f} of the variance's fall")
    for one in figures:
        print(f"{'ok  ' if one.good else 'MISS'}  {one.name}: {one.measured} (goal {one.goal})")
    sys.exit(0 if all(one.good for one in figures) else 1)


def moves(points_m: Array, radius_m: Array) -> Moves:
    """Of points (n, 2) with their 50 % radii (n,), as often as they were estimated."""
    steps = np.diff(points_m, axis=0) / radius_m[:-1, None]
    length = np.hypot(steps[:, 0], steps[:, 1])
    variance = radius_m**2 / HALF
    return Moves(
        steps=len(steps),
        squares=float((length**2).sum() * HALF),
        falls=float((-np.diff(variance) / variance[:-1]).sum()),
        jitter=taken_back(steps),
        largest=float(length.max()),
        far=float((length > 0.1).mean()),
    )


def taken_back(steps: Array) -> float:
    """At most how large (root of the mean square) is what a point is beside its way for one
    estimate only.

    Such a part adds twice its variance to that of the steps (n, 2) and takes it once from what
    neighbouring steps have in common. What evidence moves has that fall off the faster the nearer
    the steps, so its value for neighbours is at most the mean of those beside it.
    """
    alike, beside, further = (
        float((steps[lag:] * steps[: len(steps) - lag]).sum(axis=1).mean()) for lag in range(3)
    )
    return math.sqrt(max(((alike + further) / 2.0 - beside) / 2.0, 0.0))


def estimates(track: Track) -> list[Landing]:
    """Each 5 s of a fall, until shortly above the ground."""
    flights, found = Flights((SETTINGS,)), list[Landing]()
    for n, at in enumerate(track.time_s):
        report = Report(
            tracker="T",
            latitude_deg=float(track.lat[n]),
            longitude_deg=float(track.lon[n]),
            altitude_m=float(track.altitude_m[n]),
            time_utc=float(at),
        )
        flights.observed(
            Observed(report_id=n, source="benchmark", received_utc=float(at), report=report)
        )
        low = track.altitude_m[n] < track.ground_m + LOWEST_AGL_M
        if n <= track.top + FALLEN_STEPS or low or len(found) > MOST_STEPS:
            continue
        landing = flights.estimate("flight")
        if landing is not None:
            found.append(landing)
    return found


def _points_m(found: list[Landing]) -> Array:
    plane = Plane(found[0].latitude_deg, found[0].longitude_deg)
    lat, lon = (
        np.array([getattr(one, name) for one in found])
        for name in ("latitude_deg", "longitude_deg")
    )
    return np.stack(plane.to_xy(lat, lon), axis=1)


if __name__ == "__main__":
    main()
