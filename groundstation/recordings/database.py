"""The station's own database as a recording: every frame of every source, as it came."""

from collections.abc import Iterator, Mapping
from pathlib import Path

from groundstation.decoders.decoder import Decoder
from groundstation.decoders.text import clean_name
from groundstation.errors import InputFileError, StoreError
from groundstation.recordings.guessing_decoder import ContentDecoder
from groundstation.recordings.recording import Recording, RecordingKind
from groundstation.records import Frame


def read_database(path: Path, by_source: Mapping[str, Decoder]) -> Recording:
    """All frames in order of reception. Raises ``InputFileError``."""
    # The store takes a while to load, which other recordings should not pay.
    from groundstation.store.reader import Reader  # noqa: PLC0415

    try:
        with Reader(path) as reader:
            frames = sorted(_frames(reader.frames()), key=lambda frame: frame.received_utc)
            people = reader.told_by_people()
    except StoreError as error:
        raise InputFileError(str(error)) from error
    if not frames:
        raise InputFileError(f"{path}: no packet was ever stored in it; give another recording")
    return Recording(
        kind=RecordingKind.DATABASE,
        frames=tuple(frames),
        decoder=ContentDecoder(clean_name(path.stem) or "station"),
        by_source=by_source,
        people=people,
    )


def _frames(stored: Iterator[tuple[int, Frame]]) -> Iterator[Frame]:
    """Frames without those whose time of reception was no number, which no order can hold."""
    return (frame for _, frame in stored if frame.received_utc == frame.received_utc)
