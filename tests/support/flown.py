"""Recorded tracks as flights of the logbook, without a station."""

import csv
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundstation.debrief.flights import FlightLog
from groundstation.records import Fix

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Flown:
    """The columns of a track, shapes (fixes,)."""

    time_s: Array
    lat: Array
    lon: Array
    altitude_m: Array

    def every(self, step: int) -> "Flown":
        return Flown(*(one[::step] for one in (self.time_s, self.lat, self.lon, self.altitude_m)))


def track(shared: Path, name: str) -> Flown:
    """One of the recorded flights."""
    with (shared / "flights" / "tracks" / f"{name}.csv").open() as file:
        rows = [
            (datetime.fromisoformat(row["time"]).timestamp(), float(row["lat"]), float(row["lon"]),
             float(row["alt_m"]))
            for row in csv.DictReader(file)
        ]  # fmt: skip
    return Flown(*np.array(rows).T)


def flight_log(flown: Flown, payload: str = "kanalas-1", *, landed: bool = True) -> FlightLog:
    """As the store would give it; launched at the first fix that is 100 m above the first."""
    fixes = tuple(
        Fix(
            payload=payload, tracker="Q0HAB-11", source="radio", time_utc=float(t),
            received_utc=float(t), latitude_deg=float(lat), longitude_deg=float(lon),
            altitude_m=float(z),
        )
        for t, lat, lon, z in zip(
            flown.time_s, flown.lat, flown.lon, flown.altitude_m, strict=True
        )
    )  # fmt: skip
    top = int(flown.altitude_m.argmax())
    launch = int(np.argmax(flown.altitude_m > flown.altitude_m[0] + 100.0))
    return FlightLog(
        number=1, payload=payload, launch_utc=float(flown.time_s[launch]),
        burst_utc=float(flown.time_s[top]) if landed else None,
        landed_utc=float(flown.time_s[-1]) if landed else None,
        fixes=fixes, landings=(), messages=(), found=None,
    )  # fmt: skip
