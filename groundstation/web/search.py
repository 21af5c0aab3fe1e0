"""The search over HTTP: how it stands, what was done, and what became of it.

``GET /api/search?payload=NAME`` gives

    {"payload", "grid": {"south", "west", "north", "east", "rows", "columns", "size_m",
                         "chance": [per mille of the likeliest square, south to north], "shares"},
     "looks": [{"number", "time", "kind", "shape", "area", "reach_m", "chance", "who", "note"}, …],
     "next": [{"lat", "lon", "chance", "within_m", "degrees_minutes", "utm", "mgrs", "geo"}, …],
     "found": {…} | null, "place": {"lat", "lon", "degrees_minutes", "utm", "mgrs", "geo"},
     "near": [{"kind", "name", "distance_m", "bearing_deg"}, …], "contact",
     "usual": {kind: {"reach_m", "chance"}}}

where ``place`` is where it was found, else the first of ``next``.
"""

from datetime import datetime
from typing import Any, Final

import numpy as np
from aiohttp import web

from groundstation.geo.hazards import Hazard
from groundstation.httpd import Routes
from groundstation.jsonout import JsonObject, degrees, iso_utc, metres, number
from groundstation.schema.encode import told as as_told
from groundstation.search.desk import SearchDesk, SearchView
from groundstation.search.found import Condition, Found
from groundstation.search.grid import SIDE, Grid, NextPlace, shares
from groundstation.search.looks import CHANCE, REACH_M, Look, LookKind
from groundstation.search.places import degrees_minutes, mgrs_text, utm_text
from groundstation.web.actions import figure, json_body, may_act
from groundstation.web.door import WHO
from groundstation.web.hazards import near_json
from groundstation.web.payload_snapshot import FoundSnapshot

LONGEST_NOTE: Final = 300


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
        place: JsonObject | None = None
        if view.found is not None:
            place = _place(view.found.latitude_deg, view.found.longitude_deg)
        elif view.next:
            place = _place(view.next[0].latitude_deg, view.next[0].longitude_deg)
        return {
            "payload": view.payload,
            "grid": view.grid and _grid(view.grid),
            "looks": [_look(one) for one in view.looks],
            "next": [_next(one) for one in view.next],
            "found": view.found and as_told(FoundSnapshot.of(view.found)),
            "place": place,
            "near": [] if place is None else near_json(self._hazards, place["lat"], place["lon"]),
            "contact": self._contact,
            "usual": {
                kind.value: {"reach_m": REACH_M[kind], "chance": CHANCE[kind]} for kind in LookKind
            },
        }

    async def _look(self, request: web.Request) -> web.Response:
        may_act(request)
        told = await json_body(request)
        try:
            kind = LookKind(_text(told, "kind"))
            look = Look(
                payload=_text(told, "payload"),
                time_utc=0.0,
                kind=kind,
                shape=_shape(told.get("shape")),
                area=told.get("area") is True,
                reach_m=figure(told, "reach_m", REACH_M[kind]),
                chance=figure(told, "chance", CHANCE[kind]),
                who=request[WHO].name,
                note=_text(told, "note", "")[:LONGEST_NOTE],
            )
        except (ValueError, TypeError) as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        kept = await self._desk.add(look)
        if kept is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        return web.json_response(_look(kept))

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
        told = await json_body(request)
        try:
            found = Found(
                payload=_text(told, "payload"),
                time_utc=_time(told.get("time")),
                told_utc=0.0,
                latitude_deg=figure(told, "lat"),
                longitude_deg=figure(told, "lon"),
                condition=Condition(_text(told, "condition")),
                who=request[WHO].name,
                note=_text(told, "note", ""),
            )
        except (ValueError, TypeError) as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        if not await self._desk.close(found):
            raise web.HTTPNotFound(text="there is no such payload\n")
        return web.json_response(as_told(FoundSnapshot.of(found)))


def _grid(grid: Grid) -> JsonObject:
    last = grid.size_m * (SIDE - 0.5)
    edges_x = [grid.x0_m - grid.size_m / 2.0, grid.x0_m + last]
    edges_y = [grid.y0_m - grid.size_m / 2.0, grid.y0_m + last]
    lat, lon = grid.plane.to_latlon(np.array(edges_x), np.array(edges_y))
    chance = np.rint(1000.0 * grid.chance / grid.chance.max()).astype(int)
    return {
        "south": degrees(float(lat[0])),
        "north": degrees(float(lat[1])),
        "west": degrees(float(lon[0])),
        "east": degrees(float(lon[1])),
        "rows": SIDE,
        "columns": SIDE,
        "size_m": metres(grid.size_m),
        "chance": chance.reshape(-1).tolist(),
        "shares": np.rint(100.0 * shares(grid.chance)).astype(int).reshape(-1).tolist(),
    }


def _look(look: Look) -> JsonObject:
    return {
        "number": look.number,
        "time": iso_utc(look.time_utc),
        "kind": look.kind.value,
        "shape": [[degrees(lat), degrees(lon)] for lat, lon in look.shape],
        "area": look.area,
        "reach_m": metres(look.reach_m),
        "chance": number(look.chance, 3),
        "who": look.who,
        "note": look.note,
    }


def _next(place: NextPlace) -> JsonObject:
    return _place(place.latitude_deg, place.longitude_deg) | {
        "chance": number(place.chance, 4),
        "within_m": metres(place.within_m),
    }


def _place(latitude_deg: float, longitude_deg: float) -> JsonObject:
    lat, lon = degrees(latitude_deg), degrees(longitude_deg)
    return {
        "lat": lat,
        "lon": lon,
        "degrees_minutes": degrees_minutes(latitude_deg, longitude_deg),
        "utm": utm_text(latitude_deg, longitude_deg),
        "mgrs": mgrs_text(latitude_deg, longitude_deg),
        "geo": f"geo:{lat:.6f},{lon:.6f}?q={lat:.6f},{lon:.6f}",
    }


def _text(told: dict[str, Any], name: str, otherwise: str | None = None) -> str:
    given = told.get(name, otherwise)
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
