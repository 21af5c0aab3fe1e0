"""Recorded flights as the landing benchmark takes them: thinned, cut, and with their landing."""

import csv
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import fall_path_m

Array = NDArray[np.float64]

SURE_TO_M = 400.0
"""Flights whose landing is known less well are left out, as the scoring program does."""


@dataclass(frozen=True, slots=True)
class Track:
    """Fixes in order of time, and where and when it landed."""

    name: str
    time_s: Array
    lat: Array
    lon: Array
    altitude_m: Array
    landing: tuple[float, float]
    ground_m: float
    touchdown_s: float
    ground_given_m: float | None = None

    @property
    def day(self) -> str:
        return datetime.fromtimestamp(float(self.time_s[0]), UTC).date().isoformat()

    @property
    def top(self) -> int:
        return int(np.argmax(self.altitude_m))

    @property
    def fall_rate_ms(self) -> float:
        """Mean descent rate reduced to sea level below 10 km, where it is most sure."""
        agl_m = self.altitude_m - self.ground_m
        falling = np.arange(len(agl_m)) > self.top
        low = np.where(falling & (agl_m > 300.0) & (agl_m < 10_000.0))[0]
        path = fall_path_m(self.altitude_m[low[[0, -1]]])
        return float((path[0] - path[1]) / (self.time_s[low[-1]] - self.time_s[low[0]]))

    def around_burst(self, seconds: float, begin_utc: float) -> "Track":
        """From so long before the highest fix to so long after it, as if it began then."""
        near = np.abs(self.time_s - self.time_s[self.top]) <= seconds
        later_s = begin_utc - float(self.time_s[near][0])
        return replace(
            self,
            time_s=self.time_s[near] + later_s,
            lat=self.lat[near],
            lon=self.lon[near],
            altitude_m=self.altitude_m[near],
            touchdown_s=self.touchdown_s + later_s,
        )

    def every(self, seconds: float) -> "Track":
        """At most one fix in ``seconds``."""
        kept = [0]
        for n in range(1, len(self.time_s)):
            if self.time_s[n] - self.time_s[kept[-1]] >= seconds - 1e-6:
                kept.append(n)
        at = np.array(kept)
        return replace(
            self,
            time_s=self.time_s[at],
            lat=self.lat[at],
            lon=self.lon[at],
            altitude_m=self.altitude_m[at],
        )

    def xy(self) -> tuple[Array, Array, float, float]:
        """The track and the landing in metres east and north of the first fix."""
        plane = Plane(float(self.lat[0]), float(self.lon[0]))
        x, y = plane.to_xy(self.lat, self.lon)
        gx, gy = plane.to_xy(np.array([self.landing[0]]), np.array([self.landing[1]]))
        return np.asarray(x), np.asarray(y), float(gx[0]), float(gy[0])

    def below(self, agl_m: float) -> int | None:
        """The first fix of the descent below ``agl_m`` above the landing, unless it is far below
        or the flight never was above."""
        if self.altitude_m[self.top] < self.ground_m + agl_m:
            return None
        after = np.arange(len(self.time_s)) > self.top
        hit = np.where(after & (self.altitude_m < self.ground_m + agl_m))[0]
        if not len(hit) or self.altitude_m[hit[0]] < self.ground_m + 0.6 * agl_m:
            return None
        return int(hit[0])

    def after_burst(self, seconds: float) -> int | None:
        """The first fix at least ``seconds`` after the highest one, unless it is low already."""
        hit = np.where(self.time_s >= self.time_s[self.top] + seconds)[0]
        if not len(hit) or self.altitude_m[hit[0]] < self.ground_m + 5_000.0:
            return None
        return int(hit[0])


def read_tracks(flights: Path) -> list[Track]:
    """One of each balloon, whose landing is known."""
    with (flights / "index.csv").open() as file:
        rows = list(csv.DictReader(file))
    return [
        _read(flights, row)
        for row in rows
        if not row["same_balloon_as"]
        and row["profile"] == "normal"
        and row["quality"] != "C"
        and float(row["landing_uncertainty_m"]) <= SURE_TO_M
    ]


def _read(flights: Path, row: dict[str, str]) -> Track:
    with (flights / "tracks" / f"{row['name']}.csv").open() as file:
        fixes = list(csv.DictReader(file))
    time_s = np.array([datetime.fromisoformat(fix["time"]).timestamp() for fix in fixes])
    lat, lon, height = (np.array([float(fix[k]) for fix in fixes]) for k in ("lat", "lon", "alt_m"))
    ground = float(row["landing_alt_m"])
    top = int(np.argmax(height))
    # The last fix in the air, carried to the ground with the velocity it had.
    flying = np.where((np.arange(len(height)) > top) & (height > ground + 100.0))[0]
    last = int(flying[-1])
    rate = (height[last - 1] - height[last]) / (time_s[last] - time_s[last - 1])
    touchdown = float(time_s[last] + (height[last] - ground) / max(rate, 1.0))
    place = (float(row["landing_lat"]), float(row["landing_lon"]))
    given = float(row["ground_m"]) if row.get("ground_m") else None
    return Track(row["name"], time_s, lat, lon, height, place, ground, touchdown, given)
