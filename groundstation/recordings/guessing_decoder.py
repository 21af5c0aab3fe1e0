"""Frames read by what they look like."""

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.records import Read


class ContentDecoder:
    """Reads a frame by what it looks like, where no configuration says what its source sends.

    Packets in either form, NMEA, and JSON with our own field names. Delimited text can't be read
    so: nothing in it says which column is which.
    """

    def __init__(self, tracker: str) -> None:
        self._packets = AprsDecoder(AprsSettings())
        self._radio = AprsDecoder(AprsSettings(framing=AprsFraming.AX25))
        self._sentences = NmeaDecoder(NmeaSettings(tracker=tracker))
        self._json = JsonDecoder(JsonSettings(tracker=tracker))

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        match data.lstrip(b" \t\r\n")[:1]:
            case b"{" | b"[":
                return self._json.decode(data, received_utc)
            case b"$":
                return self._sentences.decode(data, received_utc)
            case b"\x00":
                return self._radio.decode(data, received_utc)
            case _:
                return self._packets.decode(data, received_utc)
