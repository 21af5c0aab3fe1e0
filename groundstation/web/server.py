"""The status page and its API, served on the station's own event loop."""

import errno
import logging
import ssl
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np
from aiohttp import hdrs, web

from groundstation.errors import ConfigurationError
from groundstation.geo.hazards import Hazard
from groundstation.geo.places import Places, known_places
from groundstation.httpd import Routes, listening, runner
from groundstation.jsonout import JsonObject, line
from groundstation.physics.atmosphere import density
from groundstation.search.search_view import SearchDesk
from groundstation.web.actions import Actions
from groundstation.web.description import Description
from groundstation.web.door import Door
from groundstation.web.guard import hardened, only_this_machine
from groundstation.web.hazard_api import HazardPages
from groundstation.web.installable import InstalledApp, answered
from groundstation.web.login import Login, guarded
from groundstation.web.maps import Heights, Maps
from groundstation.web.metrics import CONTENT_TYPE, metrics_text
from groundstation.web.page_files import Pages, load_pages, shell_html
from groundstation.web.phone_api import PhoneDesk, PhonePages
from groundstation.web.positions import Positions
from groundstation.web.rehearsal_api import RehearsalDesk, RehearsalPages
from groundstation.web.report_api import ReportDesk, ReportPages
from groundstation.web.road_api import RoadPages
from groundstation.web.search_api import SearchPages
from groundstation.web.settings import MapSettings, WebSettings, is_loopback
from groundstation.web.shares import Shares
from groundstation.web.sighting_api import SightingDesk, SightingPages
from groundstation.web.snapshot import StationSnapshot
from groundstation.web.state_api import health_json, state_json, vehicle
from groundstation.web.stream import Stream
from groundstation.web.telemetry_api import TelemetryDesk, TelemetryPages
from groundstation.web.world_api import WorldPages

Snapshot = Callable[[], StationSnapshot]
Acknowledge = Callable[[str], Awaitable[bool]]

log = logging.getLogger(__name__)

SHUTDOWN_S: Final = 1.0
"""How long an answer under way may take when the station stops. Our choice."""

STALLED_S: Final = 30.0
"""The clock comes by the pipeline each second; this long without it is a fault. Our choice."""

LARGEST_REQUEST_BYTES: Final = 16_384  # own choice: the 200 corners of an area take 4 kB

_SNAPSHOT: Final[web.AppKey[Snapshot]] = web.AppKey("snapshot")
_PAGES: Final[web.AppKey[Pages]] = web.AppKey("pages")
_STREAM: Final[web.AppKey[Stream]] = web.AppKey("stream")


@dataclass(frozen=True, slots=True, kw_only=True)
class Desks:
    """What the page is for beside showing. ``prepared`` is the folder of what
    was fetched beforehand, ``terrain_credit`` whose its terrain is, ``heights`` is where terrain is
    known, ``towns`` are those with names, ``shares`` is the file that keeps shared links."""

    search: SearchDesk | None = None
    sightings: SightingDesk | None = None
    reports: ReportDesk | None = None
    rehearsal: RehearsalDesk | None = None
    telemetry: TelemetryDesk | None = None
    phones: PhoneDesk | None = None
    maps: MapSettings = field(default_factory=MapSettings)
    prepared: Path | None = None
    terrain_credit: str = ""
    heights: Heights | None = None
    towns: Places | None = None
    hazards: tuple[Hazard, ...] = ()
    contact: str = ""
    shares: Path | None = None


async def serve(
    settings: WebSettings,
    snapshot: Snapshot,
    *,
    acknowledge: Acknowledge | None = None,
    desks: Desks | None = None,
    ready: Callable[[str], None] | None = None,
) -> None:
    """Serve until cancelled; then stop within about ``SHUTDOWN_S``.

    ``snapshot`` is called for each answer and must not block. ``acknowledge`` takes the key of an
    alert that a person has seen, and says whether there is one. ``desks`` serve the rest of what
    the page is for. ``ready`` is called with the page's
    address once it can be opened. Raises ``ConfigurationError`` where the port cannot be had.
    """
    app = make_app(snapshot, settings, acknowledge, desks)
    made = runner(app, shutdown_s=SHUTDOWN_S)
    tls = _tls(settings)
    try:
        async with listening(made, settings.host, settings.port, tls) as (host, port):
            address = _address(host, port, secure=tls is not None)
            log.info("status page at %s", address)
            if ready is not None:
                ready(address)
            await app[_STREAM].run()
    except OSError as error:
        raise ConfigurationError(_port_trouble(settings, error)) from error


def make_app(
    snapshot: Snapshot,
    settings: WebSettings | None = None,
    acknowledge: Acknowledge | None = None,
    desks: Desks | None = None,
) -> web.Application:
    """The application without a socket."""
    settings, desks = settings or WebSettings(), desks or Desks()
    door = Door(settings.access, time.monotonic)
    positions = Positions(lambda: snapshot().now_utc)

    def with_phones() -> StationSnapshot:
        now = snapshot()
        return replace(
            now,
            vehicles=(
                *now.vehicles,
                *(vehicle(fix, now.payloads) for fix in positions.fixes()),
            ),
        )

    # Where tokens are asked for, a proxy may pass on whatever name it is called by.
    here = [only_this_machine] if is_loopback(settings.host) and door.open else []
    app = web.Application(
        middlewares=[*here, guarded(door)], client_max_size=LARGEST_REQUEST_BYTES, logger=log
    )
    app[_SNAPSHOT] = with_phones
    app[_STREAM] = stream = Stream(with_phones, door.still)
    app[_PAGES] = load_pages()
    routes = Routes(app)
    Login(
        door, app[_PAGES], lambda: snapshot().station, secure=settings.certificate is not None
    ).add_to(routes)
    app.on_response_prepare.append(hardened(desks.maps.origin))
    routes.add("GET", "/", _page)
    routes.add("GET", "/static/{name}", _static)
    routes.add("GET", "/api/state", _state)
    routes.add("GET", "/api/health", _health)
    routes.add("GET", "/api/speed-ratios", _speed_ratios)
    routes.add("GET", "/healthz", _alive)
    routes.add("GET", "/metrics", _metrics)
    if acknowledge is not None:
        Actions(acknowledge).add_to(routes)
    stream.add_to(routes)
    positions.add_to(routes)
    PhonePages(desks.phones).add_to(routes)
    Shares(door, app[_PAGES], desks.shares, secure=settings.certificate is not None).add_to(routes)
    maps = Maps(desks.maps, desks.heights, desks.prepared, desks.terrain_credit)
    maps.add_to(routes)
    RoadPages(maps.roads).add_to(routes)
    WorldPages(desks.towns or known_places()).add_to(routes)
    HazardPages(desks.hazards).add_to(routes)
    if desks.search is not None:
        SearchPages(desks.search, desks.hazards, desks.contact).add_to(routes)
    if desks.sightings is not None:
        SightingPages(desks.sightings).add_to(routes)
    if desks.reports is not None:
        ReportPages(desks.reports).add_to(routes)
    else:
        routes.add("GET", "/api/report", _no_report)
    if desks.telemetry is not None:
        TelemetryPages(desks.telemetry).add_to(routes)
    if desks.rehearsal is not None:
        RehearsalPages(desks.rehearsal).add_to(routes)
    InstalledApp(app[_PAGES]).add_to(routes)
    Description().add_to(routes)
    routes.close()
    return app


async def _page(request: web.Request) -> web.Response:
    html = shell_html(request.app[_PAGES], request.app[_SNAPSHOT]())
    answer = web.Response(text=html, content_type="text/html")
    answer.enable_compression()
    return answer


async def _static(request: web.Request) -> web.Response:
    file = request.app[_PAGES].static.get(request.match_info["name"])
    if file is None:
        raise web.HTTPNotFound
    return answered(request, file)


async def _state(request: web.Request) -> web.Response:
    return _json(state_json(request.app[_SNAPSHOT]()))


async def _health(request: web.Request) -> web.Response:
    return _json(health_json(request.app[_SNAPSHOT]()))


async def _speed_ratios(_request: web.Request) -> web.Response:
    """By how much faster than at sea level the same thing falls, at each km of height: the root of
    the ratio of densities, in the standard atmosphere."""
    air = density(1_000.0 * np.arange(46))
    return web.json_response(np.round(np.sqrt(air[0] / air), 3).tolist())


async def _no_report(_request: web.Request) -> web.Response:
    """Nothing here makes reports; the page asks all the same."""
    return web.Response(status=204)


async def _alive(request: web.Request) -> web.Response:
    """Whether it works, for a program that restarts what does not: the pipeline moves."""
    still_s = request.app[_SNAPSHOT]().still_s
    if still_s > STALLED_S:
        text = f"the pipeline has not moved for {still_s:.0f} s\n"
        return web.Response(status=503, text=text)
    return web.Response(text="ok\n")


async def _metrics(request: web.Request) -> web.Response:
    text = metrics_text(request.app[_SNAPSHOT]())
    return web.Response(text=text, headers={hdrs.CONTENT_TYPE: CONTENT_TYPE})


def _json(record: JsonObject) -> web.Response:
    answer = web.Response(text=line(record), content_type="application/json")
    answer.enable_compression()
    return answer


def _tls(settings: WebSettings) -> ssl.SSLContext | None:
    if settings.certificate is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(settings.certificate, settings.key)
    except (OSError, ssl.SSLError) as error:
        raise ConfigurationError(
            f"web.certificate and web.key can't be used ({error}); give a certificate chain and "
            "its key as PEM files that the station may read"
        ) from error
    return context


def _address(host: str, port: int, *, secure: bool) -> str:
    scheme = "https" if secure else "http"
    return f"{scheme}://[{host}]:{port}/" if ":" in host else f"{scheme}://{host}:{port}/"


def _port_trouble(settings: WebSettings, error: OSError) -> str:
    where = f"{settings.host}:{settings.port}"
    match error.errno:
        case errno.EADDRINUSE:
            return f"web.port: {where} is in use, perhaps by another station; give another port"
        case errno.EACCES:
            return f"web.port: {where} is reserved to root; give a port from 1024 up"
        case _:
            return f"web.host, web.port: cannot listen on {where}: {error.strerror or error}"
