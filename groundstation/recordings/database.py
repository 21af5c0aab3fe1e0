"""The station's own database as a recording: every frame of every source, as it came."""

from collections.abc import Iterator, Mapping
from pathlib import Path

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.decoder import Decoder
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.decoders.text import clean_name
from groundstation.errors import InputFileError, StoreError
from groundstation.recordings.recording import Recording, RecordingKind
from groundstation.records import Frame, Report, Unreadable


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

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        match data.lstrip(b" \t\r\n")[:1]:
            case b"{" | b"[":
                return self._json.decode(data, received_utc)
            case b"$":
                return self._sentences.decode(data, received_utc)
            case b"\x00":
                return self._radio.decode(data, received_utc)
            case _:
                return self._packets.decode(data, received_utc)


def read_database(path: Path, by_source: Mapping[str, Decoder]) -> Recording:
    """All frames in order of reception. Raises ``InputFileError``."""
    # The store takes a while to load, which other recordings should not pay.
    from groundstation.store.reader import Reader  # noqa: PLC0415

    try:
        with Reader(path) as reader:
            frames = sorted(_frames(reader.frames()), key=lambda frame: frame.received_utc)
    except StoreError as error:
        raise InputFileError(str(error)) from error
    if not frames:
        raise InputFileError(f"{path}: no packet was ever stored in it; give another recording")
    return Recording(
        kind=RecordingKind.DATABASE,
        frames=tuple(frames),
        decoder=ContentDecoder(clean_name(path.stem) or "station"),
        by_source=by_source,
    )


def _frames(stored: Iterator[tuple[int, Frame]]) -> Iterator[Frame]:
    """Frames without those whose time of reception was no number, which no order can hold."""
    return (frame for _, frame in stored if frame.received_utc == frame.received_utc)
