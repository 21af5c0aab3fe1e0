"""What frames say, by the decoder of their source."""

import logging
from collections.abc import Mapping
from typing import Final

from groundstation.decoders.aprs.telemetry import REMEMBERED
from groundstation.decoders.carried import decoded
from groundstation.decoders.decoder import Decoder
from groundstation.records import Frame, Read, Reason, Unreadable
from groundstation.store.reader import Reader

log = logging.getLogger(__name__)

NAMES_HOLD_S: Final = 48 * 3600.0
"""So long names of telemetry are taken to hold over a restart. Own choice."""


class Reading:
    """``decoders`` by the name of the source."""

    def __init__(self, decoders: Mapping[str, Decoder]) -> None:
        self._decoders = decoders

    def read(self, frame: Frame) -> tuple[Read, ...]:
        """What the frame says. A fault of ours must not end the station: the sender would send the
        same again, and so would the broker after a restart."""
        try:
            return decoded(self._decoders[frame.source], frame)
        except Exception:
            log.exception("a fault in the decoder of %s; please report it", frame.source)
            fault = "The decoder failed on it: a fault in the program; please report it."
            return (Unreadable(reason=Reason.UNREADABLE, detail=fault),)

    def remember(self, reader: Reader, now_utc: float) -> None:
        """Names of telemetry come seldom; what was heard before a restart holds after it."""
        for frame in reader.frames_holding(REMEMBERED, now_utc - NAMES_HOLD_S):
            if frame.source in self._decoders:
                self.read(frame)
