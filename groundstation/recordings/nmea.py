"""A log of NMEA 0183 sentences, as a receiver writes it.

A sentence carries the time of day; the date comes from RMC or ZDA and is counted on over midnight.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from groundstation.decoders.checksums import nmea_xor
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.decoders.text import clean_name
from groundstation.decoders.timestamps import DAY_S, clock_text
from groundstation.recordings.lines import content_lines, inherit_times
from groundstation.recordings.recording import Recording, RecordingKind, in_order

UNDATED_UTC: Final = 946_684_800.0
"""2000-01-01T00:00:00Z: the day of a log in which no sentence gives a date. Own choice."""

EXAMPLE: Final = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
_CLOCK_FIELD: Final = {b"GGA": 1, b"RMC": 1, b"ZDA": 1, b"GLL": 5, b"GNS": 1}


def read_nmea(path: Path, data: bytes) -> Recording:
    """Read the log; each line is a frame, received at the time that it or one before it gives."""
    lines = [line for _, line in content_lines(data)]
    tracker = clean_name(path.stem) or "nmea"
    has_gga = any(_name(line) == b"GGA" for line in lines)
    settings = NmeaSettings(tracker=tracker, sentences=("GGA",) if has_gga else ("RMC",))
    return Recording(
        kind=RecordingKind.NMEA,
        frames=in_order(path.name, inherit_times(path, _timed(lines), EXAMPLE)),
        decoder=NmeaDecoder(settings),
        trackers=(tracker,),
    )


def _timed(lines: list[bytes]) -> Iterator[tuple[float | None, bytes]]:
    read = [_clock_and_day(line) for line in lines]
    day = _first_day(read)
    last = -1.0
    for line, (clock, own_day) in zip(lines, read, strict=True):
        if clock is None:
            yield None, line
            continue
        if own_day is not None:
            day = own_day
        elif last >= 0.0 and clock < last - DAY_S / 2:
            day += DAY_S
        elif last >= 0.0 and clock > last + DAY_S / 2:
            day -= DAY_S
        last = clock
        yield day + clock, line


def _first_day(read: list[tuple[float | None, float | None]]) -> float:
    """Midnight before the first sentence with a time, by the first date that comes after it."""
    turns, last = 0, -1.0
    for clock, day in read:
        if clock is None:
            continue
        turns += 0.0 <= clock < last - DAY_S / 2
        last = clock
        if day is not None:
            return day - turns * DAY_S
    return UNDATED_UTC


def _clock_and_day(line: bytes) -> tuple[float | None, float | None]:
    """Time of day in seconds, and midnight of the date where the sentence gives one."""
    body, star, sent = line.rpartition(b"$")[2].strip().partition(b"*")
    if not star or sent.strip().upper() != f"{nmea_xor(body):02X}".encode():
        return None, None
    fields = [field.decode("latin-1") for field in body.split(b",")]
    at = _CLOCK_FIELD.get(_name(line), 0)
    clock = clock_text(fields[at]) if 0 < at < len(fields) else None
    if clock is None:
        return None, None
    match _name(line):
        case b"RMC" if len(fields) > 9 and fields[2] == "A" and len(fields[9]) == 6:
            day, month, year = fields[9][:2], fields[9][2:4], "20" + fields[9][4:]
        case b"ZDA" if len(fields) > 4:
            day, month, year = fields[2:5]
        case _:
            return clock, None
    try:
        return clock, datetime(int(year), int(month), int(day), tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return clock, None


def _name(line: bytes) -> bytes:
    start = line.rfind(b"$")
    return line[start + 3 : start + 6]
