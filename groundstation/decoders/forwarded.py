"""Frames that another station heard and passed on."""

import base64
import binascii
import json
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.binary import BinarySettings
from groundstation.decoders.decoder import Decoder
from groundstation.decoders.delimited import DelimitedSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.pairs import PairsSettings
from groundstation.decoders.pattern import PatternSettings
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.records import Report, Unreadable

MOST_BYTES: Final = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardedSettings:
    """``decoder`` is what the station that heard them would have read them with."""

    kind: Literal["forwarded"] = "forwarded"
    decoder: (
        AprsSettings
        | DelimitedSettings
        | JsonSettings
        | NmeaSettings
        | PatternSettings
        | PairsSettings
        | BinarySettings
    )


class ForwardedDecoder:
    """Unwraps a frame and gives it to ``inner``, with the time at which it was first heard."""

    def __init__(self, inner: Decoder) -> None:
        self._inner = inner

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return (refused,)
        try:
            message = json.loads(data)
            packed, heard = message["data"], message["received"]
            frame = base64.b64decode(packed, validate=True)
        except (ValueError, KeyError, TypeError, RecursionError, binascii.Error):
            return (unreadable("This is no frame that a station passed on."),)
        moment = read_time(heard, TimeFormat.ISO, received_utc) if isinstance(heard, str) else None
        return self._inner.decode(frame, received_utc if moment is None else moment)
