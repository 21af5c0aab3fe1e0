"""Whether the landing point moves only as the evidence makes it: ``benchmarks.steps FLIGHTS``.

What is believed of a landing is a martingale, so the squares of the point's steps add up to what
the region's variance falls by: 1 is right, more is jitter (or a surprise), less is a region that
shrinks without saying why. Beside it: how many of the steps of 5 s go beyond a tenth of the 50 %
radius.
"""

import argparse
import itertools
import math
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.cases import SETTINGS
from benchmarks.tracks import Track, read_tracks
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.physics.geodesy import distance_m
from groundstation.records import Landing, Report

STEP_S: Final = 5.0  # as often as a fall is estimated
OFTEN_S: Final = 12.0  # flights with rarer fixes are left out
FALLEN_STEPS: Final = 40  # the burst is a surprise
LOWEST_AGL_M: Final = 1_500.0
MOST_STEPS: Final = 260
HALF: Final = math.log(2.0)  # of a round normal distribution: radius_50^2 / its variance in both


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, nargs="+")
    asked = parser.parse_args()
    ways, falls = 0.0, 0.0
    for track in (track for folder in asked.flights for track in read_tracks(folder)):
        if float(np.median(np.diff(track.time_s))) > OFTEN_S:
            continue
        found = estimates(track.every(STEP_S))
        if len(found) < FALLEN_STEPS:
            continue
        radius = np.array([one.radius_50_m for one in found])
        steps = np.array([_apart_m(a, b) for a, b in itertools.pairwise(found)])
        variance = radius**2 / HALF
        way, fall = float((steps**2).sum()), float(variance[0] - variance[-1])
        far = float((steps > radius[:-1] / 10.0).mean())
        ways, falls = ways + way / variance[0], falls + fall / variance[0]
        print(
            f"{track.name}: {len(steps)} steps, 50 % radius {radius[0]:.0f} to {radius[-1]:.0f} m,"
            f" squares {way / fall:.2f} of the variance's fall, {far:.0%} beyond a tenth"
        )
    print(f"all: {ways / falls:.2f}")


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


def _apart_m(a: Landing, b: Landing) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)


if __name__ == "__main__":
    main()
