"""From a packet on the wire to the alert at the target, at 50 packets a second."""

import asyncio
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from aiohttp import web

from benchmarks.figure import Figure
from benchmarks.yardstick import Yardstick
from groundstation.alerts.targets import TargetSettings
from groundstation.clock import SystemClock
from groundstation.config import PayloadSettings, StationIdentity, StationSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.time_formats import TimeFormat
from groundstation.flight.alerts import ESTIMATE_WAIT_S
from groundstation.flight.settings import TrackerSettings
from groundstation.settings.secret import Secret
from groundstation.sources.tcp_lines import TcpSettings
from groundstation.station.station import run_station
from groundstation.web.settings import WebSettings

PAYLOADS = 60
PACKETS_A_SECOND = 50.0
GOAL_S = ESTIMATE_WAIT_S + 0.1
"""A launch is told with the estimate made of its fix or, where that says nothing yet as here,
after waiting for it so long at most."""


def measure(yardstick: Yardstick) -> list[Figure]:
    delays = asyncio.run(_delays())
    yardstick.again()
    name = f"packet to alert at the target, median of {len(delays)} launches at 50 packets/s"
    return [yardstick.judged(name, statistics.median(delays), GOAL_S)]


async def _delays() -> list[float]:
    """Every packet is of another payload in turn; each payload is launched once."""
    sent: dict[str, list[float]] = {}
    told: dict[str, float] = {}

    async def take(request: web.Request) -> web.Response:
        body = await request.json()
        told.setdefault(body["title"].partition(":")[0], time.perf_counter())
        return web.Response()

    async def feed(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        begun = time.perf_counter()
        for number, (payload, line) in enumerate(_lines()):
            if len(told) == PAYLOADS:
                break
            await asyncio.sleep(max(0.0, begun + number / PACKETS_A_SECOND - time.perf_counter()))
            sent.setdefault(payload, []).append(time.perf_counter())
            writer.write(line)
            await writer.drain()
        writer.close()

    app = web.Application()
    app.router.add_post("/{path:.*}", take)
    receiver = web.AppRunner(app, access_log=None)
    await receiver.setup()
    await web.TCPSite(receiver, "127.0.0.1", 0).start()
    server = await asyncio.start_server(feed, "127.0.0.1", 0)
    with tempfile.TemporaryDirectory() as folder:
        station = asyncio.create_task(
            run_station(
                _settings(
                    Path(folder), server.sockets[0].getsockname()[1], receiver.addresses[0][1]
                ),
                SystemClock(),
            )
        )
        async with asyncio.timeout(120.0):
            while len(told) < PAYLOADS:
                await asyncio.sleep(0.1)
                if station.done():
                    station.result()
        station.cancel()
        await asyncio.gather(station, return_exceptions=True)
    server.close()
    await receiver.cleanup()
    # The alert follows from the newest packet that had gone out when it came.
    return [at - max(one for one in sent[name] if one <= at) for name, at in told.items()]


def _lines() -> Iterator[tuple[str, bytes]]:
    """Each payload climbs 100 m a packet, after some on the ground; they take off one by one."""
    begun = time.time() - 400.0
    for round_ in range(300):
        for number in range(PAYLOADS):
            at = begun + round_ * 20.0
            height = 100.0 + max(0, round_ - 3 - number % 7) * 100.0
            yield (
                f"kanalas-{number}",
                (
                    f'{{"tracker": "Q0HAB-{number}", "time": {at}, "lat": 47.1,'
                    f' "lon": {20.3 + round_ * 1e-4 + number * 0.01}, "alt_m": {height}}}\n'
                ).encode(),
            )


def _settings(folder: Path, line_port: int, target_port: int) -> StationSettings:
    return StationSettings(
        station=StationIdentity(data_dir=folder),
        payload=tuple(
            PayloadSettings(name=f"kanalas-{n}", tracker=(TrackerSettings(id=f"Q0HAB-{n}"),))
            for n in range(PAYLOADS)
        ),
        source=(
            TcpSettings(
                name="line",
                host="127.0.0.1",
                port=line_port,
                decoder=JsonSettings(time_format=TimeFormat.UNIX),
            ),
        ),
        target=(TargetSettings(name="phone", url=Secret(f"json://127.0.0.1:{target_port}/")),),
        web=WebSettings(port=0),
    )
