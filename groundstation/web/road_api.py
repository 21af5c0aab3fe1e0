"""The nearest road to a place, for whoever drives there."""

import asyncio
import math

from aiohttp import web

from groundstation.geo.roads import Roads
from groundstation.httpd import Routes
from groundstation.physics.geodesy import distance_bearing
from groundstation.schema.encode import record_json
from groundstation.web.search_records import RoadTold


class RoadPages:
    def __init__(self, roads: Roads) -> None:
        self._roads = roads

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/road", self._nearest)

    async def _nearest(self, request: web.Request) -> web.Response:
        """null where no map that is there knows a road near."""
        try:
            lat, lon = float(request.query["lat"]), float(request.query["lon"])
            if not (abs(lat) <= 90.0 and math.isfinite(lon)):
                raise ValueError
        except (KeyError, ValueError) as error:
            raise web.HTTPUnprocessableEntity(text="Give lat and lon in degrees.\n") from error
        found = await asyncio.to_thread(self._roads.nearest, lat, lon)
        if found is None:
            return web.json_response(None)
        _, bearing = distance_bearing(found.latitude_deg, found.longitude_deg, lat, lon)
        return web.json_response(
            record_json(
                RoadTold(
                    latitude_deg=found.latitude_deg,
                    longitude_deg=found.longitude_deg,
                    name=found.name,
                    walk_m=found.away_m,
                    bearing_deg=bearing,
                )
            )
        )
