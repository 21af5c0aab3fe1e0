"""From the settings of a decoder to the decoder."""

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.binary import BinaryDecoder, BinarySettings
from groundstation.decoders.decoder import Decoder
from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.feeds import FeedDecoder, FeedSettings
from groundstation.decoders.forwarded import ForwardedDecoder, ForwardedSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.decoders.pairs import PairsDecoder, PairsSettings
from groundstation.decoders.pattern import PatternDecoder, PatternSettings

DecoderSettings = (
    AprsSettings
    | DelimitedSettings
    | JsonSettings
    | NmeaSettings
    | FeedSettings
    | ForwardedSettings
    | PatternSettings
    | PairsSettings
    | BinarySettings
)


def build_decoder(settings: DecoderSettings) -> Decoder:
    """Make the decoder. Raises ``ConfigurationError`` for settings that cannot work."""
    match settings:
        case AprsSettings():
            return AprsDecoder(settings)
        case DelimitedSettings():
            return DelimitedDecoder(settings)
        case JsonSettings():
            return JsonDecoder(settings)
        case NmeaSettings():
            return NmeaDecoder(settings)
        case ForwardedSettings():
            return ForwardedDecoder(build_decoder(settings.decoder))
        case PatternSettings():
            return PatternDecoder(settings)
        case PairsSettings():
            return PairsDecoder(settings)
        case BinarySettings():
            return BinaryDecoder(settings)
        case FeedSettings():
            return FeedDecoder(settings)
