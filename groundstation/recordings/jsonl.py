"""Lines of JSON, each an object with time, place and whatever else the tracker says."""

import json
import re
from pathlib import Path
from typing import Final

from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.text import clean_name, number
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.errors import InputFileError
from groundstation.recordings.lines import content_lines, inherit_times
from groundstation.recordings.recording import Recording, RecordingKind, in_order

EXAMPLE: Final = '{"time":"2026-05-16T08:30:00Z","lat":47.1,"lon":20.3,"alt_m":85}'
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")


def read_json_lines(path: Path, data: bytes) -> Recording:
    """Read the lines; each is a frame, received at the time that it gives."""
    lines = content_lines(data)
    objects = [_object(line) for _, line in lines]
    names = dict.fromkeys(key for fields in objects for key in fields if _NAME.fullmatch(key))
    missing = [name for name in ("time", "lat", "lon") if name not in names]
    if missing:
        raise InputFileError(
            f"{path}, line {lines[0][0]}: the objects have no {' and '.join(missing)};"
            f" lines should be like {EXAMPLE}"
        )
    times = [str(fields.get("time", "")) for fields in objects]
    first = next(filter(None, times), "")
    time_format = TimeFormat.UNIX if number(first) is not None else TimeFormat.ISO
    timed = (
        (read_time(time, time_format, 0.0), line)
        for time, (_, line) in zip(times, lines, strict=True)
    )
    trackers, payloads = (
        tuple(dict.fromkeys(clean_name(str(f[key])) for f in objects if f.get(key)))
        for key in ("tracker", "payload")
    )
    stem = clean_name(path.stem) or "json"
    settings = JsonSettings(
        fields={name: name for name in names}, time_format=time_format, tracker=stem
    )
    return Recording(
        kind=RecordingKind.JSON,
        frames=in_order(path.name, inherit_times(path, timed, EXAMPLE)),
        decoder=JsonDecoder(settings),
        trackers=trackers or payloads or (stem,),
        payload=payloads[0] if len(payloads) == 1 else "",
    )


def _object(line: bytes) -> dict[str, object]:
    """The object on this line, or an empty one where there is none."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
