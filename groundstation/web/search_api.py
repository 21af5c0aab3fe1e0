"""The search over HTTP: how it stands, what was done, and what became of it; its records are in
``web/search_records.py``."""

from datetime import datetime
from typing import Any, Final

import numpy as np
from aiohttp import web

from groundstation.geo.hazards import Hazard
from groundstation.httpd import Routes
from groundstation.jsonout import JsonObject
from groundstation.schema.encode import record_json
from groundstation.schema.fields import links
from groundstation.search.found import Condition, Found
from groundstation.search.grid import SIDE, Grid, NextPlace, shares
from groundstation.search.looks import CHANCE, REACH_M, Look, LookKind
from groundstation.search.search_view import SearchDesk, SearchView
from groundstation.search.spoken_places import degrees_minutes, mgrs_text, utm_text
from groundstation.web.actions import figure, json_body, may_act
from groundstation.web.door import WHO
from groundstation.web.hazard_api import near_told
from groundstation.web.local_notice import notices
from groundstation.web.payload_snapshot import FoundSnapshot
from groundstation.web.search_records import (
    GridTold,
    LookTold,
    NextTold,
    PlaceTold,
    SearchTold,
    UsualTold,
)

LONGEST_NOTE: Final = 300  # own choice: a few sentences


class SearchPages:
    """``contact`` is what a finder is asked to call."""

    def __init__(self, desk: SearchDesk, hazards: tuple[Hazard, ...], contact: str) -> None:
        self._desk = desk
        self._hazards = hazards
        self._contact = contact

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/search", self._view)
        routes.add("POST", "/api/search/look", self._look)
        routes.add("POST", "/api/search/take-back", self._take_back)
        routes.add("POST", "/api/found", self._found)

    async def _view(self, request: web.Request) -> web.Response:
        view = await self._desk.view(request.query.get("payload", ""))
        if view is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        answer = web.json_response(self._told(view))
        answer.enable_compression()
        return answer

    def _told(self, view: SearchView) -> JsonObject:
        place: PlaceTold | None = None
        if view.found is not None:
            place = PlaceTold(**_place(view.found.latitude_deg, view.found.longitude_deg))
        elif view.next:
            place = PlaceTold(**_place(view.next[0].latitude_deg, view.next[0].longitude_deg))
        near = (
            ()
            if place is None
            else near_told(self._hazards, place.latitude_deg, place.longitude_deg)
        )
        return record_json(
            SearchTold(
                payload=view.payload,
                grid=None if view.grid is None else _grid(view.grid),
                looks=tuple(_look(look) for look in view.looks),
                next=tuple(_next(suggestion) for suggestion in view.next),
                found=None if view.found is None else FoundSnapshot.of(view.found),
                place=place,
                near=tuple(near),
                contact=self._contact,
                notices=notices(self._contact),
                usual={
                    kind.value: UsualTold(reach_m=REACH_M[kind], chance=CHANCE[kind])
                    for kind in LookKind
                },
            )
        )

    async def _look(self, request: web.Request) -> web.Response:
        may_act(request)
        body = await json_body(request)
        try:
            kind = LookKind(_text(body, "kind"))
            look = Look(
                payload=_text(body, "payload"),
                time_utc=0.0,
                kind=kind,
                shape=_shape(body.get("shape")),
                area=body.get("area") is True,
                reach_m=figure(body, "reach_m", REACH_M[kind]),
                chance=figure(body, "chance", CHANCE[kind]),
                who=request[WHO].name,
                note=_text(body, "note", "")[:LONGEST_NOTE],
            )
        except (ValueError, TypeError) as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        kept = await self._desk.add(look)
        if kept is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        return web.json_response(record_json(_look(kept)))

    async def _take_back(self, request: web.Request) -> web.Response:
        may_act(request)
        given = (await json_body(request)).get("number")
        if not isinstance(given, int) or not 0 < given < 2**53:
            raise web.HTTPUnprocessableEntity(text='give {"number": N} of a look\n')
        if not await self._desk.take_back(given):
            raise web.HTTPNotFound(text="there is no such look\n")
        return web.json_response({"number": given})

    async def _found(self, request: web.Request) -> web.Response:
        may_act(request)
        body = await json_body(request)
        try:
            found = Found(
                payload=_text(body, "payload"),
                time_utc=_time(body.get("time")),
                told_utc=0.0,
                latitude_deg=figure(body, "lat"),
                longitude_deg=figure(body, "lon"),
                condition=Condition(_text(body, "condition")),
                who=request[WHO].name,
                note=_text(body, "note", ""),
            )
        except (ValueError, TypeError) as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        if not await self._desk.close(found):
            raise web.HTTPNotFound(text="there is no such payload\n")
        return web.json_response(record_json(FoundSnapshot.of(found)))


def _grid(grid: Grid) -> GridTold:
    last = grid.size_m * (SIDE - 0.5)
    edges_x = [grid.x0_m - grid.size_m / 2.0, grid.x0_m + last]
    edges_y = [grid.y0_m - grid.size_m / 2.0, grid.y0_m + last]
    lat, lon = grid.plane.to_latlon(np.array(edges_x), np.array(edges_y))
    chance = np.rint(1000.0 * grid.chance / grid.chance.max()).astype(int)
    return GridTold(
        south=float(lat[0]),
        north=float(lat[1]),
        west=float(lon[0]),
        east=float(lon[1]),
        rows=SIDE,
        columns=SIDE,
        size_m=grid.size_m,
        chance=tuple(chance.reshape(-1).tolist()),
        shares=tuple(np.rint(100.0 * shares(grid.chance)).astype(int).reshape(-1).tolist()),
    )


def _look(look: Look) -> LookTold:
    return LookTold(
        number=look.number,
        time_utc=look.time_utc,
        kind=look.kind,
        shape=look.shape,
        area=look.area,
        reach_m=look.reach_m,
        chance=look.chance,
        who=look.who,
        note=look.note,
    )


def _next(place: NextPlace) -> NextTold:
    return NextTold(
        **_place(place.latitude_deg, place.longitude_deg),
        chance=place.chance,
        within_m=place.within_m,
    )


def _place(latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    return {
        "latitude_deg": latitude_deg,
        "longitude_deg": longitude_deg,
        "degrees_minutes": degrees_minutes(latitude_deg, longitude_deg),
        "utm": utm_text(latitude_deg, longitude_deg),
        "mgrs": mgrs_text(latitude_deg, longitude_deg),
        "geo": links(latitude_deg, longitude_deg)["geo"],
    }


def _text(body: dict[str, Any], name: str, otherwise: str | None = None) -> str:
    given = body.get(name, otherwise)
    if not isinstance(given, str):
        raise ValueError(f"{name} must be given as text")
    return given


def _time(given: object) -> float:
    if not isinstance(given, str) or not given.endswith("Z"):
        raise ValueError("time must be given as 2026-05-16T08:30:00Z")
    return datetime.fromisoformat(given).timestamp()


def _shape(given: object) -> tuple[tuple[float, float], ...]:
    pairs = given if isinstance(given, list) else []
    shape = []
    for pair in pairs:
        match pair:
            case [int() | float() as lat, int() | float() as lon]:
                shape.append((float(lat), float(lon)))
            case _:
                raise ValueError("shape must be a list of [latitude, longitude]")
    return tuple(shape)
