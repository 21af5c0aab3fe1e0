"""The API held against its own description by schemathesis, which makes up what fits it and what
does not: every answer is one that is described, and none is a fault of ours."""

import asyncio
import os
import sys
from pathlib import Path

import pytest

from tests.support.live_station import LiveStation

pytestmark = pytest.mark.live

CONFIGURATION = """
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = 9
[source.decoder]
kind = "aprs"
"""
EXAMPLES = 25


async def test_every_answer_is_as_described(tmp_path: Path) -> None:
    station = LiveStation(tmp_path, CONFIGURATION, 1.0)
    await station.start(1_778_920_200.0)
    try:
        process = await asyncio.create_subprocess_exec(
            Path(sys.executable).with_name("schemathesis"), "run",
            f"{station.address}/api/description", "--url", station.address,
            "--checks", "not_a_server_error,status_code_conformance,content_type_conformance,"
            "response_schema_conformance,negative_data_rejection,unsupported_method",
            "--max-examples", str(EXAMPLES), "--seed", "1", "--no-color",
            "--generation-database", "none",
            stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
            cwd=tmp_path, env={**os.environ, "HYPOTHESIS_STORAGE_DIRECTORY": str(tmp_path)},
        )  # fmt: skip
        said, _ = await process.communicate()
        assert process.returncode == 0, said.decode()
        assert b"Tested: 25" in said, said.decode()
        assert await station.state() is not None
        assert "Traceback" not in station.log
    finally:
        await station.kill()
