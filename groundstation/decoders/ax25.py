"""KISS data frames that hold AX.25 UI frames (AX.25 v2.2, TAPR 1997; KISS, Chepponis and Karn)."""

from typing import Final

from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.refusals import unreadable
from groundstation.records import Reason, Unreadable

_ADDRESS_BYTES: Final = 7  # AX.25 2.2: six letters and the SSID
_MAX_ADDRESSES: Final = 10
"""Destination, source and eight digipeaters, as AX.25 v2.0 allows and APRS uses."""
_UI: Final = 0x03  # AX.25 2.2: control field of unnumbered information
_POLL: Final = 0x10  # AX.25 2.2: the poll bit, which may be set or not
_NO_LAYER_3: Final = 0xF0  # AX.25 2.2: protocol identifier, no layer 3
_KISS_COMMANDS: Final = {
    1: "the transmit delay",
    2: "the persistence",
    3: "the slot time",
    4: "the transmit tail",
    5: "full duplex",
    6: "the hardware",
    15: "the end of KISS",
}


def read_kiss(data: bytes) -> Packet | Unreadable:
    """Read a KISS frame, command byte first and escapes undone. Any port will do."""
    if not data:
        return unreadable("The frame is empty.")
    command = data[0] & 0x0F
    if command != 0:
        about = _KISS_COMMANDS.get(command, f"the unknown command {command}")
        return unreadable(f"This is a KISS frame about {about}, not a packet.")
    return read_frame(data[1:])


def read_frame(data: bytes) -> Packet | Unreadable:
    """Read an AX.25 UI frame without flags and frame check sequence."""
    addresses: list[tuple[str, bool]] = []
    rest = data
    last = False
    while not last:
        if len(rest) < _ADDRESS_BYTES or len(addresses) == _MAX_ADDRESSES:
            return unreadable("The address field of the AX.25 frame has no end.")
        name = _callsign(rest[:_ADDRESS_BYTES])
        if name is None:
            return unreadable("The address field of the AX.25 frame holds no callsign.")
        addresses.append((name, bool(rest[6] & 0x80)))
        last = bool(rest[6] & 0x01)
        rest = rest[_ADDRESS_BYTES:]
    if len(addresses) < 2:
        return unreadable("The AX.25 frame names no sender.")
    if len(rest) < 2 or rest[0] & ~_POLL != _UI:
        return Unreadable(
            reason=Reason.NO_POSITION,
            detail="The AX.25 frame belongs to a connection; positions come in UI frames.",
        )
    if rest[1] != _NO_LAYER_3:
        return Unreadable(
            reason=Reason.NO_POSITION,
            detail=f"The AX.25 frame is of protocol {rest[1]:02X}; APRS is F0.",
        )
    (destination, _), (source, _), *digipeaters = addresses
    repeated = [place for place, (_, done) in enumerate(digipeaters) if done]
    return Packet(
        source=source,
        destination=destination,
        path=tuple(
            f"{name}*" if place == max(repeated, default=-1) else name
            for place, (name, _) in enumerate(digipeaters)
        ),
        info=rest[2:],
    )


def _callsign(address: bytes) -> str | None:
    """The callsign of a shifted address, with its SSID unless that is 0."""
    if any(byte & 1 for byte in address[:6]):
        return None
    name = bytes(byte >> 1 for byte in address[:6]).decode("latin-1").rstrip(" ")
    if not (name.isascii() and name.isalnum() and name == name.upper()):
        return None
    ssid = (address[6] >> 1) & 0x0F
    return f"{name}-{ssid}" if ssid else name
