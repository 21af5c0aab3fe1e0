"""Packets in the monitor form ``SOURCE>DESTINATION,PATH:information``, as servers send them."""

import re
from typing import Final

from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.refusals import unreadable
from groundstation.records import Reason, Unreadable

_CALLSIGN: Final = re.compile(r"[A-Za-z0-9]{1,9}(?:-[A-Za-z0-9]{1,8})?")
_STATION: Final = re.compile(r"[A-Za-z0-9-]{1,32}\*?")
"""A digipeater, a q construct, or the server after it (32 digits for one at an IPv6 address)."""
_INSIDE: Final = re.compile(
    rb"[^>]{0,100}?(?<![A-Za-z0-9-])"
    rb"((?=[A-Z]*[0-9])[A-Z0-9]{3,9}(?:-[A-Z0-9]{1,2})?)>"
    rb"([A-Z0-9]{1,9}(?:-[A-Z0-9]{1,2})?(?:,[A-Za-z0-9-]{1,32}\*?){0,24})"
    rb"(?:[ ]?(?:<[^>\r\n]{1,24}>|\[[^\]\r\n]{1,40}\])){0,3}[ ]?:[ ]?"
)
"""A packet's head after what a receiver puts before it; with a digit, as every callsign has."""
_MAX_HOPS: Final = 24  # own choice: three times the eight of AX.25, as gateways add some
_MAX_WRAPPERS: Final = 3  # own choice: packets that were forwarded from net to net


def read_line(data: bytes) -> Packet | Unreadable:
    """Read one line, as it stands, or what is a packet after something that a receiver adds."""
    if data.startswith(b"#"):
        return Unreadable(reason=Reason.SERVER_COMMENT, detail="The server says something itself.")
    packet = _packet(data)
    if isinstance(packet, Unreadable):
        found = _INSIDE.match(data)
        if found is not None:
            # Programs and modems put times, levels and marks before a packet, and after its path.
            return _packet(b"%b>%b:%b" % (found[1], found[2], data[found.end() :]))
    return packet


def unwrapped(packet: Packet) -> Packet | Unreadable:
    """Take a third-party packet (APRS 1.0.1 ch. 17) out of its wrapper; give others as they are.

    Its sender is the one inside, and its path goes on with the gateway and the wrapper's path.
    """
    for _ in range(_MAX_WRAPPERS):
        if not packet.info.startswith(b"}"):
            return packet
        inner = _packet(packet.info[1:])
        if isinstance(inner, Unreadable):
            return inner
        packet = Packet(
            source=inner.source,
            destination=inner.destination,
            path=(*inner.path, packet.source, *packet.path),
            info=inner.info,
        )
    return unreadable("The packet is wrapped too many times.")


def _packet(data: bytes) -> Packet | Unreadable:
    header, colon, info = data.rstrip(b"\r\n").partition(b":")
    source, arrow, way = header.decode("latin-1").partition(">")
    if not (colon and arrow):
        return unreadable("The line is not of the form SOURCE>DESTINATION,PATH:information.")
    destination, *path = way.split(",")
    if _CALLSIGN.fullmatch(source) is None:
        return unreadable("The line does not begin with the sender's callsign.")
    if _CALLSIGN.fullmatch(destination) is None:
        return unreadable("The destination of the packet is not a callsign.")
    if len(path) > _MAX_HOPS or not all(map(_STATION.fullmatch, path)):
        return unreadable("The path of the packet does not consist of callsigns.")
    return Packet(
        source=source.upper(), destination=destination.upper(), path=tuple(path), info=info
    )
