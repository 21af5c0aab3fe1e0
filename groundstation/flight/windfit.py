"""The wind that the rest of the flight will meet: mean and draws, layer by layer.

What the ascent measured holds on the way down but for a change of some 2 m/s, which hardly grows
with time and is alike within about a kilometre of height. What the descent meets corrects the
layers just below. Above what was measured the wind is carried on and trusted less with distance.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.track_arrays import TrackArrays
from groundstation.physics.draws import Draws
from groundstation.physics.fall import pieces
from groundstation.physics.layers import COUNT, MIDDLE_M, layer_of
from groundstation.physics.wind import WindProfile, WindsAloft, measured_profile

Array = NDArray[np.float64]

# Study of recorded flights: change between ascent and descent, per component.
CHANGE_MS: Final = 2.2
CHANGE_LENGTH_M: Final = 1_000.0  # study of recorded flights
SPREAD_SHORT_MS: Final = 1.70  # set so that regions hold what they say, with SPREAD_LONG_MS
SPREAD_LONG_MS: Final = 0.48  # see SPREAD_SHORT_MS
SPREAD_LONG_M: Final = 6_000.0  # study: a part of the change holds over many kilometres
# Near the ground the wind changes more: 2.5 to 3 m/s in the lowest 2 km (same study).
LOW_WIND: Final = 1.15
LOW_WIND_M: Final = 2_000.0  # same study
# Winds not yet met: how far they are from the last ones met, per component. Near the ground and in
# the stratosphere 6 m/s, around the jet stream at 10.5 km 21; the difference grows within 6 km of
# height. Set to what 16 recorded flights show from 0.5 to 20 km (it holds theirs within a third).
UNMET_MS: Final = 6.0
UNMET_JET_MS: Final = 15.0  # own choice, with JET_M: jets are what an ascent below does not tell
JET_M, JET_DEPTH_M = 10_500.0, 4_500.0  # about the tropopause of middle latitudes (any textbook)
UNMET_LENGTH_M: Final = 6_000.0  # study of recorded flights, chosen by eye there
# Where fixes are rare, winds of the ascent are means over kilometres. Over the whole of such a
# piece that is right; within the lowest one the true profile is off by this much for each kilometre
# of the piece (the recorded ascents thinned to 2, 5 and 10 min: 0.35, 1.3 and 2.7 m/s).
COARSE_MS_PER_KM: Final = 0.8
# How far up a difference between a forecast and what was met still holds (same study, with a
# climatology in the place of the forecast).
OFF_LENGTH_M: Final = 8_000.0


@dataclass(frozen=True, slots=True)
class WindFit:
    """East and north wind: ``mean`` in all layers (2, COUNT), deviations in those that were asked
    for (2, half, layers).

    ``ascent`` is the profile measured on the way up, ``unmet`` the part of the deviation that is
    the same on the way up and down.
    """

    ascent: WindProfile
    mean: Array
    change: Array
    unmet: Array


def fit(
    track: TrackArrays, d: Draws, layers: slice, aloft: WindsAloft | None = None, *, falling: bool
) -> WindFit:
    """Learn the winds of ``track``, with deviations in ``layers``.

    Where ``aloft`` knows winds that were not met, those hold, moved by what the last winds met were
    off, less and less with height. In the fall, by how much it has them change since the ascent is
    added to what the ascent met.
    """
    up = slice(0, track.top + 1)
    profile = measured_profile(track.time_s[up], track.x_m[up], track.y_m[up], track.altitude_m[up])
    if not np.isfinite(profile.lowest_m):
        profile = measured_profile(track.time_s, track.x_m, track.y_m, track.altitude_m)
    met = np.stack([profile.u_ms, profile.v_ms])
    mean = met * _fading(profile.highest_m)
    most_ms, length_m = _BEYOND_MS, UNMET_LENGTH_M
    if aloft is not None and np.isfinite(profile.highest_m):
        forecast = np.stack([aloft.u_ms, aloft.v_ms])
        above = np.maximum(MIDDLE_M - profile.highest_m, 0.0)
        off = (met - forecast)[:, [int(layer_of(profile.highest_m))]]
        mean = np.where(above > 0.0, forecast + off * np.exp(-above / OFF_LENGTH_M), met)
        most_ms, length_m = np.full(COUNT, aloft.sd_ms), OFF_LENGTH_M
    unmet = _unmet(profile.highest_m, d, layers, most_ms, length_m)
    tendency = np.zeros((2, COUNT))
    if falling and aloft is not None and aloft.changed_ms is not None:
        tendency = np.stack(aloft.changed_ms)
        mean = mean + tendency
    wider = _coarser(track, profile)
    short, long = (d.east, d.north), (d.east_long, d.north_long)

    def drawn(k: int, at: slice | NDArray[np.int64]) -> Array:
        return SPREAD_SHORT_MS * (short[k][:, at] * wider[at]) + SPREAD_LONG_MS * long[k][:, at]

    change = np.stack([drawn(k, layers) for k in range(2)])
    seen = _changes(track, profile)
    if seen is not None:
        z, difference, noise = seen
        at = layer_of(z)
        weight = _weights(MIDDLE_M[layers], z, noise, CHANGE_MS, 0.0)
        spread = _weights(MIDDLE_M[layers], z, noise, SPREAD_SHORT_MS, SPREAD_LONG_MS)
        for k in range(2):
            mean[k][layers] += weight @ (difference[k] - tendency[k][at])
            shown = drawn(k, at) + d.noise[1 + k, :, : len(z)] * noise
            change[k] -= shown @ spread.T
    return WindFit(profile, mean, change, unmet)


def _coarser(track: TrackArrays, profile: WindProfile) -> Array:
    """By how much the short part of the change is wider near the ground, and there for want of
    detail too; shape (COUNT,)."""
    up = track.altitude_m[: track.top + 1]
    low = np.diff(up)[: max(len(up) // 4, 3)]
    piece_m = float(np.median(np.abs(low))) if len(low) else 0.0
    coarse_ms = COARSE_MS_PER_KM * piece_m / 1_000.0
    agl_m = MIDDLE_M - profile.lowest_m
    near = np.where(agl_m < LOW_WIND_M, LOW_WIND, 1.0)
    return np.hypot(near, np.where(agl_m < piece_m, coarse_ms / SPREAD_SHORT_MS, 0.0))


def unmet_covariance(height_m: Array, highest_m: float, aloft: WindsAloft | None) -> Array:
    """Covariance of winds that were not met, as ``fit`` draws them, between heights (n, n)."""
    above = np.maximum(height_m - highest_m, 0.0)
    length, most = UNMET_LENGTH_M, _beyond_ms(height_m)
    if aloft is not None:
        length, most = OFF_LENGTH_M, np.full(len(height_m), aloft.sd_ms)
    near = np.exp(-above / length)
    apart = np.abs(height_m[:, None] - height_m[None, :])
    free = np.exp(-apart / length) - np.outer(near, near)
    new = np.where(above > 0.0, most, 0.0)
    return np.asarray(np.outer(new, new) * np.maximum(free, 0.0))


def _beyond_ms(height_m: Array) -> Array:
    """How far winds that were not met may be from those below, per component."""
    return np.asarray(UNMET_MS + UNMET_JET_MS * np.exp(-(((height_m - JET_M) / JET_DEPTH_M) ** 2)))


_BEYOND_MS = _beyond_ms(MIDDLE_M)


def _changes(track: TrackArrays, profile: WindProfile) -> tuple[Array, Array, Array] | None:
    """Wind met in the descent minus that of the ascent, over pieces of the last 12 km fallen."""
    t, z = track.time_s[track.top :], track.altitude_m[track.top :]
    cuts = [(i, j) for i, j in pieces(z) if z[j] < z[-1] + 12_000.0 and t[j] > t[i]]
    if not cuts:
        return None
    i, j = (np.array(c) for c in zip(*cuts, strict=True))
    low, high = z[j], z[i]
    dt = t[j] - t[i]
    x, y = track.x_m[track.top :], track.y_m[track.top :]
    met = np.stack([(x[j] - x[i]) / dt, (y[j] - y[i]) / dt])
    before = np.stack(profile.mean(low, high))
    noise = np.sqrt(1.0 + 300.0 / np.maximum(high - low, 50.0)) * (1.0 + 20.0 / np.maximum(dt, 1.0))
    keep = (high - low > 20.0) & (low < profile.highest_m)
    if not keep.any():
        return None
    return ((low + high) / 2.0)[keep], (met - before)[:, keep], noise[keep]


def _weights(to_m: Array, from_m: Array, noise: Array, short_ms: float, long_ms: float) -> Array:
    def kernel(a: Array, b: Array) -> Array:
        apart = np.abs(a[:, None] - b[None, :])
        return short_ms**2 * np.exp(-apart / CHANGE_LENGTH_M) + long_ms**2 * np.exp(
            -apart / SPREAD_LONG_M
        )

    inner = kernel(from_m, from_m) + np.diag(noise**2)
    return np.asarray(np.linalg.solve(inner, kernel(to_m, from_m).T).T)


def _fading(highest_m: float) -> Array:
    length = 20_000.0 if highest_m < 8_000.0 else 6_500.0 if highest_m < 15_000.0 else 10_000.0
    return np.exp(-np.maximum(MIDDLE_M - highest_m, 0.0) / length)


def _unmet(highest_m: float, d: Draws, layers: slice, most_ms: Array, length_m: float) -> Array:
    """Deviation of winds above the highest measured: none there, growing with distance."""
    above = np.maximum(MIDDLE_M[layers] - highest_m, 0.0)
    base = int(layer_of(max(highest_m, float(MIDDLE_M[0]))))
    unmet = np.zeros((2, d.half, len(above)))
    free = slice(int(np.searchsorted(above, 0.0, side="right")), None)
    near, most = np.exp(-above[free] / length_m), most_ms[layers][free]
    for k, process in enumerate((d.east_long, d.north_long)):
        unmet[k][:, free] = most * (process[:, layers][:, free] - near * process[:, [base]])
    return unmet
