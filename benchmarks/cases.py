"""The cases in which the landing estimate is measured: what is heard, and when it is asked."""

import math
import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

from benchmarks.careful import careful_error_m
from benchmarks.scores import Score, scored
from benchmarks.tracks import Track
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, PlanSettings, TrackerSettings
from groundstation.records import Landing, Report
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import simulate

SETTINGS: Final = FlightSettings(payload="flight", trackers=(TrackerSettings(id="*"),))
DESCENT: Final = ("burst", 20_000, 15_000, 10_000, 5_000, 3_000, 2_000, 1_000)
LOW_M: Final = 5_000
ASCENT_M: Final = (5_000, 10_000, 20_000)
PLAN_SHARE: Final = 0.1
PLAN_OFF: Final = (-math.sqrt(1.5), 0.0, math.sqrt(1.5))
"""Errors of a plan in standard deviations, alike usual: their spread is 1."""
WITHHELD_M: Final = (5_000, 3_000, 2_000, 1_000)

Heard = Callable[[int], float | None]


def estimate_at(
    track: Track, at: int, height_of: Heard | None = None, settings: FlightSettings = SETTINGS
) -> Landing | None:
    """The estimate after the fix ``at``; ``height_of`` tells which height each fix carries."""
    flights = Flights((replace(settings, ground_m=track.ground_given_m),))
    for number in range(at + 1):
        height = float(track.altitude_m[number])
        report = Report(
            tracker="T",
            latitude_deg=round(float(track.lat[number]), 6),
            longitude_deg=round(float(track.lon[number]), 6),
            altitude_m=height if height_of is None else height_of(number),
            time_utc=float(track.time_s[number]),
        )
        flights.observed(
            Observed(
                report_id=number,
                source="benchmark",
                received_utc=float(track.time_s[number]),
                report=report,
            )
        )
    return flights.estimate("flight")


def checkpoints(track: Track) -> Iterator[tuple[str, int, bool]]:
    """(name, index of the fix, whether it is low) of those the flight has."""
    for one in DESCENT:
        at = track.after_burst(60.0) if isinstance(one, str) else track.below(float(one))
        if at is not None:
            yield str(one), at, not isinstance(one, str) and one <= LOW_M


def planned(track: Track, rate_ms: float) -> list[Score]:
    """With a planned descent rate that is right to a tenth, of the flight's own ``rate_ms``."""
    sd_ms = PLAN_SHARE * rate_ms
    plans = [
        PlanSettings(descent_rate_ms=rate_ms + off * sd_ms, descent_rate_sd_ms=sd_ms)
        for off in PLAN_OFF
    ]
    return [one for plan in plans for one in descent(track, replace(SETTINGS, plan=plan))]


def descent(track: Track, settings: FlightSettings = SETTINGS) -> list[Score]:
    found = []
    for name, at, low in checkpoints(track):
        landing = estimate_at(track, at, settings=settings)
        if landing is not None:
            found.append(
                scored(
                    landing,
                    track.landing,
                    track.touchdown_s,
                    checkpoint=name,
                    low=low,
                    careful_m=careful_error_m(track, at),
                )
            )
    return found


def last_heard(track: Track) -> list[Score]:
    """All fixes below some height withheld: the search region."""
    found = []
    for height in WITHHELD_M:
        above = [
            n
            for n in range(track.top + 1, len(track.time_s))
            if track.altitude_m[n] > track.ground_m + height
        ]
        if len(above) < 2:
            continue
        landing = estimate_at(track, above[-1])
        if landing is not None:
            found.append(
                scored(
                    landing,
                    track.landing,
                    track.touchdown_s,
                    checkpoint=str(height),
                    low=height <= LOW_M,
                )
            )
    return found


def without_altitude(track: Track, *, seen_after_burst: int) -> list[Score]:
    """Heights are withheld from the descent, but for the first fixes after the highest one."""
    found = []
    last_with = track.top + seen_after_burst

    def height_of(number: int) -> float | None:
        return float(track.altitude_m[number]) if number <= last_with else None

    for name, at, low in checkpoints(track):
        if at <= last_with + 1:
            continue
        landing = estimate_at(track, at, height_of)
        if landing is not None:
            found.append(
                scored(landing, track.landing, track.touchdown_s, checkpoint=name, low=low)
            )
    return found


def never_an_altitude(track: Track) -> list[Score]:
    found = []
    for name, at, low in checkpoints(track):
        landing = estimate_at(track, at, lambda _: None)
        if landing is not None:
            found.append(
                scored(landing, track.landing, track.touchdown_s, checkpoint=name, low=low)
            )
    return found


def ascent(track: Track) -> list[Score]:
    found = []
    for height in ASCENT_M:
        above = [n for n in range(track.top) if track.altitude_m[n] > track.ground_m + height]
        if not above:
            continue
        landing = estimate_at(track, above[0])
        if landing is not None:
            found.append(
                scored(landing, track.landing, track.touchdown_s, checkpoint=str(height), low=False)
            )
    return found


def simulated(seed: int, profile: Profile = Profile.NORMAL) -> list[Score]:
    """A simulated flight heard every 30 s, at 20, 10, 5 and 2 km in the descent."""
    settings = settings_of(profile, seed)
    flight = simulate(replace(settings, tracker=replace(settings.tracker, wrong_share=0.0)))
    truth = flight.truth
    end = min(int(truth.touchdown_utc - truth.time_utc[0]), len(truth.time_utc) - 1)
    place = (float(truth.latitude_deg[end]), float(truth.longitude_deg[end]))
    flights = Flights((SETTINGS,))
    left = [20_000.0, 10_000.0, 5_000.0, 2_000.0]
    found = []
    for number, sent in enumerate(flight.fixes):
        report = Report(
            tracker="T",
            latitude_deg=sent.latitude_deg,
            longitude_deg=sent.longitude_deg,
            altitude_m=sent.altitude_m,
            time_utc=sent.time_utc,
        )
        flights.observed(
            Observed(report_id=number, source="s", received_utc=sent.time_utc + 1.0, report=report)
        )
        agl = sent.altitude_m - truth.ground_m
        if sent.time_utc < truth.top_utc + 60.0 or not left or agl > left[0]:
            continue
        while left and agl < left[0]:
            height = left.pop(0)
        landing = flights.estimate("flight")
        if landing is not None and agl > 0.6 * height:
            found.append(
                scored(
                    landing,
                    place,
                    truth.touchdown_utc,
                    checkpoint=f"{height:.0f}",
                    low=height <= LOW_M,
                )
            )
    return found


def estimate_time_s(track: Track, at: int, step: int) -> float:
    """Median time of one estimate after every ``step``-th fix up to ``at``."""
    flights = Flights((SETTINGS,))
    for number in range(0, at + 1, step):
        report = Report(
            tracker="T",
            latitude_deg=float(track.lat[number]),
            longitude_deg=float(track.lon[number]),
            altitude_m=float(track.altitude_m[number]),
            time_utc=float(track.time_s[number]),
        )
        received = float(track.time_s[number])
        flights.observed(
            Observed(report_id=number, source="b", received_utc=received, report=report)
        )
    took = []
    for _ in range(30):
        begun = time.perf_counter()
        flights.estimate("flight")
        took.append(time.perf_counter() - begun)
    return statistics.median(took)
