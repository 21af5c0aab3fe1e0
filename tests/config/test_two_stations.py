"""The example of two stations runs as it stands, over a broker on its usual port or another."""

import asyncio
import os
import sys
from pathlib import Path

import pytest

from tests.support.keeper import WAIT_S
from tests.support.mosquitto import Mosquitto, free_port

pytestmark = pytest.mark.live

FOLDER = Path(__file__).resolve().parents[2] / "config" / "two-stations"
START = "2026-05-16T08:20:00Z"


async def test_the_base_hears_what_the_receiver_hears(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "broker") as broker:
        running = []
        for name in ("receiver", "base"):
            text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
            # Ports of their own, so that nothing else on this machine is disturbed.
            text = text.replace('host = "127.0.0.1"', f'host = "127.0.0.1"\nport = {broker.port}')
            text = text.replace("port = 8081", f"port = {free_port()}")
            text = text.replace("port = 8080", f"port = {free_port()}")
            (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
            running.append(
                await asyncio.create_subprocess_exec(
                    sys.executable, "-m", "groundstation", "run",
                    "--config", str(tmp_path / f"{name}.toml"), "--as-if", START,
                    "--speed", "300",
                    stdout=asyncio.subprocess.PIPE,
                    stderr=asyncio.subprocess.DEVNULL,
                    env={**os.environ, "PYTHONUNBUFFERED": "1"},
                )
            )  # fmt: skip
        try:
            told = running[1].stdout
            assert told is not None
            async with asyncio.timeout(WAIT_S):
                first = await told.readline()
            assert first.decode().startswith("Rehearsal: kanalas-1: launched")
        finally:
            for one in running:
                one.kill()
                await one.wait()
