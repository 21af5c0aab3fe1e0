"""The view in a terminal, of a real station; and the lines by themselves."""

import asyncio
import os
import pty
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from groundstation.flight.sighting_kinds import SightingKind, sighting_of
from groundstation.jobs.watch import screen
from groundstation.web.payload_snapshot import IfLaunchedSnapshot
from groundstation.web.sighting_records import SightingTold
from groundstation.web.state_api import state_json
from tests.support.configurations import REHEARSAL
from tests.support.live_station import LiveStation
from tests.support.web_scenario import FALLING, NOTHING_HEARD, NOW_UTC, STATION, landing

pytestmark = pytest.mark.live

LAUNCH = 1_778_920_200.0


async def watched(*words: str) -> tuple[int, str]:
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "groundstation", "watch", *words,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
    )  # fmt: skip
    said, _ = await process.communicate()
    assert process.returncode is not None
    return process.returncode, said.decode()


async def test_a_running_station_is_shown_once_and_again(tmp_path: Path) -> None:
    station = LiveStation(tmp_path, REHEARSAL, 200.0)
    await station.start(LAUNCH)
    try:
        await station.until(lambda told: told["payloads"][0]["landing"] is not None)
        code, said = await watched("--address", station.address)
        assert code == 0
        for line in (
            r"kanalas-1  ▲ ascending  [\d.,]+ k?m, [\d.]+ m/s",
            r"  lands    in .+ \(90 %: ",
            r"REHEARSAL, 200 times real time",
            r"source recorded: running",
        ):
            assert re.search(line, said), said
        # In a terminal it goes on, drawing over what was there.
        ours, theirs = pty.openpty()
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "groundstation", "watch", "--address", station.address,
            stdout=theirs, stderr=theirs,
        )  # fmt: skip
        shown = await asyncio.to_thread(os.read, ours, 65_536)
        await station.kill()
        later = b""
        while b"OLD: no answer for" not in later:
            later += await asyncio.to_thread(os.read, ours, 65_536)
        process.terminate()
        await process.wait()
        os.close(theirs)
        os.close(ours)
        assert shown.startswith(b"\x1b[H")
    finally:
        await station.kill()
    code, said = await watched("--address", station.address)
    assert code == 1
    assert "no station answers at" in said


def test_what_comes_from_outside_can_not_write_on_the_terminal() -> None:
    hostile = replace(STATION, payloads=(replace(FALLING, payload="\x1b]0;x\x07\u202e"),))
    lines = screen(state_json(hostile), 0.0, "")
    assert not any("\x1b" in line or "\u202e" in line or "\x07" in line for line in lines)
    assert any(line.startswith("\\x1b") for line in lines)


def test_age_goes_on_without_an_answer() -> None:
    lines = screen(state_json(STATION), 100.0, "gone")
    assert "  heard    2 min ago by mast" in lines
    assert "  is at    47.21346, 20.65432, 29.7 km ENE of base" in lines
    assert any(line.startswith("OLD: no answer for 2 min. gone") for line in lines)


def test_what_was_seen_and_what_would_be_stand_there() -> None:
    burst = sighting_of(
        SightingKind.BURST, {}, at_utc=NOW_UTC - 60.0, told_utc=NOW_UTC, number=7, who="Anna"
    )
    seen = replace(FALLING, sightings=(SightingTold.of(burst),))
    lines = screen(state_json(replace(STATION, payloads=(seen,))), 0.0, "")
    assert "  told     11:29 burst seen or heard, Anna (number 7)" in lines
    would = IfLaunchedSnapshot(launch_utc=NOW_UTC + 1_800.0, landing=landing())
    waiting = replace(NOTHING_HEARD, if_launched=would)
    lines = screen(state_json(replace(STATION, payloads=(waiting,))), 0.0, "")
    [line] = [one for one in lines if "if launched" in one]
    assert line.startswith("  if launched at 12:00 it lands at 11:48 near 47.25432, 20.81235")
    assert line.endswith("within 2.9 km (90 %)")
