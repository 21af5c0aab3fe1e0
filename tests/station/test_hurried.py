"""The bundled rehearsal in the whole daemon, hurried, tells what a replay of it tells, also on a
machine that hesitates."""

import asyncio
import json
import os
import signal
from pathlib import Path
from typing import Any

import pytest

from groundstation.jobs.replay import play
from groundstation.recordings.read_any import read_recording
from tests.support.live_station import LiveStation

SPEED = 1_000.0
REHEARSAL = Path(__file__).resolve().parents[2] / "groundstation" / "resources" / "rehearsal.txt"
CONFIGURATION = f"""
[base]
latitude_deg = 47.10
longitude_deg = 20.30
altitude_m = 85.0
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
interval_s = 30.0
[[source]]
name = "rehearsal"
kind = "recording"
path = "{REHEARSAL}"
decoder.kind = "aprs"
"""

pytestmark = [pytest.mark.live, pytest.mark.slow, pytest.mark.asyncio, pytest.mark.timeout(600)]


async def test_it_tells_the_same_in_the_same_order_with_the_times_of_life(tmp_path: Path) -> None:
    begun = read_recording(REHEARSAL).frames[0].received_utc
    station = LiveStation(tmp_path, CONFIGURATION, SPEED)
    told: list[dict[str, Any]] = []
    try:
        await station.start(begun - 60.0)
        assert station.pid is not None
        while not any(one["kind"] == "landed" for one in told):
            # For so long, at this pace, that a silence would be told if packets were late by it.
            os.kill(station.pid, signal.SIGSTOP)
            await asyncio.sleep(0.3)
            os.kill(station.pid, signal.SIGCONT)
            await asyncio.sleep(0.3)
            state = await station.state()
            told = [] if state is None else list(reversed(state["messages"]))
        assert await station.stop() == 0, station.log
    finally:
        await station.kill()
    hurried = [one for one in told if one["kind"] != "station"]
    replayed = await asyncio.to_thread(_replayed, tmp_path / "station.toml")
    titles = [one["title"].removeprefix("Rehearsal: ") for one in hurried]
    assert titles == [one["title"] for one in replayed]
    assert len(titles) >= 5
    for mine, its in zip(hurried, replayed, strict=True):
        assert mine["time"][:19] == its["time"][:19]
        assert mine["body"].partition("\n")[0] == its["instruction"]


def _replayed(config: Path) -> list[dict[str, Any]]:
    lines = (json.loads(text) for _, text in play(REHEARSAL, config, as_lines=True))
    return [one for one in lines if one["kind"] == "alert"]
