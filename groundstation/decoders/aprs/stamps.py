"""Time stamps of seven characters (APRS 1.0.1 ch. 6)."""

import re
from typing import Final

from groundstation.decoders.refusals import unreadable
from groundstation.decoders.timestamps import (
    nearest_day_of_month,
    nearest_time_of_day,
    seconds_of_day,
)
from groundstation.records import Unreadable

_STAMP: Final = re.compile(rb"([0-9]{2})([0-9]{2})([0-9]{2})(.)", re.DOTALL)


def read_stamp(
    data: bytes, received_utc: float, utc_offset_s: float
) -> tuple[float | None, bytes] | Unreadable:
    """The moment of the stamp at the beginning, nearest to the reception; and what follows it.

    ``DDHHMMz`` is in UTC, ``DDHHMM/`` in the sender's local time, which is ``utc_offset_s``
    ahead of it, and ``HHMMSSh`` in UTC without a day. Digits that are no time, or followed by
    another letter, give None: the position beside them may still be right. Where digits are
    missing the bytes were damaged or are something else, and are not read on.
    """
    found = _STAMP.match(data)
    if found is None:
        return unreadable("The time stamp has something else than digits.")
    first, second, third = int(found[1]), int(found[2]), int(found[3])
    rest = data[found.end() :]
    if found[4] == b"h":
        of_day_s = seconds_of_day(first, second, third)
        return None if of_day_s is None else nearest_time_of_day(of_day_s, received_utc), rest
    of_day_s = seconds_of_day(second, third, 0)
    if of_day_s is None or found[4] not in (b"z", b"/"):
        return None, rest
    offset_s = utc_offset_s if found[4] == b"/" else 0.0
    return nearest_day_of_month(first, of_day_s, received_utc, offset_s), rest
