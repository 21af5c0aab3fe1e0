"""A flight with its payload's own log laid beside it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.debrief.figures import LONGEST_STEP_S, Track, descent_pieces, track_of
from groundstation.debrief.flights import FlightLog
from groundstation.errors import InputFileError
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, PlanSettings, TrackerSettings
from groundstation.payload_log.air import Air, air_of, speed_ratio_beside_standard
from groundstation.payload_log.clock import APART_M, ClockMatch, apart_m, heights, match
from groundstation.payload_log.reading import SensorLog
from groundstation.payload_log.sanity import findings
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.records import Landing, Report

Array = NDArray[np.float64]

AFTER_S: Final = 900.0  # own choice: what lies on the ground for so long says no more
HEARD_EVERY_S: Final = 10.0  # as radio trackers send in flight (common practice, no source)
ESTIMATED_EVERY_S: Final = 60.0  # own choice: a curve, and not long to compute
LAST_M: Final = 200.0  # own choice: below it canopies have settled
STILL_S: Final = 30.0  # own choice, with STILL_M: at rest, beyond the noise of a receiver
STILL_M: Final = 30.0  # see STILL_S


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLog:
    """``altitude_m`` (rows,) is where it was at each row of ``log``, NaN where that is not known,
    and ``utc`` (rows,) when. ``track`` is the log's where it reaches and the radio's elsewhere.
    ``end`` is where the log itself saw it lie (latitude, longitude in degrees), ``touchdown_ms``
    its rate over the last ``LAST_M`` before that; None where it did not."""

    log: SensorLog
    clock: ClockMatch
    utc: Array
    altitude_m: Array
    track: Track
    findings: tuple[str, ...]
    air: Air | None
    end: tuple[float, float] | None
    touchdown_ms: float | None

    def descent_rate_ms(self) -> tuple[float, float] | None:
        """The mean descent rate reduced to sea level: with the standard atmosphere, and with the
        air that was met. None without a descent, or where the density was not measured."""
        ratio = None if self.air is None else speed_ratio_beside_standard(self.air)
        descent = descent_pieces(self.track)
        if self.air is None or ratio is None or descent is None:
            return None
        known = np.isfinite(ratio)
        if known.sum() < 10:
            return None
        factor = np.interp(descent.altitude_m, self.air.height_m[known], ratio[known])
        met = descent.reduced_ms * factor
        return (
            float(np.average(descent.reduced_ms, weights=descent.lasted_s)),
            float(np.average(met, weights=descent.lasted_s)),
        )


def beside(flight: FlightLog, log: SensorLog, shown: Shown = METRIC) -> OwnLog:
    """Lay the log beside the flight. Raises ``InputFileError`` where it is not this flight's."""
    radio = track_of(flight)
    if radio is None:
        raise InputFileError(f"{flight.payload} sent too few heights to lay a log beside them")
    clock = match(log, radio.time_s, radio.altitude_m)
    at, placed = radio.time_s, radio.placed
    lat, lon = radio.plane.to_latlon(radio.x_m[placed], radio.y_m[placed])
    apart = apart_m(log, clock, at[placed], lat, lon)
    if apart is not None and apart > APART_M:
        raise InputFileError(
            f"the log is of another flight: its places are {apart / 1000.0:.0f} km from these"
        )
    utc = clock.utc(log.time_s)
    row, height, _ = heights(log)
    altitude = np.interp(log.time_s, row, clock.altitude_m(height), left=np.nan, right=np.nan)
    # Where a height is missing for long, nothing is known in between.
    far = np.interp(log.time_s, row, np.arange(len(row), dtype=float))
    before = row[np.floor(far).astype(int)]
    after = row[np.ceil(far).astype(int)]
    altitude[after - before > 60.0] = np.nan
    track = _merged(flight, radio, log, utc, altitude)
    end, touchdown = _ending(log, utc, altitude)
    return OwnLog(
        log=log,
        clock=clock,
        utc=utc,
        altitude_m=altitude,
        track=track,
        findings=tuple(findings(log, altitude, partial(shown.text, "altitude"))),
        air=air_of(log, altitude),
        end=end,
        touchdown_ms=touchdown,
    )


def estimated_again(
    flight: FlightLog, track: Track, plan: PlanSettings | None = None
) -> Iterator[Landing]:
    """What the station would have estimated, had it heard the track each ``HEARD_EVERY_S``; one
    estimate each ``ESTIMATED_EVERY_S``."""
    name = flight.payload
    settings = FlightSettings(
        payload=name, trackers=(TrackerSettings(id="*"),), plan=plan or PlanSettings()
    )
    flights = Flights([settings])
    last = estimated = float("-inf")
    lat, lon = track.plane.to_latlon(track.x_m, track.y_m)
    for n, at in enumerate(track.time_s.tolist()):
        if at - last < HEARD_EVERY_S:
            continue
        last = at
        report = Report(
            tracker=name,
            latitude_deg=float(lat[n]),
            longitude_deg=float(lon[n]),
            altitude_m=float(track.altitude_m[n]),
            time_utc=at,
        )
        flights.observed(Observed(report_id=n + 1, source="log", received_utc=at, report=report))
        flights.tick(at)
        if at - estimated < ESTIMATED_EVERY_S:
            continue
        for payload in flights.due():
            landing = flights.estimate(payload)
            if landing is not None:
                estimated = at
                flights.estimated(landing)
                yield landing


def _merged(
    flight: FlightLog, radio: Track, log: SensorLog, utc: Array, altitude_m: Array
) -> Track:
    """One fix a second at most, of the log where it has a height, of the radio elsewhere."""
    until = (flight.landed_utc or flight.fixes[-1].time_utc) + AFTER_S
    known = np.isfinite(altitude_m) & (utc >= flight.fixes[0].time_utc) & (utc <= until)
    rows = np.nonzero(known)[0]
    if not len(rows):
        return radio
    _, once = np.unique(np.floor(utc[rows]), return_index=True)
    rows = rows[once]
    x, y, placed = _places(radio, log, utc[rows], rows)
    outside = (radio.time_s < utc[rows[0]]) | (radio.time_s > utc[rows[-1]])
    time = np.concatenate([utc[rows], radio.time_s[outside]])
    order = np.argsort(time, kind="stable")

    def both(mine: Array, theirs: Array) -> Array:
        return np.asarray(np.concatenate([mine, theirs[outside]])[order])

    height = both(altitude_m[rows], radio.altitude_m)
    return replace(
        radio,
        time_s=time[order],
        x_m=both(x, radio.x_m),
        y_m=both(y, radio.y_m),
        altitude_m=height,
        top=int(height.argmax()),
        placed=np.concatenate([placed, radio.placed[outside]])[order],
    )


def _places(
    radio: Track, log: SensorLog, utc: Array, rows: NDArray[np.intp]
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """By the log's GPS where it has one, else between the radio's fixes, where those are near."""
    if {"lat", "lon"} <= set(log.values):
        lat, lon = log.values["lat"][rows], log.values["lon"][rows]
        known = np.isfinite(lat) & np.isfinite(lon) & ((lat != 0.0) | (lon != 0.0))
        if known.sum() > len(rows) / 2:
            x, y = radio.plane.to_xy(lat[known], lon[known])
            return np.interp(utc, utc[known], x), np.interp(utc, utc[known], y), known
    fixed = radio.time_s[radio.placed]
    after = np.clip(np.searchsorted(fixed, utc), 1, len(fixed) - 1)
    near = fixed[after] - fixed[after - 1] <= LONGEST_STEP_S
    x, y = (np.interp(utc, radio.time_s, along) for along in (radio.x_m, radio.y_m))
    return x, y, near


def _ending(
    log: SensorLog, utc: Array, altitude_m: Array
) -> tuple[tuple[float, float] | None, float | None]:
    """(place, rate): None where the log does not show it lying."""
    known = np.isfinite(altitude_m)
    time, height = utc[known], altitude_m[known]
    last = time > time[-1] - STILL_S
    top = int(height.argmax())
    if last.sum() < 3 or np.ptp(height[last]) > STILL_M or height[top] - height[-1] < 1_000.0:
        return None, None
    ground = float(np.median(height[last]))
    falling = np.arange(len(height)) > top
    down = falling & (height > ground + 15.0) & (height < ground + LAST_M)
    rate = None
    if down.sum() >= 5:
        rate = -float(np.polyfit(time[down] - time[down][0], height[down], 1)[0])
    place = None
    if {"lat", "lon"} <= set(log.values):
        lat, lon = (np.nanmedian(log.values[name][known][last]) for name in ("lat", "lon"))
        if np.isfinite(lat) and np.isfinite(lon):
            place = (float(lat), float(lon))
    return place, rate
