"""The MQTT source against a real Mosquitto: nothing acknowledged before it is stored."""

import asyncio
import contextlib
import gc
import logging
import signal
import subprocess
import sys
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import aiomqtt
import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.settings.secret import Secret
from groundstation.sources.health import HealthRecorder
from groundstation.sources.mqtt import MAX_PAYLOAD_BYTES, MqttSettings, MqttSource
from groundstation.sources.mqtt_ack import AcknowledgingClient
from tests.support.keeper import until
from tests.support.mosquitto import Mosquitto, free_port

pytestmark = pytest.mark.live

Protocol = Literal["5", "3.1.1"]
TOPIC = "kanalas-1/position"
both = pytest.mark.parametrize("protocol", ["5", "3.1.1"])

# A station that is killed at its tenth stored message; it prints what it has stored.
CRASHING = """
import asyncio, os, signal, sys
from groundstation.clock import SystemClock
from groundstation.decoders.json_map import JsonSettings
from groundstation.sources.health import HealthRecorder
from groundstation.sources.mqtt import MqttSettings, MqttSource

kept = []

async def emit(frame, stored=None):
    kept.append(frame.data.decode())
    print(kept[-1], flush=True)
    stored()
    if len(kept) == 10:
        os.kill(os.getpid(), signal.SIGKILL)

settings = MqttSettings(name="broker", host="127.0.0.1", port=int(sys.argv[1]),
                        topics=("kanalas-1/#",), decoder=JsonSettings(), protocol=sys.argv[2])
health = HealthRecorder("broker", "mqtt", SystemClock())
asyncio.run(MqttSource(settings, SystemClock()).run(emit, health))
"""


class Keeper:
    """Stands for the pipeline: keeps what comes, and says so at once or when asked to."""

    def __init__(self, *, at_once: bool = True) -> None:
        self.frames: list[Frame] = []
        self.waiting: list[Callable[[], None]] = []
        self._at_once = at_once

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        self.frames.append(frame)
        assert stored is not None
        self.waiting.append(stored)
        if self._at_once:
            self.store_all()

    def store_all(self) -> None:
        for stored in self.waiting:
            stored()
        self.waiting.clear()

    @property
    def texts(self) -> list[str]:
        return [frame.data.decode() for frame in self.frames]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


def settings(broker: Mosquitto, protocol: Protocol = "5", **changes: Any) -> MqttSettings:
    given: dict[str, Any] = {
        "name": "broker",
        "host": "127.0.0.1",
        "port": broker.port,
        "topics": ("kanalas-1/#",),
        "decoder": JsonSettings(),
        "protocol": protocol,
    }
    return MqttSettings(**(given | changes))


def recorder() -> HealthRecorder:
    return HealthRecorder("broker", "mqtt", SystemClock())


@contextlib.asynccontextmanager
async def listening(chosen: MqttSettings, keeper: Keeper) -> AsyncIterator[asyncio.Task[None]]:
    """The source, connected and subscribed, until the block ends."""
    health = recorder()
    task = asyncio.create_task(MqttSource(chosen, SystemClock()).run(keeper, health))
    try:
        await until(lambda: health.is_open or task.done())
        yield task
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError, SourceError):
            await task


async def keep_trying(chosen: MqttSettings, keeper: Keeper) -> None:
    """Stands for the supervisor, without its patience."""
    source = MqttSource(chosen, SystemClock())
    while True:
        with contextlib.suppress(SourceError):
            await source.run(keeper, recorder())
        await asyncio.sleep(0.05)


async def publish(broker: Mosquitto, payloads: list[bytes], topic: str = TOPIC) -> None:
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        for payload in payloads:
            await client.publish(topic, payload, qos=1)


def numbered(count: int) -> list[bytes]:
    return [f"{number}".encode() for number in range(count)]


@both
async def test_a_killed_station_loses_nothing(broker: Mosquitto, protocol: Protocol) -> None:
    async with listening(settings(broker, protocol), Keeper()):
        pass  # the session begins
    await publish(broker, numbered(200))
    crashed = await asyncio.to_thread(
        subprocess.run,
        [sys.executable, "-c", CRASHING, str(broker.port), protocol],
        capture_output=True,
        check=False,
    )
    before = crashed.stdout.decode().split()
    assert crashed.returncode == -signal.SIGKILL, crashed.stderr.decode()
    assert before == [f"{number}" for number in range(10)]
    after = Keeper()
    async with listening(settings(broker, protocol), after):
        await until(lambda: "199" in after.texts)
    assert {*before, *after.texts} == {f"{number}" for number in range(200)}
    assert len(before) + len(after.texts) <= 200 + 10


@both
async def test_acknowledged_only_once_stored(broker: Mosquitto, protocol: Protocol) -> None:
    unstored = Keeper(at_once=False)
    async with listening(settings(broker, protocol), unstored):
        await publish(broker, [b"first"])
        await until(lambda: unstored.texts == ["first"])
    stored = Keeper()
    async with listening(settings(broker, protocol), stored):
        await until(lambda: stored.texts == ["first"])
    unstored.store_all()  # of a connection that is gone: harmless
    last = Keeper()
    async with listening(settings(broker, protocol), last):
        await publish(broker, [b"last"])
        await until(lambda: bool(last.texts))
    assert last.texts == ["last"]


async def test_the_broker_holds_back_what_is_not_stored_yet(broker: Mosquitto) -> None:
    keeper = Keeper(at_once=False)
    async with listening(settings(broker, in_flight=5), keeper):
        await publish(broker, numbered(20))
        await until(lambda: len(keeper.frames) >= 5)
        await asyncio.sleep(0.3)
        assert keeper.texts == ["0", "1", "2", "3", "4"]
        while len(keeper.frames) < 20:
            keeper.store_all()
            await asyncio.sleep(0.01)
    assert keeper.texts == [f"{number}" for number in range(20)]


@both
@pytest.mark.parametrize("end", ["terminate", "kill"])
async def test_a_broker_restarted_under_load_loses_nothing(
    broker: Mosquitto, protocol: Protocol, end: str, caplog: pytest.LogCaptureFixture
) -> None:
    complaints: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, about: complaints.append(about))
    keeper = Keeper()
    count = 600
    sent: list[int] = []

    async def send(todo: list[int]) -> None:
        client = AcknowledgingClient(
            "127.0.0.1",
            broker.port,
            client_id="sender",
            version_5=protocol == "5",
            session_expiry_s=60,
            in_flight=20,
            username=None,
            password=None,
            tls=None,
        )
        client.timeout = 1.0
        try:
            async with client:
                while todo:
                    await client.publish(TOPIC, f"{todo[0]}".encode(), qos=1)
                    sent.append(todo.pop(0))
                    await asyncio.sleep(0.002)
        finally:
            client.close()

    async def send_all() -> None:
        todo = list(range(count))
        while todo:
            try:
                await send(todo)
            except aiomqtt.MqttError:
                await asyncio.sleep(0.05)
                if end == "kill":
                    # A power cut takes even what the broker has confirmed; the sender sends
                    # its sequence again.
                    todo = sorted({*todo, *sent})

    source = asyncio.create_task(keep_trying(settings(broker, protocol), keeper))
    await until(lambda: "groundstation-broker" in broker.log())
    with caplog.at_level(logging.ERROR):
        sender = asyncio.create_task(send_all())
        for number in range(1, 3):
            await until(lambda mark=number: len(set(sent)) >= 150 * mark)  # type: ignore[misc]
            getattr(broker, end)()
            await asyncio.sleep(0.1)
            await asyncio.to_thread(broker.start)
        await sender
        await until(lambda: len(set(keeper.texts)) == count)
    source.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await source
    assert set(keeper.texts) == {f"{number}" for number in range(count)}
    gc.collect()  # a future that nobody asked complains when it is collected
    await asyncio.sleep(0)
    assert complaints == []
    # The library says by itself that a connection was reset; nothing else may be amiss.
    assert not [record for record in caplog.records if record.name != "mqtt"]


@both
async def test_wrong_password_is_said_plainly(tmp_path: Path, protocol: Protocol) -> None:
    with Mosquitto(tmp_path / "closed", username="base", password="right-one") as broker:
        right = settings(broker, protocol, username="base", password=Secret("right-one"))
        async with listening(right, Keeper()) as task:
            assert not task.done()
        wrong = settings(broker, protocol, username="base", password=Secret("wrong-one"))
        with pytest.raises(SourceError, match="refuses the user name or the password") as caught:
            await MqttSource(wrong, SystemClock()).run(Keeper(), recorder())
        assert "wrong-one" not in str(caught.value)


async def test_tls_trusts_only_the_given_authority(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "private", tls=True) as broker:
        keeper = Keeper()
        async with listening(settings(broker, tls=True, ca_file=broker.ca_file), keeper) as task:
            assert not task.done()
        with pytest.raises(SourceError, match=r"certificate that is not trusted here .*ca_file"):
            await MqttSource(settings(broker, tls=True), SystemClock()).run(keeper, recorder())
        missing = settings(broker, tls=True, ca_file=tmp_path / "absent.pem")
        with pytest.raises(SourceError, match=r"absent\.pem is not there"):
            await MqttSource(missing, SystemClock()).run(keeper, recorder())


async def test_a_broker_that_does_not_answer_cannot_hold_up_the_stop(broker: Mosquitto) -> None:
    async with listening(settings(broker), Keeper()) as task:
        broker.freeze()
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task


async def test_no_broker_is_a_source_error(broker: Mosquitto) -> None:
    nobody = settings(broker, port=free_port())
    with pytest.raises(SourceError, match=f"127.0.0.1:{nobody.port}.*refused"):
        await MqttSource(nobody, SystemClock()).run(Keeper(), recorder())


@both
async def test_a_lost_broker_is_a_source_error(broker: Mosquitto, protocol: Protocol) -> None:
    async with listening(settings(broker, protocol), Keeper()) as task:
        broker.kill()
        with pytest.raises(SourceError, match=f"127.0.0.1:{broker.port}"):
            await task


async def test_two_stations_with_one_name_are_told(broker: Mosquitto) -> None:
    async with (
        listening(settings(broker), Keeper()) as first,
        listening(settings(broker), Keeper()),
    ):
        with pytest.raises(
            SourceError, match="another client uses the client_id 'groundstation-broker-"
        ):
            await first


async def test_topic_and_long_messages(broker: Mosquitto) -> None:
    keeper = Keeper()
    async with listening(settings(broker), keeper):
        await publish(broker, [b"", b"x" * 200_000, b"after"])
        await until(lambda: len(keeper.frames) == 3)
    assert [len(frame.data) for frame in keeper.frames] == [0, MAX_PAYLOAD_BYTES, 5]
    assert {(frame.source, frame.receiver) for frame in keeper.frames} == {("broker", TOPIC)}


async def test_a_topic_no_longer_asked_for_is_passed_over(broker: Mosquitto) -> None:
    async with listening(settings(broker, topics=("kanalas-1/#", "other/#")), Keeper()):
        pass
    keeper = Keeper()
    async with listening(settings(broker), keeper):
        await publish(broker, [b"strange"], "other/position")
        await publish(broker, [b"known"])
        await until(lambda: bool(keeper.frames))
    assert keeper.texts == ["known"]


async def test_a_kept_message_comes_once_not_at_every_connection(broker: Mosquitto) -> None:
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        await client.publish(TOPIC, b"kept", qos=1, retain=True)
    seen: list[str] = []
    for _ in range(2):
        keeper = Keeper()
        async with listening(settings(broker), keeper):
            await publish(broker, [b"end"])
            await until(lambda now=keeper: "end" in now.texts)  # type: ignore[misc]
        seen += keeper.texts
        flags = {frame.data: frame.retained for frame in keeper.frames}
        assert flags.get(b"kept", True)
        assert not flags[b"end"]
    assert seen == ["kept", "end", "end"]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"host": ""}, "host"),
        ({"topics": ()}, "topics"),
        ({"topics": ("a/#/b",)}, "a/#/b"),
        ({"port": 0}, "port"),
        ({"in_flight": 0}, "in_flight"),
        ({"session_expiry_s": 0}, "session_expiry_s"),
        ({"password": Secret("x")}, "username"),
        ({"ca_file": Path("ca.pem")}, "tls"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any], says: str) -> None:
    given: dict[str, Any] = {
        "name": "broker",
        "host": "127.0.0.1",
        "topics": ("kanalas-1/#",),
        "decoder": JsonSettings(),
    }
    with pytest.raises(ConfigurationError, match=says):
        MqttSource(MqttSettings(**(given | changes)), SystemClock())
