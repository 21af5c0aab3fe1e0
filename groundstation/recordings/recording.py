"""What a recording gives: frames in order of reception, and the decoder that reads them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from groundstation.decoders.carried import decoded
from groundstation.decoders.decoder import Decoder
from groundstation.records import Frame, Read

if TYPE_CHECKING:
    from groundstation.store.sighting_rows import PersonTold


class RecordingKind(StrEnum):
    TRACK = "track"
    PACKETS = "packets"
    NMEA = "nmea"
    GPX = "gpx"
    JSON = "json"
    DATABASE = "database"
    FRAMES = "frames"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """``received_utc`` of the frames never decreases.

    ``people`` is what persons told of what they saw, in order. ``trackers`` are the senders found
    in the file, in order of appearance, and ``payload`` its one payload where it names one, else
    "". ``by_source`` holds the decoders of sources that have their own.
    """

    kind: RecordingKind
    frames: tuple[Frame, ...]
    decoder: Decoder
    trackers: tuple[str, ...] = ()
    payload: str = ""
    by_source: Mapping[str, Decoder] = field(default_factory=dict)
    people: "tuple[PersonTold, ...]" = ()

    def decode(self, frame: Frame) -> tuple[Read, ...]:
        """Read one of the frames."""
        decoder = self.by_source.get(frame.source, self.decoder)
        return decoded(decoder, frame)


def in_order(source: str, timed: Iterable[tuple[float, bytes]]) -> tuple[Frame, ...]:
    """Frames in order of reception; those received at the same time keep their order."""
    frames = (Frame(source=source, received_utc=at, data=data) for at, data in timed)
    return tuple(sorted(frames, key=lambda frame: frame.received_utc))
