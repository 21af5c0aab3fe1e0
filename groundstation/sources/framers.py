"""Which way of cutting a stream goes with a decoder."""

from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.binary import (
    BinaryDecoder,
    BinaryEncoding,
    BinarySettings,
    start_bytes,
)
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.decoder import Framer
from groundstation.decoders.framing import BinaryFramer, KissFramer, LineFramer
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Unreadable


def framer_for(decoder: DecoderSettings) -> Framer:
    """KISS for radio frames, a fixed length for raw bytes, else lines.

    Raises ``ConfigurationError`` for raw bytes of which nobody can say where one message ends.
    """
    if isinstance(decoder, AprsSettings) and decoder.framing is AprsFraming.AX25:
        return KissFramer()
    if isinstance(decoder, BinarySettings) and decoder.encoding is BinaryEncoding.RAW:
        return _binary(decoder)
    return LineFramer()


def _binary(settings: BinarySettings) -> Framer:
    start = start_bytes(settings)
    if not start or not settings.length:
        raise ConfigurationError(
            "a stream of bytes needs start and length in its decoder, to tell messages apart"
        )
    decoder = BinaryDecoder(settings)

    def whole(frame: bytes) -> bool:
        (read,) = decoder.decode(frame, 0.0)
        return not (isinstance(read, Unreadable) and read.reason is Reason.CHECKSUM)

    return BinaryFramer(start, settings.length, whole)
