"""Several trackers on one string: what each makes of the same simulated flight."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from groundstation.records import Report
from groundstation.simulation.flight import Truth, fly
from groundstation.simulation.profiles import Profile, settings_of


@dataclass(frozen=True, kw_only=True)
class OnString:
    """``above_m`` is how much too high it says; ``behind_s`` how long a report takes; ``heard`` of
    (seconds after the launch, height in m, falling) says whether base hears it."""

    tracker: str
    every_s: float
    begins_s: float = 0.0
    above_m: float = 0.0
    noise_m: float = 0.0
    behind_s: float = 1.0
    has_height: bool = True
    timed: bool = True
    heard: Callable[[float, float, bool], bool] = lambda _since, _height, _falling: True


def normal_flight(seed: int = 1) -> Truth:
    return fly(settings_of(Profile.NORMAL, seed))


def flown_with(truth: Truth, trackers: Sequence[OnString]) -> list[tuple[float, Report]]:
    """(time of reception, report) of all trackers, from ten minutes before launch to the ground."""
    rng = np.random.default_rng(5)
    found = []
    for one in trackers:
        begin = truth.launch_utc - 300.0 + one.begins_s
        for time_utc in np.arange(begin, truth.touchdown_utc + 600.0, one.every_s):
            at = int(np.clip(time_utc - truth.time_utc[0], 0, len(truth.time_utc) - 1))
            height = float(truth.altitude_m[at])
            falling = bool(time_utc > truth.top_utc)
            if not one.heard(float(time_utc - truth.launch_utc), height, falling):
                continue
            up = one.above_m + one.noise_m * float(rng.standard_normal())
            found.append(
                (
                    float(time_utc) + one.behind_s,
                    Report(
                        tracker=one.tracker,
                        latitude_deg=float(truth.latitude_deg[at]),
                        longitude_deg=float(truth.longitude_deg[at]),
                        altitude_m=height + up if one.has_height else None,
                        time_utc=float(time_utc) if one.timed else None,
                    ),
                )
            )
    return sorted(found, key=lambda pair: pair[0])
