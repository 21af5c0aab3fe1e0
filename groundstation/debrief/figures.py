"""What a flight was, in figures."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.debrief.flights import FlightLog
from groundstation.debrief.touchdown import came_down
from groundstation.physics.fall import resting_m
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import fall_path_m
from groundstation.physics.region import inside
from groundstation.records import Phase, Region

Array = NDArray[np.float64]

PIECE_S: Final = 60.0  # own choice: an error of 10 m in height is then 0.2 m/s
LAST_PIECES: Final = 3  # own choice: about the last minutes, beyond one bad fix
DESCENDING_MS: Final = 1.5  # own choice: no recorded parachute was slower near the ground
LEAST_PIECE_S: Final = 20.0  # own choice: shorter, errors of position make the wind
LONGEST_STEP_S: Final = 300.0  # own choice: over a longer gap the wind has changed
MOST_STEP_M: Final = 4_000.0  # own choice: over more height a mean wind says little


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """Fixes with a height: seconds since 1970, metres east and north of the launch, metres above
    the sea; ``top`` is the index of the highest. Where one is not ``placed`` its place is on the
    straight line between its neighbours, and says nothing of the wind."""

    plane: Plane
    time_s: Array
    x_m: Array
    y_m: Array
    altitude_m: Array
    top: int
    placed: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """None where the flight does not tell. ``touchdown_ms`` is the descent rate of the last
    pieces that were heard, reduced to the ground; ``descent_rate_ms`` the mean one reduced to sea
    level."""

    duration_s: float
    highest_m: float | None
    ascent_rate_ms: float | None
    ascent_rate_sd_ms: float | None
    descent_rate_ms: float | None
    descent_rate_sd_ms: float | None
    touchdown_ms: float | None
    distance_m: float
    fixes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Error:
    """How far an estimate was off from where it was found or last heard."""

    time_utc: float
    off_m: float
    radius_50_m: float
    radius_90_m: float
    in_50: bool
    in_90: bool


def track_of(flight: FlightLog) -> Track | None:
    """None with fewer than five heights."""
    known = [fix for fix in flight.fixes if fix.altitude_m is not None]
    if not known or len(known) + len(flight.heights) < 5:
        return None
    plane = Plane(known[0].latitude_deg, known[0].longitude_deg)
    rows = np.array(
        [(fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m) for fix in known]
    )
    _, once = np.unique(rows[:, 0], return_index=True)
    time, lat, lon, height = rows[once].T
    alone = np.array([(height.time_utc, height.altitude_m) for height in flight.heights]).reshape(
        -1, 2
    )
    whole = np.concatenate([time, alone[:, 0]])
    order = np.argsort(whole, kind="stable")
    whole, height = whole[order], np.concatenate([height, alone[:, 1]])[order]
    x, y = (np.interp(whole, time, along) for along in plane.to_xy(lat, lon))
    return Track(
        plane=plane, time_s=whole, x_m=x, y_m=y, altitude_m=height, top=int(height.argmax()),
        placed=order < len(time),
    )  # fmt: skip


def figures(flight: FlightLog, track: Track | None = None) -> Figures:
    """``track`` is a better one than its fixes make."""
    track = track or track_of(flight)
    down = came_down(flight)
    end = flight.fixes[-1].time_utc if down is None else down.when.time_utc
    ascent = None if track is None else ascent_pieces(track, flight.launch_utc)
    descent = None if track is None else descent_pieces(track)
    return Figures(
        duration_s=end - flight.launch_utc,
        highest_m=None if track is None else float(track.altitude_m[track.top]),
        ascent_rate_ms=None if ascent is None else float(ascent[1].mean()),
        ascent_rate_sd_ms=None if ascent is None else float(ascent[1].std()),
        descent_rate_ms=None if descent is None else _mean_descent_rate(descent),
        descent_rate_sd_ms=None if descent is None else float(descent.reduced_ms.std()),
        touchdown_ms=None if track is None or descent is None else _touchdown(track, descent),
        distance_m=flight.distance_m,
        fixes=len(flight.fixes),
    )


@dataclass(frozen=True, slots=True)
class DescentPieces:
    """Pieces of the descent: middle height, rate, rate reduced to sea level, how long."""

    altitude_m: Array
    rate_ms: Array
    reduced_ms: Array
    lasted_s: Array


def descent_pieces(track: Track) -> DescentPieces | None:
    """Pieces of at least ``PIECE_S`` from the highest fix until it lies; None without any. That
    which holds the burst itself is left out."""
    t, z = track.time_s[track.top :], track.altitude_m[track.top :]
    # A piece that ends on the ground holds some rest there.
    flying = resting_m(z) + 100.0
    rows = []
    start = 0
    for n in range(1, len(t)):
        if t[n] - t[start] >= PIECE_S and flying < z[n] < z[start] - 30.0:
            path = fall_path_m(z[[start, n]])
            lasted = t[n] - t[start]
            rows.append(
                ((z[n] + z[start]) / 2.0, (z[start] - z[n]) / lasted, (path[0] - path[1]) / lasted,
                 lasted)
            )  # fmt: skip
            start = n
    falling = [row for row in rows[1:] if row[1] > DESCENDING_MS]
    return DescentPieces(*np.array(falling).T) if falling else None


def errors(flight: FlightLog, lay: tuple[float, float] | None = None) -> Iterator[Error]:
    """Each estimate against where it was found, else where it lay (``lay``, where that is known
    otherwise); nothing where that is not known."""
    end = ending(flight) or lay
    if end is None:
        return
    for landing in flight.landings:
        if landing.phase is Phase.LANDED:
            continue
        plane = Plane(landing.latitude_deg, landing.longitude_deg)
        x, y = plane.to_xy(*end)
        yield Error(
            time_utc=landing.evidence_utc,
            off_m=math.hypot(float(x), float(y)),
            radius_50_m=landing.radius_50_m,
            radius_90_m=landing.radius_90_m,
            in_50=_within(plane, landing.region_50, float(x), float(y)),
            in_90=_within(plane, landing.region_90, float(x), float(y)),
        )


def ending(flight: FlightLog) -> tuple[float, float] | None:
    """Where it was found, else where it was last heard on the ground, or so low that it is known
    from there."""
    if flight.found is not None and flight.found.condition.value != "lost":
        return flight.found.latitude_deg, flight.found.longitude_deg
    down = came_down(flight)
    return None if down is None else down.place


def by_source(flight: FlightLog) -> list[tuple[str, int]]:
    """How many fixes each source brought, most first."""
    return Counter(fix.source for fix in flight.fixes).most_common()


def winds(
    track: Track, *, up: bool, step_m: float = 1_000.0
) -> Iterator[tuple[float, float, float]]:
    """(middle height, east, north) of the drift over pieces of ``step_m`` and more, on the way up
    or down. Pieces across a silence say too little of any one height and are left out."""
    after = np.arange(len(track.time_s)) - track.top
    part = track.placed & (after <= 0 if up else after >= 0)
    t, x, y, z = (along[part] for along in (track.time_s, track.x_m, track.y_m, track.altitude_m))
    start = 0
    for n in range(1, len(t)):
        if abs(z[n] - z[start]) < step_m or t[n] - t[start] < LEAST_PIECE_S:
            continue
        lasted = t[n] - t[start]
        if np.diff(t[start : n + 1]).max() <= LONGEST_STEP_S and abs(z[n] - z[start]) < MOST_STEP_M:
            yield (
                float((z[n] + z[start]) / 2.0),
                float((x[n] - x[start]) / lasted),
                float((y[n] - y[start]) / lasted),
            )
        start = n


def ascent_pieces(track: Track, launch_utc: float) -> tuple[Array, Array] | None:
    """Middle heights and rates of pieces of about a minute, from the launch to the top."""
    up = (track.time_s >= launch_utc) & (np.arange(len(track.time_s)) <= track.top)
    t, z = track.time_s[up], track.altitude_m[up]
    found = []
    start = 0
    for n in range(1, len(t)):
        if t[n] - t[start] >= PIECE_S:
            found.append(((z[n] + z[start]) / 2.0, (z[n] - z[start]) / (t[n] - t[start])))
            start = n
    if not found:
        return None
    height, rate = np.array(found).T
    return height, rate


def _mean_descent_rate(descent: DescentPieces) -> float:
    return float((descent.reduced_ms * descent.lasted_s).sum() / descent.lasted_s.sum())


def _touchdown(track: Track, descent: DescentPieces) -> float | None:
    """From the last pieces that were heard falling, by the density between there and the ground."""
    ground = resting_m(track.altitude_m[track.top :])
    last = descent.reduced_ms[-LAST_PIECES:]
    path = fall_path_m(np.array([ground + 50.0, ground]))
    return float(last.mean() * 50.0 / (path[0] - path[1]))


def _within(plane: Plane, region: Region, x: float, y: float) -> bool:
    rings = [plane.to_xy(*np.array(ring).T) for ring in region]
    return bool(inside(np.array([x]), np.array([y]), rings)[0])
