"""What was heard: fixes of the tracker as they reached the receivers on the ground."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.atmosphere import temperature
from groundstation.physics.geodesy import distance_m, horizon_height_m
from groundstation.simulation.flight import Truth
from groundstation.simulation.randomness import wandering
from groundstation.simulation.settings import Receiver, TrackerModel
from groundstation.units import CELSIUS_ZERO_K

Array = NDArray[np.float64]

CHASE: Final = "Q0PSZ-9"
"""The receiver in the invented club's chase vehicle."""
SERVICE: Final = "MESSENGER"
"""What passes on messages that go by satellite."""
PASSED_ON_S: Final = (20.0, 120.0)
"""How long a message by satellite takes (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One fix as the tracker sent it, not yet rounded by any notation. ``wrong``: a false one."""

    number: int
    time_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    course_deg: float
    speed_ms: float
    satellites: int
    battery_v: float
    temperature_c: float
    wrong: bool = False
    tells_height: bool = True

    @property
    def told_m(self) -> float | None:
        """The height that the message holds."""
        return self.altitude_m if self.tells_height else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One copy of a fix, as it came in. ``via`` is the relay it took, "" for none."""

    sent: Sent
    received_utc: float
    receiver: str
    via: str = ""


def hear(
    rng: np.random.Generator, truth: Truth, model: TrackerModel, receivers: tuple[Receiver, ...]
) -> tuple[Heard, ...]:
    """All copies of all fixes that reached a receiver, in order of reception."""
    deaf = [_outages(rng, truth, model) for _ in receivers]
    copies: list[Heard] = []
    for sent in _transmissions(rng, truth, model):
        at = int(sent.time_utc - truth.time_utc[0])
        lost, held, how_long = rng.random(3)
        draws = rng.random((len(receivers), 3))
        if lost < model.lost_share or _silenced(truth, model, sent.time_utc, at):
            continue
        if model.by_satellite:
            copies.append(_by_satellite(model, sent, draws[0]))
            continue
        if sent.time_utc > truth.touchdown_utc and model.found_after_s is not None:
            delay = 1.0 + 0.5 * float(draws[0, 0])
            copies.append(Heard(sent=sent, received_utc=sent.time_utc + delay, receiver=CHASE))
            continue
        for receiver, silent, (latency, late, much) in zip(receivers, deaf, draws, strict=True):
            if silent[at] or not _in_sight(truth, at, receiver):
                continue
            delay = 0.4 + 1.6 * float(latency) + (1.2 if receiver.via else 0.0)
            if late < model.late_share:
                delay += _late_s(model, float(much))
            if held < model.late_share:
                delay += _late_s(model, float(how_long))
            copies.append(
                Heard(
                    sent=sent,
                    received_utc=sent.time_utc + delay,
                    receiver=receiver.callsign,
                    via=receiver.via,
                )
            )
    return tuple(sorted(copies, key=lambda copy: copy.received_utc))


def _by_satellite(model: TrackerModel, sent: Sent, draws: Array) -> Heard:
    """The one copy of a message that its service passes on."""
    quick, late, much = draws.tolist()
    least, most = PASSED_ON_S
    delay = least + (most - least) * quick
    if late < model.late_share:
        delay += _late_s(model, much)
    return Heard(sent=sent, received_utc=sent.time_utc + delay, receiver=SERVICE)


def _late_s(model: TrackerModel, draw: float) -> float:
    """How late, from 0.3 to 3.3 times the model's time, mostly less than twice."""
    return model.late_s * (0.3 + 3.0 * draw**2)


def _transmissions(rng: np.random.Generator, truth: Truth, model: TrackerModel) -> Iterator[Sent]:
    """Every fix that the tracker sends, heard or not."""
    t = truth.time_utc
    east = wandering(rng, t.size, 1.0, 60.0, model.noise_m)
    north = wandering(rng, t.size, 1.0, 60.0, model.noise_m)
    up = wandering(rng, t.size, 1.0, 60.0, model.noise_up_m)
    per_lat = 111_200.0
    per_lon = per_lat * float(np.cos(np.radians(truth.latitude_deg[0])))
    lat = truth.latitude_deg + north / per_lat
    lon = truth.longitude_deg + east / per_lon
    alt = truth.altitude_m + up
    box_c = _box_temperature_c(truth)
    sent_at = np.arange(float(rng.uniform(0.0, model.interval_s)), t.size - 1, model.interval_s)
    sent_at = sent_at + rng.normal(0.0, model.jitter_s, sent_at.size)
    seconds = np.unique(np.clip(np.round(sent_at), 0, t.size - 2).astype(int))
    for number, at in enumerate(seconds.tolist(), start=1):
        flips = rng.random(2)
        error = rng.normal(0.0, 1.0, 3)
        satellites = int(rng.integers(7, 13))
        if model.ceiling_m is not None and truth.altitude_m[at] > model.ceiling_m:
            continue
        wrong = bool(flips[0] < model.wrong_share)
        before = max(at - 1, 0)
        north_ms = (truth.latitude_deg[at] - truth.latitude_deg[before]) * per_lat
        east_ms = (truth.longitude_deg[at] - truth.longitude_deg[before]) * per_lon
        here = (float(lat[at]), float(lon[at]), float(alt[at]))
        yield Sent(
            number=number,
            time_utc=float(t[at]),
            latitude_deg=here[0] + (0.4 * float(error[0]) if wrong and flips[1] < 0.6 else 0.0),
            longitude_deg=here[1] + (0.4 * float(error[1]) if wrong and flips[1] < 0.6 else 0.0),
            altitude_m=here[2] if not wrong or flips[1] < 0.6 else _wrong_altitude_m(error[2]),
            course_deg=float(np.degrees(np.arctan2(east_ms, north_ms))) % 360.0,
            speed_ms=float(np.hypot(east_ms, north_ms)),
            satellites=satellites,
            battery_v=_battery_v(float(t[at] - t[0]), float(box_c[at])),
            temperature_c=float(box_c[at]),
            wrong=wrong,
            tells_height=model.heights,
        )


def _wrong_altitude_m(draw: float) -> float:
    return 0.0 if draw < 0.0 else 15_000.0 * float(draw) + 500.0


def _box_temperature_c(truth: Truth) -> Array:
    """Inside a box of foam with a warm tracker: it follows the air, late and not all the way."""
    air_c = temperature(truth.altitude_m) - CELSIUS_ZERO_K
    goal = (18.0 + 0.45 * (air_c - 15.0)).tolist()
    now, out = float(goal[0]), []
    for aim in goal:
        now += (aim - now) / 900.0
        out.append(now)
    return np.array(out)


def _battery_v(running_s: float, box_c: float) -> float:
    """A lithium cell that empties and sags in the cold; plausible, no source."""
    return 4.16 - 0.055 * running_s / 3_600.0 - 0.006 * max(15.0 - box_c, 0.0)


def _outages(rng: np.random.Generator, truth: Truth, model: TrackerModel) -> NDArray[np.bool_]:
    """Seconds in which one receiver is deaf; bursts with exponential lengths."""
    deaf = np.zeros(truth.time_utc.size, dtype=bool)
    if model.outage_share <= 0.0:
        return deaf
    gap_s = model.outage_s * (1.0 - model.outage_share) / model.outage_share
    at = float(rng.exponential(gap_s))
    while at < deaf.size:
        length = float(rng.exponential(model.outage_s))
        deaf[int(at) : int(at + length)] = True
        at += length + float(rng.exponential(gap_s))
    return deaf


def _silenced(truth: Truth, model: TrackerModel, time_utc: float, at: int) -> bool:
    if time_utc > truth.touchdown_utc and model.found_after_s is not None:
        return time_utc < truth.touchdown_utc + model.found_after_s
    if time_utc > truth.touchdown_utc and model.face_down:
        return True
    falling = time_utc > truth.top_utc
    return falling and float(truth.altitude_m[at]) - truth.ground_m < model.silent_below_agl_m


def _in_sight(truth: Truth, at: int, receiver: Receiver) -> bool:
    away = distance_m(
        float(truth.latitude_deg[at]),
        float(truth.longitude_deg[at]),
        receiver.latitude_deg,
        receiver.longitude_deg,
    )
    height = max(float(truth.altitude_m[at]) - truth.ground_m, 0.0) + 1.0
    return height >= horizon_height_m(away, receiver.antenna_m)
