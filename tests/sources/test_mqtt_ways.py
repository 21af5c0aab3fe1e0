"""Other ways to a real Mosquitto: certificates, a WebSocket, trackers named by their topics."""

from pathlib import Path
from typing import Any

import aiomqtt
import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.build import build_decoder
from groundstation.decoders.carried import decoded
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Report
from groundstation.sources.mqtt import MqttSettings, MqttSource
from tests.sources.test_mqtt import (
    TOPIC,
    Keeper,
    broker,
    listening,
    publish,
    recorder,
    settings,
)
from tests.support.keeper import until
from tests.support.mosquitto import Mosquitto

__all__ = ["broker"]

pytestmark = pytest.mark.live


async def test_a_client_certificate_is_asked_for_and_given(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "strict", tls=True, client_certificates=True) as broker:
        keeper = Keeper()
        files: dict[str, Any] = {"cert_file": broker.client_cert, "key_file": broker.client_key}
        whole = settings(broker, tls=True, ca_file=broker.ca_file, **files)
        async with listening(whole, keeper) as task:
            assert not task.done()
        without = settings(broker, tls=True, ca_file=broker.ca_file)
        with pytest.raises(SourceError, match="cert_file"):
            await MqttSource(without, SystemClock()).run(keeper, recorder())
        wrong = settings(broker, tls=True, ca_file=broker.ca_file, cert_file=broker.client_cert)
        with pytest.raises(SourceError, match="no certificate with its key"):
            await MqttSource(wrong, SystemClock()).run(keeper, recorder())


async def test_by_a_websocket(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "web", websockets=True) as broker:
        keeper = Keeper()
        async with listening(settings(broker, transport="websockets"), keeper):
            async with aiomqtt.Client(
                "127.0.0.1", broker.port, transport="websockets", websocket_path="/mqtt"
            ) as client:
                await client.publish(TOPIC, b"by the web", qos=1)
            await until(lambda: bool(keeper.frames))
        assert keeper.texts == ["by the web"]


async def test_the_topic_names_the_tracker(broker: Mosquitto) -> None:
    keeper = Keeper()
    chosen = settings(
        broker,
        topics=("club/+/position",),
        topic_tracker=2,
        decoder=JsonSettings(fields={"lat": "lat", "lon": "lon"}),
    )
    async with listening(chosen, keeper):
        await publish(broker, [b'{"lat": 47.1, "lon": 20.3}'], "club/Q0HAB-12/position")
        await until(lambda: bool(keeper.frames))
    assert keeper.frames[0].sender == "Q0HAB-12"
    (read,) = decoded(build_decoder(chosen.decoder), keeper.frames[0])
    assert isinstance(read, Report)
    assert read.tracker == "Q0HAB-12"


@pytest.mark.parametrize(
    ("host", "says"),
    [
        ("wss://broker.example.net:443/mqtt", "host = 'broker.example.net' and transport"),
        ("mqtts://broker.example.net", "tls = true"),
    ],
)
def test_an_address_as_host_is_told_apart(host: str, says: str) -> None:
    chosen = MqttSettings(name="b", host=host, topics=("a",), decoder=JsonSettings())
    with pytest.raises(ConfigurationError, match=says):
        MqttSource(chosen, SystemClock())
