"""Why something failed is said in the station's language on the page, and in English in the log."""

import asyncio
import logging

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.errors import GroundstationError, SourceError, Words
from groundstation.language.catalogue import said, speaking
from groundstation.sources.health import HealthRecorder
from groundstation.sources.supervisor import BackoffSettings, supervise
from groundstation.sources.tcp_lines import TcpSettings, TcpSource
from tests.support.keeper import Keeper, until


async def test_a_source_that_fails_says_why_in_the_stations_language(
    caplog: pytest.LogCaptureFixture,
) -> None:
    # A command that ran in this process may have set the log to errors.
    caplog.set_level(logging.WARNING)
    server = await asyncio.start_server(lambda _reader, _writer: None, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    server.close()
    await server.wait_closed()
    settings = TcpSettings(name="torony", host="127.0.0.1", port=port, decoder=AprsSettings())
    health = HealthRecorder("torony", "tcp", SystemClock())
    with speaking("hu"):
        source = TcpSource(settings, SystemClock())
        task = asyncio.create_task(supervise(source, Keeper(), health, BackoffSettings()))
    await until(lambda: bool(health.snapshot().last_error))
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert health.snapshot().last_error.startswith(f"127.0.0.1:{port}: nem érhető el (")
    assert f"127.0.0.1:{port} can't be reached (" in caplog.text


def test_a_reason_within_a_reason_is_said_in_the_same_language() -> None:
    where = Words("MQTT broker {server}", server="h:1883")
    error = SourceError("{where} does not answer; {hint}", where=where, hint=Words("bye {x}"))
    assert str(error) == "MQTT broker h:1883 does not answer; bye {x}"
    with speaking("hu"):
        assert said(error.words) == "MQTT-bróker, h:1883: nem válaszol; bye {x}"


def test_braces_in_what_others_said_stay_as_they_are() -> None:
    assert str(GroundstationError("it says {this}")) == "it says {this}"
    error = SourceError("{program} ended with {code}: {said}", program="x", code=1, said="{oops}")
    assert str(error) == "x ended with 1: {oops}"
    assert said(error.words) == str(error)
    assert said(GroundstationError().words) == ""
