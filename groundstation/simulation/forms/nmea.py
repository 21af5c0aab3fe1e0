"""The flight as a log of NMEA 0183 sentences: GGA and RMC for each fix."""

from datetime import UTC, datetime
from typing import Final

from groundstation.decoders.checksums import nmea_xor
from groundstation.simulation.forms.common import clock_utc, degrees_minutes, header
from groundstation.simulation.simulate import SimulatedFlight
from groundstation.simulation.tracker import Sent
from groundstation.units import KNOT_MS

GEOID_SEPARATION_M: Final = 43.0
"""Of the geoid above the ellipsoid around the invented base: about 43 m (EGM96, from memory)."""


def sentences(sent: Sent) -> bytes:
    """GGA and RMC of one fix, each ended by CR LF as the standard has it."""
    clock = f"{clock_utc(sent.time_utc)}.00"
    date = datetime.fromtimestamp(round(sent.time_utc), UTC).strftime("%d%m%y")
    lat, north = degrees_minutes(sent.latitude_deg, 2, 5, "NS")
    lon, east = degrees_minutes(sent.longitude_deg, 3, 5, "EW")
    where = f"{lat},{north},{lon},{east}"
    height = ",,,"
    if sent.told_m is not None:
        height = f"{sent.told_m:.1f},M,{GEOID_SEPARATION_M:.1f},M"
    gga = f"GNGGA,{clock},{where},1,{sent.satellites:02d},0.9,{height},,"
    knots = sent.speed_ms / KNOT_MS
    rmc = f"GNRMC,{clock},A,{where},{knots:.1f},{sent.course_deg:.1f},{date},,,A"
    return _sealed(gga) + _sealed(rmc)


def nmea(flight: SimulatedFlight, lines: tuple[str, ...]) -> bytes:
    """The log: each fix that was heard once, in order of its own time."""
    return header(lines).encode() + b"".join(sentences(sent) for sent in flight.fixes)


def _sealed(text: str) -> bytes:
    return f"${text}*{nmea_xor(text.encode()):02X}\r\n".encode()
