"""Where the phones of the crew are, as long as they say so. Kept in memory only, and forgotten."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from aiohttp import web

from groundstation.listening import Routes
from groundstation.records import Fix
from groundstation.web.actions import json_body
from groundstation.web.login import from_here

FORGOTTEN_S: Final = 900.0
MOST: Final = 30
LONGEST_NAME: Final = 30
SOURCE: Final = "page"


@dataclass(frozen=True, slots=True)
class _Shared:
    fix: Fix
    at_s: float


class Positions:
    """``now_utc`` is the station's time."""

    def __init__(self, now_utc: Callable[[], float]) -> None:
        self._now_utc = now_utc
        self._shared: dict[str, _Shared] = {}

    def add_to(self, routes: Routes) -> None:
        routes.add("POST", "/api/position", self._told)

    def fixes(self) -> tuple[Fix, ...]:
        """One for each phone that was heard lately; ``payload`` is its name."""
        old = time.monotonic() - FORGOTTEN_S
        self._shared = {name: one for name, one in self._shared.items() if one.at_s > old}
        return tuple(one.fix for _, one in sorted(self._shared.items()))

    async def _told(self, request: web.Request) -> web.Response:
        """Whoever may look may say where they are: helpers as well."""
        from_here(request)
        told = await json_body(request)
        name = told.get("name")
        if not isinstance(name, str) or not 0 < len(name.strip()) <= LONGEST_NAME:
            raise web.HTTPUnprocessableEntity(text="give a name, of at most 30 letters\n")
        name = name.strip()
        match told:
            case {"stop": True}:
                self._shared.pop(name, None)
            case {"lat": int() | float() as lat, "lon": int() | float() as lon} if (
                -90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0
            ):
                if name not in self._shared and len(self._shared) >= MOST:
                    raise web.HTTPConflict(text="too many phones tell where they are\n")
                self._shared[name] = _Shared(self._fix(name, lat, lon, told), time.monotonic())
            case _:
                raise web.HTTPUnprocessableEntity(text="give lat and lon in degrees\n")
        return web.json_response({"name": name})

    def _fix(self, name: str, lat: float, lon: float, told: dict[str, object]) -> Fix:
        now = self._now_utc()
        return Fix(
            payload=name,
            tracker=name,
            source=SOURCE,
            time_utc=now,
            received_utc=now,
            latitude_deg=float(lat),
            longitude_deg=float(lon),
            altitude_m=None,
            speed_ms=_within(told.get("speed_ms"), 0.0, 150.0),
            course_deg=_within(told.get("course_deg"), 0.0, 360.0),
        )


def _within(given: object, low: float, high: float) -> float | None:
    if isinstance(given, bool) or not isinstance(given, int | float) or not low <= given <= high:
        return None
    return float(given)
