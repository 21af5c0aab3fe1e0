"""Time stamps of seven characters (APRS 1.0.1 ch. 6)."""

import re
from typing import Final

from groundstation.decoders.timestamps import (
    nearest_day_of_month,
    nearest_time_of_day,
    seconds_of_day,
)

STAMP_BYTES: Final = 7
_STAMP: Final = re.compile(rb"([0-9]{2})([0-9]{2})([0-9]{2})([zh/])")


def read_stamp(stamp: bytes, received_utc: float, utc_offset_s: float) -> float | None:
    """The moment of a stamp, nearest to the reception, or None for one that is no time.

    ``DDHHMMz`` is in UTC, ``DDHHMM/`` in the sender's local time, which is ``utc_offset_s``
    ahead of it, and ``HHMMSSh`` in UTC without a day.
    """
    found = _STAMP.fullmatch(stamp)
    if found is None:
        return None
    first, second, third = int(found[1]), int(found[2]), int(found[3])
    if found[4] == b"h":
        of_day_s = seconds_of_day(first, second, third)
        return None if of_day_s is None else nearest_time_of_day(of_day_s, received_utc)
    of_day_s = seconds_of_day(second, third, 0)
    if of_day_s is None:
        return None
    offset_s = utc_offset_s if found[4] == b"/" else 0.0
    return nearest_day_of_month(first, of_day_s, received_utc, offset_s)
