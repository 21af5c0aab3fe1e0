"""The flight as a track table, as delimited text with a checksum, and as lines of JSON."""

import json

from groundstation.decoders.checksums import crc16_ccitt_false
from groundstation.simulation.forms.common import header, iso_utc
from groundstation.simulation.simulate import SimulatedFlight
from groundstation.simulation.tracker import Sent

TRACK_COLUMNS = ("time", "lat", "lon", "alt_m", "payload", "tracker", "battery_v", "temperature_c")
DELIMITED_COLUMNS = ("tracker", "number", "time", "lat", "lon", "alt_m", "satellites", "battery_v")


def track(flight: SimulatedFlight, lines: tuple[str, ...]) -> bytes:
    """A track CSV: each fix that was heard once, in order of its own time."""
    names = f"{flight.settings.payload},{flight.settings.tracker.callsign}"
    rows = [
        f"{iso_utc(s.time_utc)},{s.latitude_deg:.6f},{s.longitude_deg:.6f},{_height(s, 1)}"
        f",{names},{s.battery_v:.2f},{s.temperature_c:.1f}\n"
        for s in flight.fixes
    ]
    return (header(lines) + ",".join(TRACK_COLUMNS) + "\n" + "".join(rows)).encode()


def _height(sent: Sent, digits: int) -> str:
    return "" if sent.told_m is None else f"{sent.told_m:.{digits}f}"


def sentence(flight: SimulatedFlight, sent: Sent) -> bytes:
    """One line of delimited text; CRC-16/CCITT-FALSE over all before the ``*``."""
    text = (
        f"{flight.settings.tracker.callsign},{sent.number},{iso_utc(sent.time_utc)}"
        f",{sent.latitude_deg:.5f},{sent.longitude_deg:.5f},{_height(sent, 0)}"
        f",{sent.satellites},{sent.battery_v:.2f}"
    ).encode()
    return text + f"*{crc16_ccitt_false(text):04X}\n".encode()


def delimited(flight: SimulatedFlight, lines: tuple[str, ...]) -> bytes:
    """Every copy as delimited text, in order of reception; the header names the columns."""
    head = header((*lines, f"Columns: {','.join(DELIMITED_COLUMNS)}"))
    return head.encode() + b"".join(sentence(flight, copy.sent) for copy in flight.heard)


def json_line(flight: SimulatedFlight, sent: Sent) -> bytes:
    """One fix as a JSON object on a line; it says of itself that it is invented."""
    fields = {
        "invented": True,
        "payload": flight.settings.payload,
        "tracker": flight.settings.tracker.callsign,
        "number": sent.number,
        "time": iso_utc(sent.time_utc),
        "lat": round(sent.latitude_deg, 6),
        "lon": round(sent.longitude_deg, 6),
        "alt_m": None if sent.told_m is None else round(sent.told_m, 1),
        "course_deg": round(sent.course_deg, 1),
        "speed_ms": round(sent.speed_ms, 1),
        "satellites": sent.satellites,
        "battery_v": round(sent.battery_v, 2),
        "temperature_c": round(sent.temperature_c, 1),
    }
    return json.dumps(fields, separators=(",", ":")).encode() + b"\n"


def json_lines(flight: SimulatedFlight, _lines: tuple[str, ...]) -> bytes:
    """Every copy as a line of JSON, in order of reception; JSON has no comments."""
    return b"".join(json_line(flight, copy.sent) for copy in flight.heard)
