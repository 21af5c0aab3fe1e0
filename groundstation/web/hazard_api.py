"""Hazards for the map, and those near a place."""

from aiohttp import web

from groundstation.geo.hazards import Hazard, near
from groundstation.httpd import Routes
from groundstation.language.catalogue import _
from groundstation.schema.encode import record_json
from groundstation.web.search_records import HazardTold, NearTold


class HazardPages:
    def __init__(self, hazards: tuple[Hazard, ...]) -> None:
        self._told = [
            record_json(
                HazardTold(
                    kind=hazard.kind or _("hazard"),
                    name=hazard.name,
                    area=hazard.area,
                    parts=tuple(
                        tuple((lat, lon) for lon, lat in part.tolist()) for part in hazard.parts
                    ),
                )
            )
            for hazard in hazards
        ]

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/hazards", self._all)

    async def _all(self, _request: web.Request) -> web.Response:
        answer = web.json_response(self._told)
        answer.enable_compression()
        return answer


def near_told(
    hazards: tuple[Hazard, ...], latitude_deg: float, longitude_deg: float
) -> list[NearTold]:
    """Those near the place, the nearest first."""
    return [
        NearTold(
            kind=near_hazard.hazard.kind or _("hazard"),
            name=near_hazard.hazard.name,
            distance_m=near_hazard.distance_m,
            bearing_deg=near_hazard.bearing_deg,
        )
        for near_hazard in near(hazards, latitude_deg, longitude_deg)
    ]
