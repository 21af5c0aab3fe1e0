"""Where the phones of the crew are, as long as they say so. Kept in memory only, and forgotten."""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from aiohttp import web

from groundstation.httpd import Routes
from groundstation.language.catalogue import _
from groundstation.records import Fix
from groundstation.web.actions import figure, json_body
from groundstation.web.login import from_here

FORGOTTEN_S: Final = 900.0  # own choice: older, it misleads
MOST: Final = 30  # own choice: more than a crew has phones
LONGEST_NAME: Final = 30  # own choice: fits a line of the page
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
        """One for each phone that was heard lately; ``payload`` is its name. They age in real time,
        also beside a rehearsal that is hurried or held."""
        now_s, now_utc = time.monotonic(), self._now_utc()
        self._shared = {
            name: shared
            for name, shared in self._shared.items()
            if now_s - shared.at_s < FORGOTTEN_S
        }
        ages = [(shared.fix, now_s - shared.at_s) for _, shared in sorted(self._shared.items())]
        return tuple(
            replace(fix, time_utc=now_utc - age_s, received_utc=now_utc - age_s)
            for fix, age_s in ages
        )

    async def _told(self, request: web.Request) -> web.Response:
        """Whoever may look may say where they are: helpers as well."""
        from_here(request)
        body = await json_body(request)
        name = body.get("name")
        if not isinstance(name, str) or not 0 < len(name.strip()) <= LONGEST_NAME:
            raise web.HTTPUnprocessableEntity(
                text=_("Give a name of at most {most} letters.", most=LONGEST_NAME) + "\n"
            )
        name = name.strip()
        if body.get("stop") is True:
            self._shared.pop(name, None)
            return web.json_response({"name": name})
        try:
            fix = self._fix(name, body)
        except ValueError as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        if name not in self._shared and len(self._shared) >= MOST:
            raise web.HTTPConflict(text=_("Too many phones tell where they are.") + "\n")
        self._shared[name] = _Shared(fix, time.monotonic())
        return web.json_response({"name": name})

    def _fix(self, name: str, body: dict[str, Any]) -> Fix:
        lat, lon = figure(body, "lat"), figure(body, "lon")
        if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
            raise ValueError("lat and lon must be in degrees")
        now = self._now_utc()
        return Fix(
            payload=name,
            tracker=name,
            source=SOURCE,
            time_utc=now,
            received_utc=now,
            latitude_deg=lat,
            longitude_deg=lon,
            altitude_m=None,
            speed_ms=_within(body, "speed_ms", 150.0),
            course_deg=_within(body, "course_deg", 360.0),
        )


def _within(body: dict[str, Any], name: str, most: float) -> float | None:
    """What a phone says of its way; None where it does not know, or says what can't be."""
    if body.get(name) is None:
        return None
    given = figure(body, name)
    return given if 0.0 <= given <= most else None
