"""Which way of cutting a stream goes with a decoder."""

from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.decoder import Framer
from groundstation.decoders.framing import KissFramer, LineFramer


def framer_for(decoder: DecoderSettings) -> Framer:
    """KISS for radio frames, else lines."""
    if isinstance(decoder, AprsSettings) and decoder.framing is AprsFraming.AX25:
        return KissFramer()
    return LineFramer()
