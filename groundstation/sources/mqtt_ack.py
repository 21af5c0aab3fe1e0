"""The MQTT client, with the one thing it does not offer: acknowledging a message when we say so.

All that reaches behind the public face of ``aiomqtt`` 2.5 and its ``paho`` client is in this
file, which is why the dependency is held below 3. The library acknowledges a message as soon as
it has it in memory: a station that dies then has lost it for good.
"""

import asyncio
import contextlib
import ssl
from typing import Any, Final, Literal

import aiomqtt
from paho.mqtt.client import MQTT_CLEAN_START_FIRST_ONLY
from paho.mqtt.client import Client as PahoClient
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

QUEUED_UNPROMISED: Final = 1000
"""Messages of QoS 0 that wait in memory; more are dropped, as QoS 0 allows. Own choice."""


class _Arrivals(asyncio.Queue[aiomqtt.Message]):
    """Never drops a message of QoS 1: how many of those come is bounded by what we acknowledge."""

    def put_nowait(self, item: aiomqtt.Message) -> None:
        if item.qos == 0 and self.qsize() >= QUEUED_UNPROMISED:
            raise asyncio.QueueFull
        super().put_nowait(item)


class AcknowledgingClient(aiomqtt.Client):
    """One connection in a session that outlives it; ``close`` it, whatever has happened."""

    def __init__(
        self,
        host: str,
        port: int,
        *,
        client_id: str,
        version_5: bool,
        session_expiry_s: int,
        in_flight: int,
        username: str | None,
        password: str | None,
        tls: ssl.SSLContext | None,
        transport: Literal["tcp", "websockets"] = "tcp",
        websocket_path: str = "/mqtt",
    ) -> None:
        properties: Properties | None = None
        if version_5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = session_expiry_s
            properties.ReceiveMaximum = in_flight
        super().__init__(
            host,
            port,
            identifier=client_id,
            protocol=aiomqtt.ProtocolVersion.V5 if version_5 else aiomqtt.ProtocolVersion.V311,
            # Each version knows only one of the two, and the library refuses the other.
            clean_session=None if version_5 else False,
            clean_start=False if version_5 else MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties,
            max_inflight_messages=in_flight,
            queue_type=_Arrivals,
            username=username,
            password=password,
            tls_context=tls,
            transport=transport,
            websocket_path=websocket_path if transport == "websockets" else None,
        )
        self._version_5 = version_5
        self._client.manual_ack_set(True)

    def acknowledge(self, message: aiomqtt.Message) -> None:
        """Tell the broker that ``message`` of this connection may be forgotten.

        Once the connection is lost this does nothing: the broker sends the message again, and
        its number may by then stand for another one.
        """
        if self._client.is_connected() and not self._disconnected.done():
            self._client.ack(message.mid, message.qos)

    async def subscribe_all(self, topics: tuple[str, ...]) -> list[str]:
        """Subscribe with QoS 1; gives the topics that the broker refuses."""
        wanted: Any = [(topic, 1) for topic in topics]
        if self._version_5:
            # Kept messages once, not at every connection.
            options = SubscribeOptions(
                qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB
            )
            wanted = [(topic, options) for topic in topics]
        asking = asyncio.ensure_future(self.subscribe(wanted))
        either: set[asyncio.Future[Any]] = {asking, self._disconnected}
        try:
            # The library does not wake its callers when the connection breaks.
            await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
            if not asking.done():
                raise aiomqtt.MqttError("the connection broke while subscribing")
            answers = asking.result()
        finally:
            asking.cancel()
        codes = [answer if isinstance(answer, int) else answer.value for answer in answers]
        # From 0x80 on a code means failure (MQTT 3.1.1 section 3.9.3, MQTT 5 section 3.9.3).
        return [topic for topic, code in zip(topics, codes, strict=True) if code >= 0x80]

    def close(self) -> None:
        """Let go of the socket and of what would otherwise complain later.

        The library forgets both when a connection does not come about, or breaks inside it.
        """
        sock = self._client.socket()
        if sock is not None and sock.fileno() >= 0:
            self._loop.remove_reader(sock.fileno())
            self._loop.remove_writer(sock.fileno())
            sock.close()
        if self._misc_task is not None:
            self._misc_task.cancel()
        for future in (self._connected, self._disconnected):
            if future.done() and not future.cancelled():
                future.exception()

    def _on_socket_register_write(
        self,
        client: PahoClient,
        userdata: Any,  # noqa: ARG002 - the library's own signature
        sock: Any,
    ) -> None:
        def write() -> None:
            try:
                client.loop_write()
            except Exception as error:  # the library's own way with a connection that broke
                if not self._disconnected.done():
                    self._disconnected.set_exception(error)

        def register() -> None:
            # The library's version logs a traceback where the socket was closed in between.
            if sock.fileno() >= 0:
                with contextlib.suppress(OSError):
                    self._loop.add_writer(sock.fileno(), write)

        self._loop.call_soon_threadsafe(register)
