"""How JSON is put out: times, numbers, regions, any bytes as text, one object a line.

What is told stands in ``schema/``. Numbers are rounded to a fixed number of decimals, so the same
records give the same bytes.
"""

import json
import math
import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from groundstation.records import Region, Ring

JsonObject = dict[str, Any]

DEGREE_DECIMALS: Final = 6
"""0.1 m on the ground: below what any tracker can tell apart."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)

# Controls (C0, DEL, C1), line separators, the byte order mark and the marks that turn the
# direction of writing: none may reach a terminal. The list is spelt out because Unicode's own
# categories change from one Python to the next, and the output must not.
_UNSAFE: Final = re.compile(
    "[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\udc80-\udcff]"
)


def number(value: float | None, decimals: int | None) -> float | None:
    """Round for output, where ``decimals`` says how far; None for what is not a finite number."""
    if value is None or not math.isfinite(value):
        return None
    # Never minus zero, where it is rounded.
    return value if decimals is None else round(value, decimals) + 0.0


def degrees(value: float | None) -> float | None:
    """An angle on the globe to six decimals."""
    return number(value, DEGREE_DECIMALS)


def metres(value: float | None) -> float | None:
    """A length to one decimal."""
    return number(value, 1)


def iso_utc(time_utc: float | None) -> str | None:
    """ISO 8601 with a Z, milliseconds only where there are any.

    None for None and for what no calendar date holds (not finite, beyond year 1 to 9999).
    """
    if time_utc is None or not math.isfinite(time_utc):
        return None
    try:
        moment = _EPOCH + timedelta(milliseconds=round(time_utc * 1000.0))
    except OverflowError:
        return None
    precision = "milliseconds" if moment.microsecond else "seconds"
    return moment.replace(tzinfo=None).isoformat(timespec=precision) + "Z"


def region_json(region: Region) -> JsonObject:
    """A GeoJSON Polygon, or MultiPolygon for several areas or none (RFC 7946).

    Longitude first, ring closed. A ring across the antimeridian keeps its longitudes in one
    piece, past 180, instead of being cut in two.
    """
    polygons = [[_positions(ring)] for ring in region if ring]
    if len(polygons) == 1:
        return {"type": "Polygon", "coordinates": polygons[0]}
    return {"type": "MultiPolygon", "coordinates": polygons}


def _positions(ring: Ring) -> list[list[float | None]]:
    first_lon = ring[0][1]
    closed = ring if ring[0] == ring[-1] else (*ring, ring[0])
    return [
        [degrees(first_lon + (lon - first_lon + 180.0) % 360.0 - 180.0), degrees(lat)]
        for lat, lon in closed
    ]


def frame_text(data: bytes) -> str:
    r"""Any bytes as text that is safe to print, from which they can be told again.

    UTF-8 stays readable. Controls and bytes that are not UTF-8 become ``\xNN``, a backslash
    becomes two.
    """
    text = data.decode("utf-8", "surrogateescape").replace("\\", "\\\\")
    return _UNSAFE.sub(_escaped, text)


def _escaped(match: re.Match[str]) -> str:
    return "".join(f"\\x{byte:02x}" for byte in match[0].encode("utf-8", "surrogateescape"))


def line(record: Mapping[str, Any]) -> str:
    """One JSON object on one line, without spaces. Raises ValueError for NaN and infinity."""
    text = json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # Half a surrogate pair has no UTF-8; as an escape it is valid JSON.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
