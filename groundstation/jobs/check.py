"""What the check command tries, and how it says what it saw."""

import asyncio
import os
import shutil
import socket
import tempfile
import time
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Final

from groundstation.alerts.targets import build_targets
from groundstation.clock import SystemClock
from groundstation.config import AnyTargetSettings, PayloadSettings, StationSettings, load
from groundstation.errors import GroundstationError
from groundstation.flight.alert_records import Alert, AlertKey, Message, StationNotice
from groundstation.flight.roster import plain_id
from groundstation.geo.hazards import read_hazards
from groundstation.geo.keep_outs import read_keep_outs
from groundstation.jsonout import iso_utc
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import expected
from groundstation.publish.friends_publisher import tried
from groundstation.records import AlertKind, Phase
from groundstation.sources.build import SourceSettings
from groundstation.sources.probe import probe
from groundstation.station.station import open_desk
from groundstation.web.settings import WebSettings

LEAST_FREE_BYTES: Final = 200_000_000
"""Room for a season of flights with all their packets, and for the system beside; our choice."""

SEND_S: Final = 90.0
"""Longer than a target's own limit for one attempt."""

EARLIEST_UTC: Final = 1_767_225_600.0
"""2026-01-01: the program is younger, so a clock before it is wrong."""


# Own choice: without a plan falls differ by a third (study of real flights).
HARDLY_KNOWN: Final = 0.2
WITHOUT_RATE: Final = (
    "landing estimates from above 5 km are then a quarter further off than with one that is right "
    "to a tenth: weigh what comes down, and give its parachute in a flight file"
)
"""16 recorded flights: the error is 0.73, 0.87 and 0.77 times as large with a rate that is right to
10 % at a fix each 10, 60 and 300 s; at 20 % most of that is gone."""


class _FailureError(Exception):
    """A check that did not pass, in words for the person."""


class Findings:
    """Writes a line for each check, and remembers whether all passed."""

    def __init__(self, say: Callable[[str], object]) -> None:
        self.passed = True
        self._say = say

    def good(self, what: str, seen: str) -> None:
        self._say(f"ok    {what}: {seen}")

    def bad(self, what: str, seen: str) -> None:
        self.passed = False
        self._say(f"FAIL  {what}: {seen}")

    def run(self, what: str, look: Callable[[], str]) -> None:
        try:
            self.good(what, look())
        except (_FailureError, GroundstationError) as error:
            self.bad(what, str(error))


def check_all(
    config: Path | None,
    env: Mapping[str, str],
    *,
    send: bool,
    wait_s: float,
    say: Callable[[str], object],
) -> bool:
    """Try everything, and return whether all passed.

    Raises ``ConfigurationError`` where the configuration cannot be read: there is nothing more
    to try then.
    """
    settings = load(config, env)
    report = Findings(say)
    try:
        report.good("configuration", _summary(settings))
        report.run("disk", lambda: look_at_disk(settings.station.data_dir))
        report.run("clock", look_at_clock)
        report.run("page", lambda: look_at_port(settings.web))
        report.run("map", lambda: look_at_map(settings))
        for payload in settings.payload:
            report.run(f"plan of {payload.name}", partial(look_at_plan, payload))
        asyncio.run(_try_all(settings, report, send=send, wait_s=wait_s))
    finally:
        if config is None:
            shutil.rmtree(settings.station.data_dir, ignore_errors=True)
    return report.passed


def look_at_disk(folder: Path) -> str:
    """Write where the data will be, or in the nearest folder above it that is there."""
    there = next((parent for parent in (folder, *folder.parents) if parent.is_dir()), Path("/"))
    try:
        with tempfile.TemporaryFile(dir=there) as file:
            began = time.monotonic()
            file.write(bytes(4096))
            file.flush()
            os.fsync(file.fileno())
            took_ms = 1000.0 * (time.monotonic() - began)
        free = shutil.disk_usage(there).free
    except OSError as error:
        raise _FailureError(f"{there} can't be written to: {error.strerror}") from error
    if free < LEAST_FREE_BYTES:
        raise _FailureError(f"{there} has only {free / 1e6:.0f} MB left; make room")
    note = "" if there == folder else f"; {folder} will be made"
    return f"{there} has {free / 1e9:.1f} GB left, a write took {took_ms:.0f} ms{note}"


def look_at_clock() -> str:
    """Whether the system's clock can be right, and whether something keeps it so."""
    now = time.time()
    if now < EARLIEST_UTC:
        raise _FailureError(f"it is {iso_utc(now)} here, which can't be; set the clock")
    kept = "synchronised" if SystemClock().is_kept() else "not known to be synchronised"
    return f"{iso_utc(now)}, {kept}"


def look_at_port(settings: WebSettings) -> str:
    """Whether the page can be served."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    address = f"{settings.host}:{settings.port}"
    with socket.socket(family, socket.SOCK_STREAM) as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((settings.host.strip("[]"), settings.port))
        except OSError as error:
            raise _FailureError(
                f"{address} is not to be had ({error.strerror}); is a station running already? "
                "Otherwise set another web.port"
            ) from error
    return f"{address} is free"


def look_at_map(settings: StationSettings) -> str:
    """Whether the files of the map, and the areas to keep out of, can be read."""
    found = []
    folder = settings.map.folder
    if folder is not None:
        if not folder.is_dir():
            raise _FailureError(f"{folder} is not there; make it, or leave map.folder out")
        maps = [path.name for path in folder.iterdir() if path.suffix in (".pmtiles", ".mbtiles")]
        found.append(f"{len(maps)} map files in {folder}")
    if settings.map.tiles:
        found.append(f"tiles from {settings.map.origin}")
    if settings.map.hazards is not None:
        found.append(f"{len(read_hazards(settings.map.hazards))} hazards")
    if settings.landing.keep_out is not None:
        found.append(read_keep_outs(settings.landing.keep_out).summary)
    return ", ".join(found) or "none is given: the page shows a net of degrees"


def look_at_plan(payload: PayloadSettings) -> str:
    """Whether the descent rate is planned, and what it costs where it is not."""
    plan = payload.plan if payload.flight is None else expected(read_flight(payload.flight))
    rate = plan.descent_rate_ms
    if rate is None:
        return f"no descent rate; {WITHOUT_RATE}"
    share = plan.descent_rate_sd_ms / rate
    words = f"falls at {rate:.1f} m/s near the ground, known to {100.0 * share:.0f} %"
    return words if share <= HARDLY_KNOWN else f"{words}, which helps little; {WITHOUT_RATE}"


async def _try_all(
    settings: StationSettings, report: Findings, *, send: bool, wait_s: float
) -> None:
    names = {plain_id(tracker.id) for payload in settings.payload for tracker in payload.tracker}
    names |= {plain_id(tracker) for vehicle in settings.vehicle for tracker in vehicle.tracker}
    for source in settings.source:
        await _try_source(source, report, wait_s, names)
    if not settings.target and settings.phones is None:
        report.bad("alerts", "there is no [[target]], so nobody would be told; add one")
    for target in settings.target:
        if send:
            await try_target(target, settings.station.name, report)
        else:
            report.good(f"target {target.name}", "not tried, because of --no-send")
    if settings.phones is not None and send:
        await try_phones(settings, report)
    if settings.friends is not None and send:
        title = settings.friends.title or settings.station.name
        try:
            report.good("page for friends", await tried(settings.friends, title))
        except GroundstationError as error:
            report.bad("page for friends", str(error))


async def _try_source(
    settings: SourceSettings, report: Findings, wait_s: float, names: Collection[str]
) -> None:
    what = f"source {settings.name}"
    try:
        seen = await probe(
            settings, SystemClock(), wait_s, lambda tracker: plain_id(tracker) in names
        )
        report.good(what, seen)
    except GroundstationError as error:
        report.bad(what, str(error))


async def try_target(
    settings: AnyTargetSettings, station: str, report: Findings, by: str = "groundstation check"
) -> None:
    """Send a test to one target."""
    what = f"target {settings.name}"
    try:
        [target] = await build_targets([settings])
        await asyncio.wait_for(target.deliver(_message(station, by)), SEND_S)
    except TimeoutError:
        report.bad(what, f"no answer in {SEND_S:.0f} s")
    except GroundstationError as error:
        report.bad(what, str(error))
    else:
        report.good(what, "it took a test message; see that it arrived")


async def try_phones(
    settings: StationSettings, report: Findings, by: str = "groundstation check"
) -> None:
    """Send a test to each phone that asked on the page to be told."""
    assert settings.phones is not None
    try:
        desk = await asyncio.to_thread(open_desk, settings)
    except (GroundstationError, OSError) as error:
        report.bad("phones", str(error))
        return
    targets = () if desk is None else desk.targets()
    if not targets:
        report.good("phones", "none has asked on the page to be told yet")
    for target in targets:
        try:
            await asyncio.wait_for(target.deliver(_message(settings.station.name, by)), SEND_S)
        except TimeoutError:
            report.bad(target.name, f"no answer in {SEND_S:.0f} s")
        except GroundstationError as error:
            report.bad(target.name, str(error))
        else:
            report.good(target.name, "its push service took a test message; see that it arrived")


def _message(station: str, by: str) -> Message:
    now = time.time()
    more = f"Sent by {by} at {iso_utc(now)}. Nothing has happened."
    alert = Alert(
        key=AlertKey(
            payload=station, begun_utc=None, kind=AlertKind.STATION, occasion=f"check, {now:.0f}"
        ),
        time_utc=now,
        phase=Phase.PRELAUNCH,
        facts=StationNotice(what="a test", more=more),
    )
    return Message(alert=alert, title=f"{station}: a test", body=more)


def _summary(settings: StationSettings) -> str:
    return ", ".join(
        f"{len(names)} {what}{'' if len(names) == 1 else 's'} ({', '.join(names)})"
        for what, names in _named(settings)
        if names
    )


def _named(settings: StationSettings) -> Iterator[tuple[str, list[str]]]:
    yield "payload", [payload.name for payload in settings.payload]
    yield "source", [source.name for source in settings.source]
    yield "target", [target.name for target in settings.target]
