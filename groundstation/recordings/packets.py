"""Raw packets: the time of reception, a tab, and the packet in the TNC2 monitor form."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.recordings.lines import content_lines, inherit_times
from groundstation.recordings.recording import Recording, RecordingKind, in_order

EXAMPLE: Final = "1778920200<TAB>Q0HAB-11>APZKAN:/083000h4706.00N/02018.00EO/A=000279"
TIMED: Final = re.compile(rb"([0-9]{8,11}(?:\.[0-9]{1,9})?)\t(.*)", re.DOTALL)
_SENDER: Final = re.compile(rb"([A-Za-z0-9]{1,9}(?:-[A-Za-z0-9]{1,8})?)>")


def read_packets(path: Path, data: bytes) -> Recording:
    """Read the packets. Their bytes may be anything; a line without a time is kept as a frame."""
    timed = list(_timed(data))
    return Recording(
        kind=RecordingKind.PACKETS,
        frames=in_order(path.name, inherit_times(path, timed, EXAMPLE)),
        decoder=AprsDecoder(AprsSettings()),
        trackers=tuple(dict.fromkeys(_senders(packet for _, packet in timed))),
    )


def _timed(data: bytes) -> Iterator[tuple[float | None, bytes]]:
    for _, line in content_lines(data):
        found = TIMED.fullmatch(line)
        yield (float(found[1]), found[2]) if found else (None, line)


def _senders(packets: Iterator[bytes]) -> Iterator[str]:
    for packet in packets:
        found = _SENDER.match(packet)
        if found:
            yield found[1].decode().upper()
