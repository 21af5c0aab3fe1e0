"""How long a report takes: a flight of 10,000 fixes with a log of 20,000 rows.

``python -m benchmarks.report FLIGHTS`` stretches f01 of the recorded flights to so many; what the
log holds is by pressure, temperature and position. Prints seconds a step, and the page's size.
"""

import csv
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.tracks import read_tracks
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.own_log import beside, estimated_again
from groundstation.debrief.report import report_html
from groundstation.payload_log.reading import read_log
from groundstation.payload_log.settings import LogSettings, LogTime
from groundstation.physics.atmosphere import pressure, temperature
from groundstation.records import Fix

FIXES: Final = 10_000
ROWS: Final = 20_000
COLUMNS: Final = ("time", "pressure_hpa", "temperature_c", "lat", "lon")


def main() -> None:
    track = next(one for one in read_tracks(Path(sys.argv[1])) if one.name == "f01")

    def at(count: int) -> tuple[np.ndarray, ...]:
        times = np.linspace(track.time_s[0], track.time_s[-1], count)
        read = (np.interp(times, track.time_s, one) for one in (track.lat, track.lon))
        return times, *read, np.interp(times, track.time_s, track.altitude_m)

    times, lat, lon, height = at(FIXES)
    fixes = tuple(
        Fix(
            payload="kanalas-1", tracker="Q0HAB-11", source="radio", time_utc=float(t),
            received_utc=float(t), latitude_deg=float(a), longitude_deg=float(o),
            altitude_m=float(z),
        )
        for t, a, o, z in zip(times, lat, lon, height, strict=True)
    )  # fmt: skip
    flight = FlightLog(
        number=1, payload="kanalas-1", launch_utc=float(times[10]),
        burst_utc=float(times[height.argmax()]), landed_utc=float(times[-1]), fixes=fixes,
        landings=(), messages=(), found=None,
    )  # fmt: skip
    times, lat, lon, height = at(ROWS)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        with path.open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(COLUMNS)
            writer.writerows(
                zip(
                    np.round(times - times[0] + 300.0, 2),
                    np.round(pressure(height) / 100.0, 2),
                    np.round(temperature(height) - 273.15, 1),
                    np.round(lat, 6), np.round(lon, 6),
                    strict=True,
                )
            )  # fmt: skip
        began = last = time.perf_counter()

        def step(name: str) -> None:
            nonlocal last
            now = time.perf_counter()
            print(f"{name:28} {now - last:6.2f} s")
            last = now

        settings = LogSettings(
            columns={name: name for name in COLUMNS}, time_format=LogTime.SECONDS
        )
        log = read_log(path, settings)
        step(f"log of {len(log):,} rows read")
        own = beside(flight, log)
        step("laid beside the flight")
        again = tuple(estimated_again(flight, own.track))
        step(f"{len(again)} estimates again")
        page = report_html(flight, None, own, again)
        step("drawn")
    print(f"{'in all':28} {last - began:6.2f} s, {len(page.encode()) / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
