"""The API described in OpenAPI 3.1, for whoever builds on it; served at ``/api/description``."""

from typing import Any, Final

from aiohttp import web

from groundstation.flight.sighting_kinds import RANGES, SightingKind
from groundstation.httpd import Routes
from groundstation.jsonout import JsonObject
from groundstation.schema.describe import reference, schemas
from groundstation.schema.fields import told_name
from groundstation.schema.lines import LINES
from groundstation.search.found import MOST_NOTE, Condition
from groundstation.search.looks import MOST_CORNERS, REACH_RANGE_M, LookKind
from groundstation.web.payload_snapshot import FoundSnapshot
from groundstation.web.rehearsal_api import FASTEST, FURTHEST_S
from groundstation.web.search_records import (
    HazardTold,
    LookTold,
    MapTold,
    RoadTold,
    SearchTold,
    TownShown,
)
from groundstation.web.sighting_records import SightingTold
from groundstation.web.snapshot import HealthSnapshot, StationSnapshot

Schema = dict[str, Any]

TEXT: Final[Schema] = {"type": "string"}
NUMBER: Final[Schema] = {"type": "number"}
COUNT: Final[Schema] = {"type": "integer", "minimum": 0}
YES: Final[Schema] = {"type": "boolean"}
TIME: Final[Schema] = {"type": "string", "format": "date-time"}
LATITUDE: Final[Schema] = {"type": "number", "minimum": -90, "maximum": 90}
LONGITUDE: Final[Schema] = {"type": "number", "minimum": -180, "maximum": 180}
NAME: Final[Schema] = {"type": "string", "minLength": 1, "maxLength": 30, "pattern": r"\S"}
FREE: Final[Schema] = {"type": "object"}


def or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def listed(schema: Schema, **more: object) -> Schema:
    return {"type": "array", "items": schema, **more}


def reply(**properties: Schema) -> Schema:
    """An object with at least these."""
    return {"type": "object", "properties": properties, "required": [*properties]}


def given(_optional: tuple[str, ...] = (), **properties: Schema) -> Schema:
    """An object with these, of which those ``_optional`` may be left out."""
    needed = [name for name in properties if name not in _optional]
    return {"type": "object", "properties": properties, "required": needed}


SHAPE: Final = {
    **listed(listed(NUMBER, minItems=2, maxItems=2), minItems=1, maxItems=MOST_CORNERS),
    "description": "Pairs of latitude and longitude in degrees.",
}
RECORDS: Final = (
    StationSnapshot,
    HealthSnapshot,
    SearchTold,
    HazardTold,
    MapTold,
    RoadTold,
    TownShown,
    SightingTold,
)
"""What is told; all that they hold is described with them."""

STATE, HEALTH, SEARCH = reference(StationSnapshot), reference(HealthSnapshot), reference(SearchTold)
LOOK, FOUND = reference(LookTold), reference(FoundSnapshot)


def _answer(what: str, schema: Schema | None = None, kind: str = "application/json") -> JsonObject:
    content = {} if schema is None else {"content": {kind: {"schema": schema}}}
    return {"description": what, **content}


def _refusals(*codes: str) -> JsonObject:
    words = {
        "401": "Nobody who may.",
        "403": "May look only, or it came from another site.",
        "404": "There is no such thing.",
        "409": "Not as things stand.",
        "413": "Too much.",
        "415": "Not JSON.",
        "422": "Not understood; the text says why.",
        "429": "Too many wrong tokens.",
        "503": "Not now.",
    }
    return {code: _answer(words[code], TEXT, "text/plain") for code in codes}


def _get(what: str, schema: Schema, *refusals: str, **more: object) -> JsonObject:
    answers = {"200": _answer(what, schema), **_refusals("401", "429", *refusals)}
    return {"get": {"summary": what, "responses": answers, **more}}


def _post(what: str, wanted: Schema, schema: Schema, *refusals: str) -> JsonObject:
    codes = dict.fromkeys(("401", "403", "413", "415", "422", "429", *refusals))
    body = {"required": True, "content": {"application/json": {"schema": wanted}}}
    answers = {"200": _answer(what, schema), **_refusals(*codes)}
    return {"post": {"summary": what, "requestBody": body, "responses": answers}}


_SEEN: Final = given(key=TEXT)
_LOOK: Final = given(
    ("area", "reach_m", "chance", "note"),
    payload=TEXT,
    kind={"enum": [kind.value for kind in LookKind]},
    shape=SHAPE,
    area=YES,
    reach_m={"type": "number", "minimum": REACH_RANGE_M[0], "maximum": REACH_RANGE_M[1]},
    chance={"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1},
    note=TEXT,
)
_FOUND: Final = given(
    ("note",),
    payload=TEXT,
    time={**TIME, "pattern": "Z$"},
    lat=LATITUDE,
    lon=LONGITUDE,
    condition={"enum": [condition.value for condition in Condition]},
    note={**TEXT, "maxLength": MOST_NOTE},
)
_SIGHTING: Final = given(
    ("at", "note", *map(told_name, RANGES)),
    payload=TEXT,
    kind={"enum": [kind.value for kind in SightingKind]},
    at={**TIME, "description": "The moment that it tells of; left out, it is now."},
    note=TEXT,
    **{
        told_name(name): or_null({"type": "number", "minimum": low, "maximum": high})
        for name, (low, high) in RANGES.items()
    },
)
_POSITION: Final = {
    "anyOf": [
        given(name=NAME, stop={"const": True}),
        given(
            ("speed_ms", "course_deg"),
            name=NAME,
            lat=LATITUDE,
            lon=LONGITUDE,
            speed_ms=or_null(NUMBER),
            course_deg=or_null(NUMBER),
        ),
    ]
}
_PACE: Final = {
    "anyOf": [
        given(speed={"type": "number", "minimum": 0, "maximum": FASTEST}),
        given(ahead_s={"type": "number", "exclusiveMinimum": 0, "maximum": FURTHEST_S}),
    ]
}
_ONE_PAYLOAD: Final = [
    {"name": "payload", "in": "query", "required": True, "schema": TEXT},
]

_SERIES: Final = reply(
    payload=TEXT,
    series={
        "type": "object",
        "description": "By name, with the unit in it: pairs of seconds since 1970 and value.",
        "additionalProperties": listed(listed(NUMBER, minItems=2, maxItems=2)),
    },
)
_REPORT: Final = reply(
    payload=TEXT, step=TEXT, made=or_null(TIME), problem=TEXT, lesson=TEXT, kept=YES
)

DESCRIPTION: Final[JsonObject] = {
    "openapi": "3.1.0",
    "info": {
        "title": "Balloon ground station",
        "version": "1",
        "description": "Times are UTC, angles degrees, all else SI; what is not known is null."
        " Regions are GeoJSON. Where tokens are asked for, send one as Authorization: Bearer.",
    },
    "components": {
        "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        "schemas": schemas(RECORDS) | schemas(LINES, ages=False),
    },
    "security": [{}, {"token": []}],
    "paths": {
        "/api/state": _get("All of it, as it is now.", STATE),
        "/api/health": _get("A few figures for a monitor.", HEALTH),
        "/api/maps": _get("What can be drawn under the flight.", listed(reference(MapTold))),
        "/api/hazards": _get("Hazards of the map.", listed(reference(HazardTold))),
        "/api/towns": _get(
            "The largest towns in a box, at most sixty.",
            listed(reference(TownShown)),
            "422",
            parameters=[
                {"name": name, "in": "query", "required": True, "schema": schema}
                for name, schema in (
                    ("south", LATITUDE),
                    ("west", LONGITUDE),
                    ("north", LATITUDE),
                    ("east", LONGITUDE),
                )
            ],
        ),
        "/api/road": _get(
            "Where a road is nearest to a place; null where no map tells.",
            or_null(reference(RoadTold)),
            "422",
            parameters=[
                {"name": name, "in": "query", "required": True, "schema": schema}
                for name, schema in (("lat", LATITUDE), ("lon", LONGITUDE))
            ],
        ),
        "/api/speed-ratios": _get("How much faster things fall, at each km.", listed(NUMBER)),
        "/api/search": _get("How a search stands.", SEARCH, "404", parameters=_ONE_PAYLOAD),
        "/api/telemetry": _get("What was measured.", _SERIES, "404", parameters=_ONE_PAYLOAD),
        "/api/acknowledge": _post("An alert was seen.", _SEEN, reply(seen=TEXT), "404"),
        "/api/search/look": _post("Note what was searched.", _LOOK, LOOK, "404"),
        "/api/search/take-back": _post(
            "A look counts no more.",
            given(number={"type": "integer", "minimum": 1, "exclusiveMaximum": 2**53}),
            reply(number=COUNT),
            "404",
        ),
        "/api/sightings": _post(
            "What a person saw: of the figures, those that the kind needs.",
            _SIGHTING,
            reference(SightingTold),
            "404",
        ),
        "/api/sightings/take-back": _post(
            "A sighting counts no more.",
            given(number={"type": "integer", "minimum": 1, "exclusiveMaximum": 2**53}),
            reply(number=COUNT),
            "404",
        ),
        "/api/found": _post("Close the flight.", _FOUND, FOUND, "404"),
        "/api/report": {
            **_get("How far the report is.", _REPORT, "404", parameters=_ONE_PAYLOAD),
            **_post(
                "Make the report of the newest flight.",
                given(("keep_lesson",), payload=TEXT, keep_lesson=YES),
                _REPORT,
                "404",
            ),
        },
        "/api/position": _post("Where a phone of the crew is.", _POSITION, reply(name=TEXT), "409"),
        "/api/rehearsal": _post("Hold, hurry, run ahead.", _PACE, FREE),
        "/api/phones": {
            **_get("Whether phones can be told.", reply(key=or_null(TEXT), missing=TEXT), "403"),
            **_post(
                "Tell a phone by web push.",
                given(name=TEXT, endpoint=TEXT, key=TEXT, secret=TEXT),
                reply(name=TEXT, trouble=TEXT),
                "409",
                "503",
            ),
        },
        "/api/phones/forget": _post(
            "Tell it no more.", given(endpoint=TEXT), reply(name=TEXT), "404", "409", "503"
        ),
        "/api/shares": {
            **_get("Links to look on with.", reply(possible=YES, names=listed(TEXT)), "403"),
            **_post(
                "Make a link.",
                given(name={**NAME, "maxLength": 40}),
                reply(name=TEXT, path=TEXT),
                "409",
                "503",
            ),
        },
        "/api/shares/take-back": _post(
            "A link is worth nothing any more.", given(name=TEXT), reply(name=TEXT), "404", "503"
        ),
    },
}


class Description:
    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/description", self._told)

    async def _told(self, _request: web.Request) -> web.Response:
        answer = web.json_response(DESCRIPTION)
        answer.enable_compression()
        return answer
