"""The map that is there without any file: lines at small scale, and towns by name."""

import math
from typing import Final

from aiohttp import hdrs, web

from groundstation.geo.places import Places
from groundstation.geo.world import World
from groundstation.httpd import Routes
from groundstation.schema.encode import record_json
from groundstation.web.search_records import TownShown

KEEP_S: Final = 604_800  # own choice: it changes with the program only
MOST_TOWNS: Final = 60  # own choice: more names than a desk's screen has room for


class WorldPages:
    """Raises ``InputFileError`` where the packaged file is damaged."""

    def __init__(self, towns: Places) -> None:
        self._world = World()
        self._towns = towns

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/maps/world/{view}/{row}/{column}", self._lines)
        routes.add("GET", "/api/towns", self._named)

    async def _lines(self, request: web.Request) -> web.Response:
        texts = request.match_info["row"], request.match_info["column"]
        if not all(text.isascii() and text.isdigit() and len(text) < 4 for text in texts):
            raise web.HTTPNotFound
        try:
            found = self._world.lines(request.match_info["view"], int(texts[0]), int(texts[1]))
        except LookupError as error:
            raise web.HTTPNotFound from error
        answer = web.json_response(found)
        answer.headers[hdrs.CACHE_CONTROL] = f"private, max-age={KEEP_S}"
        answer.enable_compression()
        return answer

    async def _named(self, request: web.Request) -> web.Response:
        """The largest in a box; where west is above east it crosses the date line."""
        try:
            south, west, north, east = (
                float(request.query[name]) for name in ("south", "west", "north", "east")
            )
            if not all(map(math.isfinite, (south, west, north, east))) or not (
                -90.0 <= south < north <= 90.0 and abs(west) <= 180.0 and abs(east) <= 180.0
            ):
                raise ValueError
        except (KeyError, ValueError) as error:
            raise web.HTTPUnprocessableEntity(
                text="Give south, west, north and east in degrees.\n"
            ) from error
        found = self._towns.within((south, west, north, east), MOST_TOWNS)
        answer = web.json_response(
            [
                record_json(
                    TownShown(
                        name=place.name,
                        latitude_deg=place.latitude_deg,
                        longitude_deg=place.longitude_deg,
                        people=place.population,
                    )
                )
                for place in found
            ]
        )
        answer.enable_compression()
        return answer
