"""Flights that only a satellite messenger tells: ``python -m benchmarks.messenger FLIGHTS``.

FLIGHTS is a folder of recorded flights. Each becomes messages with a place and no height; what the
person knows beforehand (plan, forecast) is off by what is usual. Held against a careful person,
who puts the last place on the planned profile at its time and flies the rest with the forecast.
``--leave-out`` tells what a kind of evidence is worth, ``--seen`` what a person's word adds.
"""

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchmarks.scores import Score, ratio, scored, share
from benchmarks.tracks import Track, read_tracks
from groundstation.flight.events import Observed, Sighted
from groundstation.flight.flights import Flights
from groundstation.flight.settings import (
    BaseSettings,
    FlightSettings,
    PlanSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.flight.sightings import AnySighting, BurstSeen, LaunchSeen
from groundstation.physics.layers import MIDDLE_M, SPEED_RATIO, fall_path_m
from groundstation.physics.wind import WindsAloft, measured_profile
from groundstation.records import Report

Array = NDArray[np.float64]

EVERY_S: Final = 600.0
LOST: Final = 0.2
BURST_SD_M, CLIMB_SD_MS, FALL_SD = 2_500.0, 0.5, 0.18
FORECAST_SD_MS, FORECAST_LENGTH_M = 2.5, 3_000.0
NEAR_GROUND_M: Final = 60.0
ALL: Final = ("plan", "forecast", "silence")
SEEN: Final = ("launch", "burst")
LOOKS: Final = ("ascent", "before burst", "after burst", "fall", "last heard")


@dataclass(frozen=True, slots=True)
class Told:
    """What the person has: messages (times, places by index), the plan, and the forecast."""

    track: Track
    time_s: Array
    lat: Array
    lon: Array
    launch_s: float
    plan: PlanSettings
    aloft: WindsAloft


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path)
    parser.add_argument("--silent-above", type=float, default=math.inf, metavar="METRES")
    parser.add_argument("--leave-out", choices=ALL, action="append", default=[])
    parser.add_argument(
        "--seen", choices=SEEN, action="append", default=[], help="told by a person, to a minute"
    )
    parser.add_argument("--seeds", type=int, default=1)
    asked = parser.parse_args()
    scores = [
        score
        for track in read_tracks(asked.flights)
        for seed in range(asked.seeds)
        for score in looks(
            told(track, seed, asked.silent_above),
            frozenset(asked.leave_out),
            words(track, seed, asked.seen),
        )
    ]
    print("at             n   error km  careful km  in 90 %  in 50 %  area of 90 % km2")
    for look in LOOKS:
        some = [one for one in scores if one.checkpoint == look]
        error, careful, area = (
            float(np.median([getattr(one, name) for one in some]))
            for name in ("error_m", "careful_m", "area_km2")
        )
        print(
            f"{look:13} {len(some):3} {error / 1e3:10.1f} {careful / 1e3:11.1f}"
            f" {share([one.in_90 for one in some]):8.2f} {share([one.in_50 for one in some]):8.2f}"
            f" {area:17.0f}"
        )
    print(
        f"all: error {ratio(scores):.2f} of the careful person's; in the 90 % region"
        f" {share([one.in_90 for one in scores]):.2f}, in the 50 % region"
        f" {share([one.in_50 for one in scores]):.2f}; touchdown within its 90 % times"
        f" {share([one.in_eta for one in scores]):.2f}"
    )


def launch_s(track: Track) -> float:
    """When it was let go: the last fix near the ground before the highest."""
    z = track.altitude_m
    return float(track.time_s[np.where(z[: track.top] < z[0] + 150.0)[0][-1]])


def told(track: Track, seed: int, silent_above_m: float) -> Told:
    """Messages of a flight, and what was known beforehand, each off by a usual error."""
    rng = np.random.default_rng([seed, *track.name.encode()])
    t, z, top = track.time_s, track.altitude_m, track.top
    low = np.where(z[:top] < z[0] + 150.0)[0]
    launch = launch_s(track)
    moments = []
    at = launch - 900.0 + rng.uniform(0.0, EVERY_S)
    while at < t[-1]:
        height = float(np.interp(at, t, z))
        near = min(float(np.interp(launch, t, z)), track.ground_m) + NEAR_GROUND_M
        lying = at < launch or (at > t[top] and height < near)
        if height < silent_above_m and (lying or rng.uniform() > LOST):
            moments.append(at)
        at += EVERY_S * rng.uniform(0.97, 1.03)
    heard = np.array(moments)
    climb = (z[top] - z[low[-1]]) / (t[top] - launch)
    fall = float(fall_path_m(z[top]) - fall_path_m(track.ground_m)) / (track.touchdown_s - t[top])
    rate = max(fall * math.exp(rng.normal(0.0, FALL_SD)), 2.5)
    plan = PlanSettings(
        burst_altitude_m=float(z[top] + rng.normal(0.0, BURST_SD_M)),
        burst_altitude_sd_m=BURST_SD_M,
        ascent_rate_ms=max(float(climb + rng.normal(0.0, CLIMB_SD_MS)), 2.0),
        ascent_rate_sd_ms=CLIMB_SD_MS,
        descent_rate_ms=rate,
        descent_rate_sd_ms=FALL_SD * rate,
    )
    return Told(
        track,
        heard,
        np.interp(heard, t, track.lat),
        np.interp(heard, t, track.lon),
        launch,
        plan,
        _forecast(track, rng),
    )


def _forecast(track: Track, rng: np.random.Generator) -> WindsAloft:
    """The winds of the flight's own ascent, and an error alike over some kilometres."""
    x, y, _, _ = track.xy()
    up = slice(0, track.top + 1)
    met = measured_profile(track.time_s[up], x[up], y[up], track.altitude_m[up])
    apart = np.abs(MIDDLE_M[:, None] - MIDDLE_M[None, :])
    kernel = FORECAST_SD_MS**2 * np.exp(-apart / FORECAST_LENGTH_M)
    root = np.linalg.cholesky(kernel + 1e-6 * np.eye(len(MIDDLE_M)))
    u, v = (wind + root @ rng.standard_normal(len(MIDDLE_M)) for wind in (met.u_ms, met.v_ms))
    return WindsAloft.of("forecast", MIDDLE_M, u, v, FORECAST_SD_MS)


def words(track: Track, seed: int, seen: Sequence[str]) -> list[AnySighting]:
    """What a person told, each to about a minute."""
    rng = np.random.default_rng([seed, 7, *track.name.encode()])
    moments = {"launch": launch_s(track), "burst": float(track.time_s[track.top])}
    found: list[AnySighting] = []
    for number, name in enumerate(seen, 1_000_000):
        at = moments[name] + rng.normal(0.0, 60.0)
        told_utc = max(at, moments[name]) + 60.0
        kind = LaunchSeen if name == "launch" else BurstSeen
        found.append(kind(number=number, at_utc=at, told_utc=told_utc))
    return sorted(found, key=lambda word: word.told_utc)


def looks(one: Told, left_out: frozenset[str], seen: Sequence[AnySighting] = ()) -> Iterator[Score]:
    """The estimate at moments of the flight, each after a message that was heard then."""
    track = one.track
    burst, end = float(track.time_s[track.top]), track.touchdown_s
    flying = [n for n, at in enumerate(one.time_s) if one.launch_s + 60.0 < at < end - 30.0]
    until = {
        "ascent": (one.launch_s + burst) / 2.0,
        "before burst": burst,
        "fall": (burst + end) / 2.0,
        "last heard": end,
    }
    picked = {name: [n for n in flying if one.time_s[n] <= at] for name, at in until.items()}
    chosen = {name: some[-1] for name, some in picked.items() if some}
    after = [n for n in flying if one.time_s[n] > burst]
    if after:
        chosen["after burst"] = after[0]
    if "fall" in chosen and one.time_s[chosen["fall"]] < burst:
        del chosen["fall"]
    flights = Flights((_settings(one, left_out),))
    waiting = list(seen)
    for n, at in enumerate(one.time_s):
        while waiting and waiting[0].told_utc <= at:
            word = waiting.pop(0)
            flights.sighted("flight", Sighted(now_utc=word.told_utc, sighting=word))
        report = Report(
            tracker="messenger",
            latitude_deg=round(float(one.lat[n]), 5),
            longitude_deg=round(float(one.lon[n]), 5),
            time_utc=float(at),
        )
        flights.observed(
            Observed(report_id=n, source="benchmark", received_utc=float(at), report=report)
        )
        for name in [name for name, index in chosen.items() if index == n]:
            landing = flights.estimate("flight")
            if landing is None:  # only one message has moved yet
                continue
            yield replace(
                scored(landing, track.landing, end, checkpoint=name, low=False),
                careful_m=_careful_m(one, n),
                day=track.day,
            )


def _settings(one: Told, left_out: frozenset[str]) -> FlightSettings:
    # Without an interval nothing is due, so that silence says nothing.
    every = 1e6 if "silence" in left_out else EVERY_S
    tracker = TrackerSettings(id="*", kind=TrackerKind.SATELLITE, interval_s=every)
    return FlightSettings(
        payload="flight",
        trackers=(tracker,),
        base=BaseSettings(
            latitude_deg=float(one.track.lat[0]), longitude_deg=float(one.track.lon[0])
        ),
        ground_m=one.track.ground_m,
        plan=PlanSettings() if "plan" in left_out else one.plan,
        aloft=None if "forecast" in left_out else one.aloft,
    )


def _careful_m(one: Told, n: int) -> float:
    """The error of who puts the place on the planned profile and flies on with the forecast."""
    track, plan = one.track, one.plan
    x, y, gx, gy = track.xy()
    since = one.time_s[n] - one.launch_s
    ground, top = track.ground_m, max(plan.burst_altitude_m, track.ground_m + 3_000.0)
    edges = np.linspace(ground, top, 400)
    middle = (edges[1:] + edges[:-1]) / 2.0
    step = edges[1] - edges[0]
    up = np.full(len(middle), step / plan.ascent_rate_ms)
    down = step / ((plan.descent_rate_ms or 1.0) * np.interp(middle, MIDDLE_M, SPEED_RATIO))
    heights, lasts = np.concatenate([middle, middle[::-1]]), np.concatenate([up, down[::-1]])
    left = np.clip(np.cumsum(lasts) - since, 0.0, lasts)
    px, py = (np.interp(one.time_s[n], track.time_s, values) for values in (x, y))
    for_u, for_v = (np.interp(heights, MIDDLE_M, w) for w in (one.aloft.u_ms, one.aloft.v_ms))
    return float(math.hypot(px + (left * for_u).sum() - gx, py + (left * for_v).sum() - gy))


if __name__ == "__main__":
    main()
