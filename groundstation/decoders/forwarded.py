"""Frames that another station heard and passed on."""

import base64
import binascii
import json
from dataclasses import dataclass, replace
from typing import Final, Literal

from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.binary import BinarySettings
from groundstation.decoders.carried import decoded
from groundstation.decoders.decoder import Decoder
from groundstation.decoders.delimited import DelimitedSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.pairs import PairsSettings
from groundstation.decoders.pattern import PatternSettings
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import clean_name
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.records import Frame, Read, Unreadable

MOST_BYTES: Final = 1 << 20  # own choice: more than any frame that a source lets through


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

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        refused = too_long(data, MOST_BYTES)
        if refused is not None:
            return (refused,)
        try:
            message = json.loads(data)
            packed, heard = message["data"], message["received"]
            data = base64.b64decode(packed, validate=True)
            sent, sender = message.get("sent"), message.get("sender", "")
            retained = message.get("retained") is True
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, binascii.Error):
            return (unreadable("This is no frame that a station passed on."),)
        moment = _moment(heard, received_utc)
        frame = Frame(
            source="",
            received_utc=received_utc if moment is None else moment,
            data=data,
            sent_utc=_moment(sent, received_utc),
            retained=retained,
            sender=clean_name(sender) if isinstance(sender, str) else "",
        )
        # What gives no time was heard then, and not when it came to us.
        return tuple(
            replace(read, time_utc=moment)
            if not isinstance(read, Unreadable) and read.time_utc is None and not read.time_unread
            else read
            for read in decoded(self._inner, frame)
        )


def _moment(text: object, received_utc: float) -> float | None:
    return read_time(text, TimeFormat.ISO, received_utc) if isinstance(text, str) else None
