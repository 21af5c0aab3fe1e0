"""A running station asks for a new forecast: when it may, and only then."""

import asyncio
import logging
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation import config
from groundstation.clock import SystemClock
from groundstation.flight.flights import Flights
from groundstation.station.forecast_keeper import ForecastKeeper
from tests.prepare.test_prepare import PREPARED, ROOT
from tests.support.configurations import PLANNED
from tests.support.keeper import until
from tests.support.open_services import Services, serving


def station(services: Services, folder: Path, launch: str) -> config.StationSettings:
    flight = (ROOT / "config" / "flight.toml").read_text(encoding="utf-8")
    lines = [
        f'launch = "{launch}"' if one.startswith("launch =") else one for one in flight.splitlines()
    ]
    (folder / "flight.toml").write_text("\n".join(lines), encoding="utf-8")
    path = folder / "station.toml"
    text = PLANNED + PREPARED.format(address=services.address) + 'forecast_every_s = "1 h"\n'
    path.write_text(text, encoding="utf-8")
    return config.load(path, {})


async def test_the_flights_get_the_newest_winds_with_their_run(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    with serving(Services()) as services:
        soon = SystemClock().now_utc() + 3_600.0
        settings = station(services, tmp_path, _iso(soon))
        flights = Flights(config.flight_settings(settings, soon))
        assert flights.settings("kanalas-1").aloft is None
        told: list[str] = []
        keeper = ForecastKeeper(settings, flights, SystemClock(), told.append)
        task = asyncio.create_task(keeper.run())
        await until(lambda: flights.settings("kanalas-1").aloft is not None)
        aloft = flights.settings("kanalas-1").aloft
        assert aloft is not None
        assert "run of 2026-05-16 00:00 UTC" in aloft.name
        # The middle of the region is met at the launch: 5 m/s and the hour's and the place's share.
        assert aloft.u_ms[10] > 0.0
        assert aloft.fall is not None
        # Not asked again before the hour is over, and a failure leaves what there is.
        assert sum("/v1/forecast" in one for one in services.asked) == 1
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    await keeper.refresh()
    assert flights.settings("kanalas-1").aloft is aloft
    assert "no new forecast" in caplog.text
    assert told[0] == ""
    assert told[1].startswith("There is no new forecast of the winds: ")


async def test_nobody_is_asked_where_nothing_flies_or_it_was_not_allowed(tmp_path: Path) -> None:
    with serving(Services()) as services:
        far = SystemClock().now_utc() + 3 * 86_400.0
        settings = station(services, tmp_path, _iso(far))
        flights = Flights(config.flight_settings(settings, far))
        task = asyncio.create_task(ForecastKeeper(settings, flights, SystemClock()).run())
        for _ in range(20):
            await asyncio.sleep(0)
        assert not task.done()
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        never = replace(settings, prepare=replace(settings.prepare, forecast_every_s=None))
        await ForecastKeeper(never, flights, SystemClock()).run()
        assert services.asked == []


def _iso(time_utc: float) -> str:
    from groundstation.jsonout import iso_utc  # noqa: PLC0415

    return iso_utc(round(time_utc)) or ""
