"""What heights without places are worth: ``python -m benchmarks.places_lost FLIGHTS``.

FLIGHTS is a folder of recorded flights. Each sends a place and a height each minute until it has
climbed through ``--above`` metres, and from then on its height alone, as a pressure of the standard
atmosphere with an error that is usual; held against the same flight with all of its places, and
against one that falls silent there. Plan and forecast are off by what is usual.
"""

import argparse
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.messenger import told
from benchmarks.scores import Score, scored, share
from benchmarks.tracks import Track, read_tracks
from groundstation.flight.events import arrived
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.heights import PRESSURE_SHARE
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.physics.atmosphere import pressure
from groundstation.records import HeightReport, Landing, Report

EVERY_S: Final = 60.0
WAYS: Final = ("places", "heights", "silence")
LOOKS: Final = ("before burst", "after burst", "fall", "2 km")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path)
    parser.add_argument("--above", type=float, default=12_000.0, metavar="METRES")
    asked = parser.parse_args()
    tracks = read_tracks(asked.flights)
    print("with      at             n   error km  touchdown off s  in 90 %  area of 90 % km2")
    for way in WAYS:
        scores = [one for track in tracks for one in looks(track, way, asked.above)]
        for look in LOOKS:
            some = [one for one in scores if one.checkpoint == look]
            error, late, area = (
                float(np.median([getattr(one, name) for one in some]))
                for name in ("error_m", "eta_error_s", "area_km2")
            )
            print(
                f"{way:9} {look:13} {len(some):2} {error / 1e3:10.1f} {late:16.0f}"
                f" {share([one.in_90 for one in some]):8.2f} {area:17.0f}"
            )


def looks(track: Track, way: str, above_m: float) -> Iterator[Score]:
    """The estimate at moments of the flight, as it stands then."""
    known = told(track, 0, math.inf)
    settings = FlightSettings(
        payload="flight", trackers=(TrackerSettings(id="*"),), plan=known.plan, aloft=known.aloft
    )
    flights = Flights((settings,))
    t, z, burst, end = (
        track.time_s,
        track.altitude_m,
        float(track.time_s[track.top]),
        track.touchdown_s,
    )
    off = float(np.random.default_rng([*track.name.encode()]).normal(0.0, PRESSURE_SHARE))
    low = float(np.interp(-2_000.0 - track.ground_m, -z[track.top :], t[track.top :]))
    at = dict(
        zip(LOOKS, (burst - EVERY_S, burst + 2.0 * EVERY_S, (burst + end) / 2.0, low), strict=True)
    )
    newest: Landing | None = None

    def keep(due: tuple[str, ...]) -> Landing | None:
        made = newest
        for payload in due:
            landing = flights.estimate(payload)
            if landing is not None:
                made = landing
                flights.estimated(landing)
        return made

    lost, clock = False, float(t[0])
    for n, moment in enumerate(np.arange(float(t[0]), end, EVERY_S).tolist()):
        for now in ticks_between(clock, moment):
            flights.tick(now)
            newest = keep(flights.due_by_time())
        clock = moment
        height = float(np.interp(moment, t, z))
        lost = lost or height > above_m
        place = [float(np.interp(moment, t, values)) for values in (track.lat, track.lon)]
        report: Report | HeightReport | None = Report(
            tracker="x", time_utc=moment, latitude_deg=place[0], longitude_deg=place[1],
            altitude_m=height,
        )  # fmt: skip
        if lost and way != "places":
            told_m = height * (1.0 + off)
            by_pressure = HeightReport(
                tracker="x", time_utc=moment, pressure_pa=float(pressure(told_m))
            )
            report = by_pressure if way == "heights" else None
        if report is not None:
            flights.observed(arrived(n, "benchmark", moment, report))
            newest = keep(flights.due())
        for look in [name for name, then in at.items() if moment >= then]:
            del at[look]
            if newest is not None:
                yield scored(newest, track.landing, end, checkpoint=look, low=False)


if __name__ == "__main__":
    main()
