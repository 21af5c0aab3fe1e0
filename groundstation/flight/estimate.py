"""The landing estimate: an ensemble of falls from where the payload is now to the ground.

Each member draws its own fall rate, wind change and, where it has not burst yet, burst height. The
point is the median of the members, the regions are the smallest areas that hold 50 % and 90 % of
them. Pure: the same state gives the same estimate, live, replayed or restarted.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight import fallfit, windfit
from groundstation.flight.flown import Flown, flown
from groundstation.flight.phases import looks_falling
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.physics.draws import Draws, draws, normal_cdf, normal_quantile
from groundstation.physics.fall import FallModel
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import EDGE_M, THINNESS, layer_of, shares_m
from groundstation.physics.region import highest_density
from groundstation.records import Fix, Landing, Phase, Region

Array = NDArray[np.float64]

# Study of recorded flights: what the ensemble itself leaves out, set so that regions are
# calibrated.
TAIL_DEGREES: Final = 7.6
POINT_NOISE_M: Final = 85.0
LOW_STRETCH: Final = 1.25
LOW_FROM_M, LOW_TO_M = 6_000.0, 4_000.0
TOUCHDOWN_NOISE_M: Final = 120.0
TOUCHDOWN_NOISE_S: Final = 8.0
FLOAT_LEFT_S: Final = 1_800.0
RESTING_SD_M: Final = 12.0


def estimate_due(settings: FlightSettings, state: FlightState) -> bool:
    """Whether a new estimate would say something new: a newer fix, and enough time since."""
    if state.last is None or state.phase is Phase.PRELAUNCH:
        return False
    made = state.landing
    if made is None or made.phase is not state.phase:
        return True
    falling = state.phase is Phase.LANDED or looks_falling(state.motion)
    every_s = settings.estimate_every_s if falling else settings.climbing_every_s
    return state.last.time_utc - made.evidence_utc >= every_s


def estimate(settings: FlightSettings, state: FlightState) -> Landing | None:
    """Estimate the landing from ``state``; None before the launch or with too few fixes."""
    last = state.last
    if last is None or state.phase is Phase.PRELAUNCH:
        return None
    if state.phase is Phase.LANDED:
        return _resting(settings, state, last)
    track = flown(state)
    if track is None:
        return None
    ground_m = _ground(settings, state, track)
    fall = _Fall.of(settings, state, track, ground_m)
    return fall.landing(state, last)


def _ground(settings: FlightSettings, state: FlightState, track: Flown) -> float:
    """Height of the landing ground: as given, else that of the launch.

    Where the first fix was already climbing, half an interval of climb is taken off.
    """
    if settings.ground_m is not None:
        return settings.ground_m
    first = state.launch or state.first
    height = float(track.altitude_m[0])
    if first is not None and first.altitude_m is not None:
        height = first.altitude_m
    return min(height, float(track.altitude_m[-1]) - 1.0)


@dataclass(frozen=True, slots=True)
class _Fall:
    """An ensemble: where (metres in ``plane``) and when (seconds from now) each member lands."""

    plane: Plane
    ground_m: float
    x_m: Array
    y_m: Array
    wait_s: Array
    rate_ms: float
    basis: str

    @classmethod
    def of(
        cls, settings: FlightSettings, state: FlightState, track: Flown, ground_m: float
    ) -> "_Fall":
        d = draws(
            settings.members,
            fallfit.SPREAD_WANDER_M,
            windfit.CHANGE_LENGTH_M,
            windfit.SPREAD_LONG_M,
            TAIL_DEGREES,
        )
        now_m = float(track.altitude_m[-1])
        falling = looks_falling(state.motion)
        top_m = np.full(d.half, now_m)
        if not falling:
            top_m = _burst_heights(settings, now_m, d)
        layers = slice(int(layer_of(ground_m)), int(layer_of(top_m.max())) + 1)
        fall = fallfit.fit(settings.plan, track if falling else None, layers, d)
        wind = windfit.fit(track, d, layers)

        def landed(sign: float) -> tuple[Array, Array, Array]:
            slow = np.exp(-(fall.mean + sign * fall.deviation)) / THINNESS[layers]
            down = shares_m(np.full(d.half, ground_m), _tops(top_m, now_m, sign))[:, layers] * slow
            sway = sign * (wind.change + wind.unmet)[:, :, layers]
            total = [np.einsum("ij,ij->i", down, wind.mean[k, layers] + sway[k]) for k in range(2)]
            wait = down.sum(axis=1)
            if not falling:
                up_s, up = _before_the_fall(settings, state, track, wind, d, sign, top_m)
                total = [total[k] + up[k] for k in range(2)]
                wait = wait + up_s
            speed = math.exp(float(fall.mean[0])) * float(THINNESS[layers][0])
            off = sign * settings.ground_sd_m * d.spare[0] / speed
            blur = sign * POINT_NOISE_M * d.spare[1:3]
            total = [total[k] - off * wind.mean[k, layers][0] + blur[k] for k in range(2)]
            late = sign * (TOUCHDOWN_NOISE_M / speed * d.spare[3] + TOUCHDOWN_NOISE_S * d.spare[4])
            return total[0], total[1], wait + late

        plus, minus = landed(1.0), landed(-1.0)
        x, y, wait = (np.concatenate(pair) for pair in zip(plus, minus, strict=True))
        agl = now_m - ground_m
        low = np.clip((LOW_FROM_M - agl) / (LOW_FROM_M - LOW_TO_M), 0.0, 1.0)
        stretch = np.tile(d.stretch, 2) * (1.0 + (LOW_STRETCH - 1.0) * float(low))
        x, y, wait = (_stretched(a, stretch) for a in (x, y, wait))
        at = (float(track.x_m[-1]), float(track.y_m[-1]))
        return cls(
            track.plane,
            ground_m,
            x + at[0],
            y + at[1],
            np.maximum(wait, 0.0),
            math.exp(float(fall.mean[0])) * float(THINNESS[layers][0]),
            _basis(state, wind, fall, falling),
        )

    def landing(self, state: FlightState, last: Fix) -> Landing:
        point = (float(np.median(self.x_m)), float(np.median(self.y_m)))
        lat, lon = self.plane.to_latlon(*point)
        away = np.hypot(self.x_m - point[0], self.y_m - point[1])
        early, middle, late = np.quantile(self.wait_s, (0.05, 0.5, 0.95))
        half, most = highest_density(np.stack([self.x_m, self.y_m], axis=1), (0.5, 0.9))
        evidence = float(last.time_utc)
        return Landing(
            payload=state.payload,
            time_utc=state.now_utc,
            evidence_utc=evidence,
            phase=state.phase,
            latitude_deg=float(lat),
            longitude_deg=float(lon),
            ground_m=self.ground_m,
            eta_utc=evidence + float(middle),
            eta_90_utc=(evidence + float(early), evidence + float(late)),
            descent_rate_ms=self.rate_ms,
            region_50=_region(half, self.plane),
            region_90=_region(most, self.plane),
            radius_50_m=float(np.quantile(away, 0.5)),
            radius_90_m=float(np.quantile(away, 0.9)),
            basis=self.basis,
        )


def _stretched(values: Array, by: Array) -> Array:
    middle = np.median(values)
    return np.asarray(middle + (values - middle) * by)


def _tops(top_m: Array, now_m: float, sign: float) -> Array:
    """The mirrored members burst at the mirrored rank, so that pairs balance."""
    if sign > 0 or top_m[0] == now_m:
        return top_m
    order = np.argsort(top_m)
    mirrored = np.empty_like(top_m)
    mirrored[order] = top_m[order[::-1]]
    return mirrored


def _burst_heights(settings: FlightSettings, now_m: float, d: Draws) -> Array:
    """Burst heights from the plan, cut off below the height already reached."""
    plan = settings.plan
    beyond = (now_m - plan.burst_altitude_m) / plan.burst_altitude_sd_m
    reached = float(normal_cdf(np.array(beyond)))
    left = max(1.0 - reached, 1e-6)
    normal = normal_quantile(np.clip(reached + left * d.uniform, 1e-9, 1.0 - 1e-7))
    height = plan.burst_altitude_m + plan.burst_altitude_sd_m * normal
    return np.clip(height, now_m + 50.0, float(EDGE_M[-1]) - 1_000.0)


def _before_the_fall(
    settings: FlightSettings,
    state: FlightState,
    track: Flown,
    wind: windfit.WindFit,
    d: Draws,
    sign: float,
    top_m: Array,
) -> tuple[Array, tuple[Array, Array]]:
    """Time until burst and drift in it, each (half,): the rest of the climb, and of a float."""
    now_m = float(track.altitude_m[-1])
    rate = _climb_rate(settings, track) * np.exp(0.12 * sign * d.spare[5])
    tops = _tops(top_m, now_m, sign)
    if state.phase is Phase.FLOAT:
        floated = FLOAT_LEFT_S * np.exp(0.8 * sign * d.spare[6])
        k = int(layer_of(now_m))
        drift = tuple(floated * (wind.mean[i, k] + sign * 2.0 * d.spare[7 - i]) for i in range(2))
        return floated, (drift[0], drift[1])
    climb = shares_m(np.full(d.half, now_m), tops) / rate[:, None]
    sway = sign * wind.unmet
    east, north = (np.einsum("ij,ij->i", climb, wind.mean[k] + sway[k]) for k in range(2))
    return climb.sum(axis=1), (east, north)


def _climb_rate(settings: FlightSettings, track: Flown) -> float:
    """The climb of the last ten minutes, in m/s; the plan's where there is none yet."""
    recent = track.time_s >= track.time_s[-1] - 600.0
    t, z = track.time_s[recent], track.altitude_m[recent]
    if len(t) >= 2 and t[-1] - t[0] >= 30.0:
        return float(np.clip((z[-1] - z[0]) / (t[-1] - t[0]), 0.5, 15.0))
    return settings.plan.ascent_rate_ms


def _basis(state: FlightState, wind: windfit.WindFit, fall: fallfit.FallFit, falling: bool) -> str:
    measured = wind.ascent.highest_m
    words = (
        f"ascent winds to {measured / 1000:.1f} km" if math.isfinite(measured) else "no winds met"
    )
    if falling:
        words += f", descent fit over {fall.fallen_m / 1000:.1f} km"
    elif state.phase is Phase.FLOAT:
        words += ", floating: the end of the float is not known"
    else:
        words += ", burst and descent as planned"
    return words + ", no forecast"


def _resting(settings: FlightSettings, state: FlightState, last: Fix) -> Landing:
    """Where it lies: the last fix, as sure as a fix is."""
    sd = math.hypot(RESTING_SD_M, last.uncertainty_m)
    plane = Plane(last.latitude_deg, last.longitude_deg)
    turn = np.linspace(0.0, 2.0 * np.pi, 25)
    # Radii of a round normal distribution: sqrt(-2 ln(1 - p)).
    radius_50, radius_90 = sd * 1.17741, sd * 2.14597
    rings = [
        _region([np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1)], plane)
        for r in (radius_50, radius_90)
    ]
    made = state.landing
    rate = made.descent_rate_ms if made is not None else math.exp(FallModel().level)
    ground = last.altitude_m if last.altitude_m is not None else settings.ground_m
    return Landing(
        payload=state.payload,
        time_utc=state.now_utc,
        evidence_utc=last.time_utc,
        phase=state.phase,
        latitude_deg=last.latitude_deg,
        longitude_deg=last.longitude_deg,
        ground_m=ground if ground is not None else 0.0,
        eta_utc=state.since_utc,
        eta_90_utc=(state.since_utc, state.since_utc),
        descent_rate_ms=rate,
        region_50=rings[0],
        region_90=rings[1],
        radius_50_m=radius_50,
        radius_90_m=radius_90,
        basis="at rest where it was last heard",
    )


def _region(loops: list[Array], plane: Plane) -> Region:
    rings = []
    for loop in loops:
        lat, lon = plane.to_latlon(loop[:, 0], loop[:, 1])
        ring = [(round(float(a), 6), round(float(b), 6)) for a, b in zip(lat, lon, strict=True)]
        rings.append((*ring[:-1], ring[0]))
    return tuple(rings)
