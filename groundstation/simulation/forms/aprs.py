"""The flight as APRS: raw packets in the TNC2 monitor form, or KISS frames of AX.25.

Sources: APRS Protocol Reference 1.0.1 chapters 6, 8 and 16, the ``!w!`` precision extension of
APRS 1.2, AX.25 2.2 section 3, KISS (Chepponis and Karn 1987). APZ... is the destination the
protocol sets aside for experiments.
"""

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from groundstation.simulation.forms.common import clock_utc, header
from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.simulate import SimulatedFlight
from groundstation.simulation.tracker import Heard, Sent
from groundstation.units import FOOT_M, KNOT_MS

DESTINATION: Final = "APZKAN"
STATUS_SHARE: Final = 0.08  # own choice: one packet in twelve tells a status
GARBAGE_SHARE: Final = 0.02  # own choice: so that decoders are always tried
FEND, FESC, TFEND, TFESC = b"\xc0", b"\xdb", b"\xdc", b"\xdd"


def information(sent: Sent) -> bytes:
    """The information field of a position report with time, course, speed and altitude."""
    lat, lat_rest = _minutes(sent.latitude_deg, 2)
    lon, lon_rest = _minutes(sent.longitude_deg, 3)
    knots = min(round(sent.speed_ms / KNOT_MS), 999)
    course = (round(sent.course_deg) % 360 or 360) if knots else 0
    height = "" if sent.told_m is None else f"/A={round(sent.told_m / FOOT_M):06d}"
    return (
        f"/{clock_utc(sent.time_utc)}h{lat}{'N' if sent.latitude_deg >= 0 else 'S'}"
        f"/{lon}{'E' if sent.longitude_deg >= 0 else 'W'}O{course:03d}/{knots:03d}"
        f"{height} {sent.battery_v:.2f}V {sent.temperature_c:.1f}C {sent.satellites:02d}S"
        f" !w{lat_rest}{lon_rest}!"
    ).encode()


def packet(flight: SimulatedFlight, copy: Heard, field: bytes) -> bytes:
    """One line of a recording: reception time, tab, packet with its path."""
    way = f"{copy.via},WIDE2*" if copy.via else "WIDE2-1"
    head = f"{flight.settings.tracker.callsign}>{DESTINATION},{way},qAR,{copy.receiver}:"
    return f"{int(copy.received_utc)}\t".encode() + head.encode() + field + b"\n"


def packets(flight: SimulatedFlight, lines: tuple[str, ...]) -> bytes:
    """The whole recording, with status packets and received garbage in between."""
    rng = stream(flight.settings.seed, Stream.FORM)
    out = [header(lines).encode()]
    for copy in flight.heard:
        for field in _fields(rng, copy.sent):
            out.append(packet(flight, copy, field))
    return b"".join(out)


def frame(flight: SimulatedFlight, copy: Heard) -> bytes:
    """One copy of a fix as a KISS data frame on port 0."""
    way = (f"{copy.via}*", "WIDE2*") if copy.via else ("WIDE2-1",)
    names = (DESTINATION, flight.settings.tracker.callsign, *way)
    addresses = b"".join(
        _address(name, last=i == len(names) - 1, command=i == 0) for i, name in enumerate(names)
    )
    body = b"\x00" + addresses + b"\x03\xf0" + information(copy.sent)
    return FEND + body.replace(FESC, FESC + TFESC).replace(FEND, FESC + TFEND) + FEND


def kiss(flight: SimulatedFlight, _lines: tuple[str, ...]) -> bytes:
    """All copies as KISS frames; the form has no room for a header."""
    return b"".join(frame(flight, copy) for copy in flight.heard)


def _fields(rng: np.random.Generator, sent: Sent) -> Iterator[bytes]:
    status, garbage = rng.random(2)
    noise = rng.integers(0x80, 0x100, int(rng.integers(6, 30)), dtype=np.uint8)
    yield information(sent)
    if status < STATUS_SHARE:
        yield f">{sent.satellites:02d} satellites, {sent.battery_v:.2f} V".encode()
    if garbage < GARBAGE_SHARE / 2:
        yield information(sent)[: int(8 + 9 * status)]
    elif garbage < GARBAGE_SHARE:
        yield noise.tobytes()


def _minutes(degrees: float, width: int) -> tuple[str, str]:
    """Degrees and minutes to 0.01, and the ninety-first parts that are left over."""
    parts = round(abs(degrees) * 60.0 * 100.0 * 91.0)
    hundredths, rest = divmod(parts, 91)
    whole, minutes = divmod(hundredths, 6_000)
    return f"{whole:0{width}d}{math.floor(minutes / 100):02d}.{minutes % 100:02d}", chr(33 + rest)


def _address(name: str, *, last: bool, command: bool) -> bytes:
    repeated = name.endswith("*")
    call, _, ssid = name.rstrip("*").partition("-")
    high = 0x80 if repeated or command else 0
    octet = high | 0x60 | (int(ssid or 0) << 1) | int(last)
    return bytes(ord(c) << 1 for c in call.ljust(6)) + bytes([octet])
