"""A whole station that tells a phone by web push, in Hungarian, and writes the page for friends."""

import asyncio
import json
import re
from pathlib import Path

import aiohttp
import pytest

from groundstation.config import load
from groundstation.jobs.run import choose_clock, in_private
from groundstation.language.catalogue import speak
from groundstation.publish.friends import PAGE, STATE
from groundstation.station.station import run_station
from groundstation.web.door import new_token
from tests.support.configurations import REHEARSAL
from tests.support.keeper import until
from tests.support.push_service import PushService

TOKEN, HASHED = new_token()
CONFIG = f"""
[station]
name = "Pusztaszél"
data_dir = "data"
{REHEARSAL}[phones]
contact = "mailto:kanalas@example.net"
ca_file = "push-service.pem"
[friends]
folder = "friends"
delay_s = 0.0
[web]
port = 0
[[web.access]]
name = "phone"
token_hash = "{HASHED}"
"""


@pytest.mark.live
async def test_a_phone_is_told_of_the_launch_and_friends_see_it(tmp_path: Path) -> None:
    config = tmp_path / "station.toml"
    config.write_text(CONFIG)
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    async with PushService(tmp_path) as service:
        settings = load(config, {})
        handset = service.handset()
        clock = choose_clock(settings, None, 1_000.0)
        try:
            speak("hu")
            station = asyncio.create_task(run_station(settings, clock, ready=ready.set_result))
            address = await ready
            headers = {"Authorization": f"Bearer {TOKEN}"}
            async with aiohttp.ClientSession(address, headers=headers) as client:
                async with client.get("/api/phones") as answer:
                    told = await answer.json()
                    assert re.fullmatch(r"[A-Za-z0-9_-]{87}", told["key"])
                async with client.post("/api/phones", json={"name": "Anna", **handset.given}) as it:
                    assert await it.json() == {"name": "phone Anna", "trouble": ""}
                await until(lambda: "Próba: kanalas-1: felszállt" in handset.titles)
                # A proxy before it may call it by the name that phones know.
                host = {"Host": "station.example.net"}
                async with client.get("/api/state", headers=host) as answer:
                    assert answer.status == 200
                async with client.get(
                    "/api/state", headers={**host, "Authorization": "Bearer wrong"}
                ) as answer:
                    assert answer.status == 401
            state = tmp_path / "friends" / STATE
            assert '<html lang="hu">' in (tmp_path / "friends" / PAGE).read_text()
            assert json.loads(state.read_text())["rehearsal"] is True
        finally:
            speak("en")
            station.cancel()
            await asyncio.gather(station, return_exceptions=True)
    # A rehearsal that is not told to tells nobody.
    alone = in_private(settings)
    assert (alone.phones, alone.friends) == (None, None)
