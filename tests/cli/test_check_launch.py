"""Ready for the launch or not, as a running station tells it."""

import asyncio
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.jobs.check_launch import _looked_at
from groundstation.records import Phase
from groundstation.web.payload_snapshot import TrackerSnapshot
from groundstation.web.snapshot import TargetSnapshot
from groundstation.web.state_api import state_json
from tests.support.configurations import REHEARSAL
from tests.support.live_station import LiveStation
from tests.support.web_scenario import FALLING, NOW_UTC, STATION

pytestmark = pytest.mark.live


async def test_a_station_that_heard_nothing_is_not_ready(tmp_path: Path) -> None:
    station = LiveStation(tmp_path, REHEARSAL, 1.0)
    await station.start(1_778_900_000.0)
    try:
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "groundstation", "check", "--launch",
            "--address", station.address, stdout=asyncio.subprocess.PIPE,
        )  # fmt: skip
        said, _ = await process.communicate()
    finally:
        await station.kill()
    assert process.returncode == 1
    text = said.decode()
    assert "FAIL  tracker Q0HAB-11: never heard by this station" in text
    assert "FAIL  station: this is a rehearsal" in text
    assert "FAIL  alerts: nobody is told" in text
    assert text.count("look  ") == 5


def test_all_well_is_told_as_well() -> None:
    ready = replace(
        STATION,
        payloads=(
            replace(
                FALLING,
                phase=Phase.PRELAUNCH,
                trackers=(TrackerSnapshot(id="Q0HAB-11", received_utc=NOW_UTC - 20.0),),
            ),
        ),
        targets=(TargetSnapshot(name="phone", delivered=1),),
        problems=(),
    )
    found = list(_looked_at(state_json(ready)))
    assert all(good for good, _, _ in found)
    assert (True, "tracker Q0HAB-11", "heard 20 s ago") in found
    assert any(what.startswith("battery") for _, what, _ in found)
    silent = replace(
        ready.payloads[0], trackers=(TrackerSnapshot(id="x", received_utc=NOW_UTC - 999),)
    )
    states = list(_looked_at(state_json(replace(ready, payloads=(silent,)))))
    assert (False, "tracker x", "heard 17 min ago; is it on, and does it see the sky?") in states
