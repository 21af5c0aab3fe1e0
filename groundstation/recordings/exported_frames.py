"""Frames as they came, one JSON object a line: what ``export --form frames`` writes.

``{"received": seconds since 1970, "source": name, "receiver": name, "text": frame}``; where the
frame is no UTF-8 text, ``"base64"`` (RFC 4648, 4) takes the place of ``"text"``. What its carrier
told beside it stands there too: ``"sent"`` (seconds since 1970), ``"retained"``, ``"sender"``.
"""

import base64
import binascii
import json
import math
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from groundstation.decoders.decoder import Decoder
from groundstation.decoders.text import clean_name
from groundstation.errors import InputFileError
from groundstation.recordings.guessing_decoder import ContentDecoder
from groundstation.recordings.lines import content_lines
from groundstation.recordings.recording import Recording, RecordingKind
from groundstation.records import Frame


def is_frame(line: bytes) -> bool:
    """Whether a line is one of these, and not what a tracker tells of when it was received."""
    try:
        message = json.loads(line)
    except (ValueError, RecursionError):
        return False
    return (
        isinstance(message, dict)
        and {"received", "source"} < set(message)
        and bool({"text", "base64"} & set(message))
    )


def frame_lines(frames: Iterable[Frame]) -> Iterator[str]:
    """One line a frame, with its end."""
    for frame in frames:
        message: dict[str, object] = {"received": frame.received_utc, "source": frame.source}
        if frame.receiver:
            message["receiver"] = frame.receiver
        if frame.sent_utc is not None:
            message["sent"] = frame.sent_utc
        if frame.retained:
            message["retained"] = True
        if frame.sender:
            message["sender"] = frame.sender
        try:
            message["text"] = frame.data.decode("utf-8")
        except UnicodeDecodeError:
            message["base64"] = base64.b64encode(frame.data).decode("ascii")
        yield json.dumps(message, ensure_ascii=False, separators=(",", ":")) + "\n"


def read_frames(path: Path, data: bytes, by_source: Mapping[str, Decoder]) -> Recording:
    """All frames in order of reception. ``by_source`` are decoders by the name of the source.

    Raises ``InputFileError``, which names the line: nothing of such a file is left out silently.
    """
    frames = [_frame(path, number, line) for number, line in content_lines(data)]
    return Recording(
        kind=RecordingKind.FRAMES,
        frames=tuple(sorted(frames, key=lambda frame: frame.received_utc)),
        decoder=ContentDecoder(clean_name(path.stem) or "frames"),
        by_source=by_source,
    )


def _frame(path: Path, number: int, line: bytes) -> Frame:
    try:
        message = json.loads(line)
        received = float(message["received"])
        text, packed = message.get("text"), message.get("base64")
        data = text.encode() if packed is None else base64.b64decode(packed, validate=True)
        source, receiver = str(message["source"]), str(message.get("receiver", ""))
        sent = None if message.get("sent") is None else float(message["sent"])
        retained, sender = message.get("retained") is True, str(message.get("sender", ""))
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError, binascii.Error):
        received = math.nan
    if not math.isfinite(received):
        raise InputFileError(
            f"{path}, line {number}: this is no frame of an export; each line is one object with"
            " received, source, and text or base64"
        )
    return Frame(
        source=source,
        received_utc=received,
        data=data,
        receiver=receiver,
        sent_utc=sent if sent is not None and math.isfinite(sent) else None,
        retained=retained,
        sender=sender,
    )
