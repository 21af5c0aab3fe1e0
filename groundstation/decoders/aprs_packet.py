"""An APRS packet, by whichever way it came."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """Sender, destination address, the stations it went through, and the information field.

    ``path`` is as in the monitor form: ``*`` marks the last digipeater that repeated the packet,
    and all before it did so too.
    """

    source: str
    destination: str
    path: tuple[str, ...]
    info: bytes
