"""One recorded flight by three ways at once: a line server, KISS over a pty, JSON over MQTT."""

import asyncio
import contextlib
import itertools
import json
import re
from dataclasses import dataclass
from pathlib import Path

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.jsonout import iso_utc
from groundstation.records import Report
from tests.support.line_server import LineServer
from tests.support.pty_device import PtyDevice

_ADDRESS = re.compile(r"([A-Z0-9]{1,6})(?:-(1[0-5]|[0-9]))?(\*?)")
_LINE = re.compile(rb"([^>]+)>([^:]+):(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Packet:
    """A line in the monitor form, with the time at which it was heard."""

    received_utc: float
    line: bytes


def read_packets(path: Path) -> list[Packet]:
    rows = [line.partition(b"\t") for line in path.read_bytes().split(b"\n") if line]
    return [Packet(float(time), line) for time, _, line in rows]


def senders(packets: list[Packet]) -> list[str]:
    return sorted({packet.line.partition(b">")[0].decode() for packet in packets})


def configuration(
    trackers: list[str], *, line_port: int, device: Path, broker_port: int, topic: str
) -> str:
    """The station's sources for one flight by all three ways."""
    listed = "".join(f'[[payload.tracker]]\nid = "{one}"\n' for one in trackers)
    return f"""
[[payload]]
name = "flight"
{listed}
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = {line_port}
[source.decoder]
kind = "aprs"
[[source]]
name = "radio"
kind = "serial"
port = "{device}"
[source.decoder]
kind = "aprs"
framing = "ax25"
[[source]]
name = "broker"
kind = "mqtt"
host = "127.0.0.1"
port = {broker_port}
topics = ["{topic}"]
client_id = "{topic}"
[source.decoder]
kind = "json"
"""


class Feeds:
    """Sends each packet by all three ways at once.

    With ``patient`` the radio waits for room where the station is slow to read; else that is lost.
    ``by_radio`` and ``by_broker`` is what went out beside the lines: KISS frames of what AX.25 can
    hold, and a message for each position.
    """

    def __init__(
        self,
        line: LineServer,
        radio: PtyDevice,
        broker_port: int,
        topic: str,
        *,
        patient: bool = False,
    ) -> None:
        self._patient = patient
        self.by_radio = 0
        self.by_broker: list[bytes] = []
        self._line = line
        self._radio = radio
        self._broker_port = broker_port
        self._topic = topic
        self._decoder = AprsDecoder(AprsSettings())
        self._to_publish: asyncio.Queue[bytes] = asyncio.Queue()
        self.published: list[bytes] = []

    async def send(self, packet: Packet) -> None:
        message = self._message(packet)
        if message is not None:
            self.by_broker.append(message)
            self._to_publish.put_nowait(message)
        kiss = kiss_frame(packet.line)
        if kiss is not None and self._patient:
            await self._radio.put(kiss)
            self.by_radio += 1
        elif kiss is not None and self._radio.offer(kiss):
            self.by_radio += 1
        await self._line.send(packet.line + b"\r\n")

    async def session(self) -> None:
        """The station's own at the broker, as it stands where the station ran before: what comes
        while it starts is kept for it."""
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = 86_400
        async with aiomqtt.Client(
            "127.0.0.1",
            self._broker_port,
            identifier=self._topic,
            protocol=aiomqtt.ProtocolVersion.V5,
            clean_start=False,
            properties=properties,
        ) as client:
            await client.subscribe(self._topic, qos=1)

    async def publish_forever(self) -> None:
        """Publish in order; what the broker did not confirm goes out again."""
        waiting: bytes | None = None
        while True:
            with contextlib.suppress(aiomqtt.MqttError):
                async with aiomqtt.Client("127.0.0.1", self._broker_port, timeout=30.0) as client:
                    while True:
                        if waiting is None:
                            waiting = await self._to_publish.get()
                        await client.publish(self._topic, waiting, qos=1)
                        self.published.append(waiting)
                        waiting = None
            await asyncio.sleep(0.1)

    def _message(self, packet: Packet) -> bytes | None:
        (report,) = self._decoder.decode(packet.line, packet.received_utc)
        if not isinstance(report, Report):
            return None
        told: dict[str, object] = {
            "tracker": report.tracker,
            "lat": report.latitude_deg,
            "lon": report.longitude_deg,
            "alt_m": report.altitude_m,
            # Not read by the station; it keeps the messages apart.
            "number": len(self.by_broker),
        }
        if report.time_utc is not None:
            told["time"] = iso_utc(report.time_utc)
        elif report.time_unread:
            told["time"] = report.time_unread
        return json.dumps(told).encode()


def kiss_frame(line: bytes) -> bytes | None:
    """The packet as a KISS data frame, or None where AX.25 can't hold its addresses.

    What a server adds to the path (from its "q" construct on) was never on the air.
    """
    found = _LINE.fullmatch(line)
    if found is None:
        return None
    destination, *path = found[2].decode("latin-1").split(",")
    heard = list(itertools.takewhile(lambda name: not name.startswith("q"), path))
    names = [destination, found[1].decode("latin-1"), *heard]
    if any(_ADDRESS.fullmatch(name) is None for name in names) or len(heard) > 8:
        return None
    addresses = b"".join(
        _address(name, last=number == len(names) - 1) for number, name in enumerate(names)
    )
    body = b"\x00" + addresses + b"\x03\xf0" + found[3]
    return b"\xc0" + body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"


def _address(name: str, *, last: bool) -> bytes:
    found = _ADDRESS.fullmatch(name)
    assert found is not None
    call, ssid, repeated = found[1], int(found[2] or 0), bool(found[3])
    octet = 0x60 | ssid << 1 | (0x80 if repeated else 0) | (1 if last else 0)
    return bytes(ord(letter) << 1 for letter in call.ljust(6)) + bytes([octet])
