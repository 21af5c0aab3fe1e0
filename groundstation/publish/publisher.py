"""Keeps a broker informed, through its restarts and ours.

Frames and alerts are read from the store, after the last one that the broker has confirmed; that
place is kept in a small file beside the database. So what was heard while the broker was away goes
out when it is back, and a kill costs at most some messages twice. What was heard before publishing
was first asked for stays here: flights of long ago are no news.
"""

import asyncio
import json
import logging
import ssl
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

import aiomqtt

from groundstation.errors import SourceError, StoreError
from groundstation.flight.alert_records import Message
from groundstation.flight.state import FlightState
from groundstation.publish.messages import Published, alert, frame, standing, states
from groundstation.publish.settings import PublishSettings
from groundstation.records import Frame
from groundstation.settings.tls import trusting, why_no_tls
from groundstation.store.reader import Reader

log = logging.getLogger(__name__)

LOOK_S: Final = 0.5  # own choice: nobody sees half a second
PLACE_ENDING: Final = "-published"
BATCH: Final = 200  # own choice: a few broker's round trips
FIRST_PAUSE_S, MOST_PAUSE_S = 0.5, 30.0  # own choices: at once, and not every second for days
ANSWER_S: Final = 10.0  # own choice: a slow mobile link


class Publisher:
    """``states_now`` gives what is known at this moment, one state a payload."""

    def __init__(
        self,
        settings: PublishSettings,
        database: Path,
        states_now: Callable[[], Sequence[FlightState]],
    ) -> None:
        self._settings = settings
        self._database = database
        self._states_now = states_now
        self._place_file = database.with_name(f"{database.name}{PLACE_ENDING}")
        self._place = self._read_place()
        with suppress(StoreError):
            self._begin()
        self._told: dict[str, str] = {}
        self._who = settings.prefix, settings.station

    async def run(self) -> None:
        """Publish until cancelled; a broker that is away is tried again and again."""
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                async with self._client(await asyncio.to_thread(self._tls)) as client:
                    pause_s = FIRST_PAUSE_S
                    # The broker may have lost what it was to retain.
                    self._told.clear()
                    await self._send(client, [standing(*self._who, up=True)])
                    try:
                        while True:
                            busy = await self._round(client)
                            await asyncio.sleep(0.0 if busy else LOOK_S)
                    except asyncio.CancelledError:
                        # A stop in order gives no cause for the will.
                        with suppress(aiomqtt.MqttError, TimeoutError):
                            await self._send(client, [standing(*self._who, up=False)])
                        raise
            except (aiomqtt.MqttError, OSError, ValueError, StoreError, SourceError) as error:
                why = _why(error, self._settings)
                log.warning("publishing to %s: %s; next try in %.1f s", self._where(), why, pause_s)
            await asyncio.sleep(pause_s)
            pause_s = min(2.0 * pause_s, MOST_PAUSE_S)

    async def _round(self, client: aiomqtt.Client) -> bool:
        """Publish what is new; says whether there may be more already."""
        settings = self._settings
        busy = False
        if settings.forward:
            frames = await asyncio.to_thread(self._frames)
            await self._send(
                client, [frame(settings.prefix, settings.station, heard) for _, heard in frames]
            )
            busy = len(frames) == BATCH
            self._passed("frame", [number for number, _ in frames])
        if settings.state:
            alerts = await asyncio.to_thread(self._alerts)
            await self._send(client, [alert(settings.prefix, raised) for _, raised in alerts])
            self._passed("alert", [number for number, _ in alerts])
            now = [
                message
                for state in self._states_now()
                for message in states(settings.prefix, state)
            ]
            fresh = [message for message in now if self._told.get(message.topic) != message.text]
            await self._send(client, fresh)
            self._told |= {message.topic: message.text for message in fresh}
        return busy

    async def _send(self, client: aiomqtt.Client, messages: Sequence[Published]) -> None:
        """Return once the broker has confirmed all of them. Any that is lost ends it, and then all
        of them go out again: which of them the broker had cannot be known."""
        async with asyncio.timeout(ANSWER_S):
            await asyncio.gather(
                *(
                    client.publish(message.topic, message.text, qos=1, retain=message.retained)
                    for message in messages
                )
            )

    def _frames(self) -> list[tuple[int, Frame]]:
        with Reader(self._database) as reader:
            return reader.frames_after(self._begin()["frame"], BATCH)

    def _alerts(self) -> list[tuple[int, Message]]:
        with Reader(self._database) as reader:
            return reader.messages_after(self._begin()["alert"], BATCH)

    def _passed(self, what: str, numbers: Sequence[int]) -> None:
        if numbers:
            self._keep_place(self._begin() | {what: numbers[-1]})

    def _begin(self) -> dict[str, int]:
        """Where to go on; at the first start, with what comes from now on."""
        if self._place is not None:
            return self._place
        with Reader(self._database) as reader:
            frame_id, alert_id = reader.last_ids()
        place = {"frame": frame_id, "alert": alert_id}
        self._keep_place(place)
        return place

    def _keep_place(self, place: dict[str, int]) -> None:
        self._place = place
        fresh = self._place_file.with_suffix(".new")
        try:
            fresh.write_text(json.dumps(place))
            fresh.replace(self._place_file)
        except OSError as error:
            # Then a restart sends some of it again, which counts once.
            log.warning("%s can't be written: %s", self._place_file, error)

    def _read_place(self) -> dict[str, int] | None:
        try:
            kept = json.loads(self._place_file.read_text())
            return {"frame": int(kept["frame"]), "alert": int(kept["alert"])}
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _where(self) -> str:
        return f"{self._settings.host}:{self._settings.port}"

    def _tls(self) -> ssl.SSLContext | None:
        settings = self._settings
        if not settings.tls:
            return None
        password = None if settings.key_password is None else settings.key_password.reveal()
        return trusting(
            settings.ca_file, self._where(), settings.cert_file, settings.key_file, password
        )

    def _client(self, tls: ssl.SSLContext | None) -> aiomqtt.Client:
        settings = self._settings
        gone = standing(*self._who, up=False)
        return aiomqtt.Client(
            settings.host,
            settings.port,
            protocol=aiomqtt.ProtocolVersion.V5,
            username=settings.username or None,
            password=None if settings.password is None else settings.password.reveal(),
            tls_context=tls,
            transport=settings.transport,
            websocket_path=settings.websocket_path,
            max_concurrent_outgoing_calls=BATCH,
            # Told by the broker for us, once we are gone without a word.
            will=aiomqtt.Will(gone.topic, gone.text, qos=1, retain=True),
        )


def _why(error: BaseException, settings: PublishSettings) -> str:
    """What went wrong, with what to do about it where that is known."""
    for failure in (error, error.__cause__, error.__context__):
        if isinstance(failure, ssl.SSLError):
            return str(why_no_tls("it", failure))
    if "timed out" not in str(error) and str(error):
        return str(error)
    if settings.transport == "websockets":
        return "no answer; is there a WebSocket on that port, and is websocket_path right?"
    if settings.tls:
        return (
            "no answer; does it speak TLS on that port, and does it want a certificate of ours"
            " (cert_file, key_file)?"
        )
    return (
        'no answer; a port with TLS wants tls = true, one with WebSocket transport = "websockets"'
    )
