"""A place as it is handed over: in degrees, in degrees and minutes, in UTM and MGRS."""

from typing import Final

import utm

_COLUMNS: Final = ("ABCDEFGH", "JKLMNPQR", "STUVWXYZ")
_ROWS: Final = ("ABCDEFGHJKLMNPQRSTUV", "FGHJKLMNPQRSTUVABCDE")
"""The letters of the 100 km squares by zone (NGA.STND.0037, "Universal grids": the AA scheme,
WGS 84)."""


def degrees_minutes(latitude_deg: float, longitude_deg: float) -> str:
    """Degrees and minutes to 0.001 minute (about 2 m), as they are spoken."""
    return f"{_minutes(latitude_deg, 2, 'NS')} {_minutes(longitude_deg, 3, 'EW')}"


def utm_text(latitude_deg: float, longitude_deg: float) -> str | None:
    """Zone, band, metres east and north on WGS 84; None beyond 84° N and 80° S."""
    found = _utm(latitude_deg, longitude_deg)
    if found is None:
        return None
    east, north, zone, band = found
    return f"{zone}{band} {east:.0f} {north:.0f}"


def mgrs_text(latitude_deg: float, longitude_deg: float) -> str | None:
    """The MGRS reference to 1 m, cut and not rounded; None beyond 84° N and 80° S."""
    found = _utm(latitude_deg, longitude_deg)
    if found is None:
        return None
    east, north, zone, band = found
    column = _COLUMNS[(zone - 1) % 3][int(east // 100_000) - 1]
    row = _ROWS[(zone - 1) % 2][int(north // 100_000) % 20]
    return f"{zone:02d}{band} {column}{row} {int(east % 100_000):05d} {int(north % 100_000):05d}"


def _utm(latitude_deg: float, longitude_deg: float) -> tuple[float, float, int, str] | None:
    if not -80.0 <= latitude_deg <= 84.0:
        return None
    lon = (longitude_deg + 180.0) % 360.0 - 180.0
    east, north, zone, band = utm.from_latlon(latitude_deg, lon)
    return float(east), float(north), int(zone), str(band)


def _minutes(value: float, digits: int, sides: str) -> str:
    thousandths = round(abs(value) * 60_000.0)
    whole, minutes = divmod(thousandths, 60_000)
    side = sides[0] if value >= 0.0 else sides[1]
    return f"{side} {whole:0{digits}d}° {minutes / 1000.0:06.3f}′"
