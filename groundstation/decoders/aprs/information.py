"""The information field of an APRS packet: which format it is in, and whose position it tells."""

import re
from dataclasses import dataclass
from typing import Final

from groundstation.decoders.aprs import weather
from groundstation.decoders.aprs.base91_telemetry import without_telemetry
from groundstation.decoders.aprs.comment import with_altitude, with_course, with_more_digits
from groundstation.decoders.aprs.compressed import read_compressed
from groundstation.decoders.aprs.mic_e import read_mic_e
from groundstation.decoders.aprs.position import Position
from groundstation.decoders.aprs.stamps import read_stamp
from groundstation.decoders.aprs.uncompressed import read_uncompressed
from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.refusals import unreadable
from groundstation.decoders.text import clean_bytes
from groundstation.records import Reason, Unreadable

_LATEST_START: Final = 40
"""A ``!`` may stand anywhere up to the 40th character (ch. 5)."""
_OBJECT: Final = re.compile(rb"([ -~]{9})([*_])")
_ITEM: Final = re.compile(rb'([ "-^`-~]{3,9})([!_])')
_WITHOUT_POSITION: Final = {
    b">": "a status text",
    b":": "a message",
    b"_": "a weather report without position",
    b"#": "a raw weather report",
    b"*": "a raw weather report",
    b"%": "a direction finder's report",
    b"<": "a list of capabilities",
    b"?": "a query",
    b"[": "a locator beacon",
    b"{": "in a format of the sender's own",
    b",": "test data",
    b"&": "in a format that is not defined",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A position and whose it is. ``reporter`` is the sender where it tells of another."""

    tracker: str
    position: Position
    time_utc: float | None = None
    time_unread: str = ""
    reporter: str | None = None


def read_information(packet: Packet, received_utc: float, utc_offset_s: float) -> Told | Unreadable:
    """Read the position that a packet tells. Raw NMEA sentences are not read here."""
    info = packet.info
    kind = info[:1]
    match kind:
        case b"!" | b"=":
            return _told(packet.source, read_place(info[1:]))
        case b"/" | b"@":
            stamp = read_stamp(info[1:], received_utc, utc_offset_s)
            if isinstance(stamp, Unreadable):
                return stamp
            time_utc, place = stamp
            return _told(packet.source, read_place(place), time_utc, stamp=info[1:8])
        case b";":
            return _object(packet, received_utc, utc_offset_s)
        case b")":
            return _item(packet)
        case b"`" | b"'" | b"\x1c" | b"\x1d":
            return _told(packet.source, refined(read_mic_e(packet.destination, info[1:])))
        case b"":
            return unreadable("The packet has no information field.")
        case _ if kind in _WITHOUT_POSITION:
            return _no_position(f"This is {_WITHOUT_POSITION[kind]}.")
        case _ if info.startswith(b"T#"):
            return _no_position("This is telemetry without position.")
        case _:
            start = info.find(b"!", 0, _LATEST_START)
            if start < 0:
                return _no_position("The information field is in no known format.")
            return _told(packet.source, read_place(info[start + 1 :]))


def read_place(data: bytes) -> Position | Unreadable:
    """Read a compressed or uncompressed position with all that its text adds to it."""
    if data[:1].isdigit() or data[:1] == b" ":
        position = read_uncompressed(data)
        if isinstance(position, Position) and position.symbol != weather.SYMBOL:
            position = with_course(position)
    else:
        position = read_compressed(data)
    return refined(position)


def refined(position: Position | Unreadable) -> Position | Unreadable:
    """Take weather and telemetry out of the text, and read altitude and digits in the rest."""
    if isinstance(position, Unreadable):
        return position
    if position.symbol == weather.SYMBOL:
        position = weather.with_weather(position)
    return with_more_digits(with_altitude(without_telemetry(position)))


def _object(packet: Packet, received_utc: float, utc_offset_s: float) -> Told | Unreadable:
    """An object is a thing of which the sender tells; its name is the tracker's id (ch. 11)."""
    body = packet.info[1:]
    found = _OBJECT.match(body)
    if found is None or not found[1].strip():
        return unreadable("The object has no name of nine characters.")
    name = clean_bytes(found[1])
    if found[2] == b"_":
        return _no_position(f"The sender takes the object {name} back.")
    stamp = read_stamp(body[found.end() :], received_utc, utc_offset_s)
    if isinstance(stamp, Unreadable):
        return stamp
    time_utc, place = stamp
    stamped = body[found.end() :][:7]
    return _told(name, read_place(place), time_utc, packet.source, stamp=stamped)


def _item(packet: Packet) -> Told | Unreadable:
    """An item is an object without a time (ch. 11)."""
    body = packet.info[1:]
    found = _ITEM.match(body)
    if found is None or not found[1].strip():
        return unreadable("The item has no name of three to nine characters.")
    name = clean_bytes(found[1])
    if found[2] == b"_":
        return _no_position(f"The sender takes the item {name} back.")
    return _told(name, read_place(body[found.end() :]), None, packet.source)


def _told(
    tracker: str,
    position: Position | Unreadable,
    time_utc: float | None = None,
    reporter: str | None = None,
    *,
    stamp: bytes = b"",
) -> Told | Unreadable:
    if isinstance(position, Unreadable):
        return position
    unread = clean_bytes(stamp) if time_utc is None else ""
    return Told(
        tracker=tracker,
        position=position,
        time_utc=time_utc,
        time_unread=unread,
        reporter=reporter,
    )


def _no_position(detail: str) -> Unreadable:
    return Unreadable(reason=Reason.NO_POSITION, detail=detail)
