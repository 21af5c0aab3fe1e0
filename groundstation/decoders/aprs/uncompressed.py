"""Positions in degrees and minutes (APRS 1.0.1 ch. 6 and 8)."""

import re
from typing import Final

from groundstation.decoders.aprs.position import MINUTE_M, Position
from groundstation.decoders.refusals import beyond, unreadable
from groundstation.records import Reason, Unreadable

_FORM: Final = re.compile(
    rb"([0-9]{2})([0-9 ]{2}\.[0-9 ]{2})([NSns])[/\\0-9A-Z]"
    rb"([0-9]{3})([0-9 ]{2}\.[0-9 ]{2})([EWew])([!-~])"
)
_MINUTES: Final = re.compile(rb"[0-9]*( *)")
STEPS: Final = (1, 10, 100, 1000, 6000)
"""What the minutes can tell apart, in hundredths, by the number of digits that are left out."""


def read_uncompressed(data: bytes) -> Position | Unreadable:
    """Read ``DDMM.hhN/DDDMM.hhW$``; the minutes may end in spaces.

    Digits left out of the latitude count as left out of the longitude; the position is then the
    middle of what is left open.
    """
    found = _FORM.match(data)
    if found is None:
        return unreadable("The position is not of the form DDMM.hhN/DDDMM.hhW.")
    lat_deg, lat_min, lat_side, lon_deg, lon_min, lon_side, symbol = found.groups()
    lat_gap, lon_gap = _left_out(lat_min), _left_out(lon_min)
    if lat_gap is None or lon_gap is None:
        return unreadable("The minutes of the position have a gap between their digits.")
    left_out = max(lat_gap, lon_gap)
    lat_minutes, lon_minutes = (middle(_hundredths(text), left_out) for text in (lat_min, lon_min))
    # 60.00 is what a tracker sends that rounds 59.996 (heard on one of the real flights).
    if lat_minutes > 60.0 or lon_minutes > 60.0:
        return Unreadable(reason=Reason.IMPOSSIBLE, detail="The position has more than 60 minutes.")
    latitude = (-1.0 if lat_side in b"Ss" else 1.0) * (int(lat_deg) + lat_minutes / 60.0)
    longitude = (-1.0 if lon_side in b"Ww" else 1.0) * (int(lon_deg) + lon_minutes / 60.0)
    return beyond(latitude, longitude) or Position(
        latitude_deg=latitude,
        longitude_deg=longitude,
        half_width_m=half_width_m(left_out),
        symbol=chr(symbol[0]),
        comment=data[found.end() :],
        refinable=left_out == 0,
    )


def middle(hundredths: int, left_out: int) -> float:
    """Minutes in the middle of the cell that holds so many hundredths, some digits left out."""
    if left_out == 0:
        return hundredths / 100.0
    step = STEPS[left_out]
    return (hundredths // step + 0.5) * step / 100.0


def half_width_m(left_out: int) -> float:
    """Half of what the minutes can tell apart with so many digits left out, in metres."""
    return 0.5 * STEPS[left_out] / 100.0 * MINUTE_M


def _left_out(minutes: bytes) -> int | None:
    found = _MINUTES.fullmatch(minutes.replace(b".", b""))
    return len(found[1]) if found else None


def _hundredths(minutes: bytes) -> int:
    return int(minutes.replace(b" ", b"0").replace(b".", b""))
