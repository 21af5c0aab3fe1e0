"""Positions by mail, from a real IMAP server."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Iterator
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.pattern import PatternDecoder, PatternSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame, Report, Unreadable
from groundstation.settings.secret import Secret
from groundstation.sources import mailbox
from groundstation.sources.health import HealthRecorder
from groundstation.sources.mailbox import MailboxSettings, MailboxSource
from groundstation.sources.pace import Pace
from groundstation.sources.supervisor import BackoffSettings, supervise
from tests.support.dovecot import PASSWORD, USER, Dovecot
from tests.support.keeper import Keeper, until
from tests.support.mosquitto import free_port

pytestmark = pytest.mark.live

DECODER = PatternSettings(
    pattern=r"Lat (?P<lat>-?[0-9.]+) Lon (?P<lon>-?[0-9.]+)(?: Alt (?P<alt_m>[0-9]+) ft)?"
    r"(?: at (?P<time>\S+))?",
    units={"alt_m": "ft"},
    tracker="Q0HAB-13",
)
TEXT = "Hello, Lat 47.10000 Lon 20.30000 Alt 1000 ft at 2026-05-16T09:00:00Z goodbye"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Dovecot]:
    with Dovecot(tmp_path / "imap") as running:
        yield running


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mailbox, "LEAST_S", 0.01)


def settings(port: int, **changes: Any) -> MailboxSettings:
    given: dict[str, Any] = {
        "name": "mail",
        "host": "127.0.0.1",
        "port": port,
        "tls": False,
        "username": USER,
        "password": Secret(PASSWORD),
        "decoder": DECODER,
        "interval_s": 0.1,
        "descent_s": 0.1,
    }
    return MailboxSettings(**(given | changes))


def mail(text: str, *, sender: str = "messenger@example.net", html: bool = False) -> bytes:
    message = EmailMessage()
    message["Subject"] = "A position"
    message["From"] = sender
    message["To"] = "kanalas@example.net"
    if html:
        message.set_content(f"<p>{text.replace(' ', '&#32;')}</p>", subtype="html")
    else:
        message.set_content(text)
    return bytes(message)


@contextlib.asynccontextmanager
async def reading(chosen: MailboxSettings, keeper: Any) -> AsyncIterator[HealthRecorder]:
    health = HealthRecorder("mail", "mailbox", SystemClock())
    source = MailboxSource(chosen, SystemClock(), Pace())
    backoff = BackoffSettings(first_s=0.05, most_s=0.2)
    task = asyncio.create_task(supervise(source, keeper, health, backoff))
    try:
        yield health
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_mails_are_read_once_and_marked(server: Dovecot) -> None:
    await asyncio.to_thread(server.put, mail(TEXT))
    keeper = Keeper()
    async with reading(settings(server.port), keeper):
        await until(lambda: len(keeper.frames) == 1)
        await asyncio.to_thread(server.put, mail(TEXT, html=True))
        await until(lambda: len(keeper.frames) == 2)
        await until(lambda: server.unseen() == 0)
        await asyncio.sleep(0.4)
    assert len(keeper.frames) == 2
    assert {frame.receiver for frame in keeper.frames} == {"messenger@example.net"}
    for frame in keeper.frames:
        (found,) = PatternDecoder(DECODER).decode(frame.data, frame.received_utc)
        assert isinstance(found, Report)
        assert (found.latitude_deg, found.longitude_deg) == (47.1, 20.3)
        assert found.altitude_m == pytest.approx(304.8)
        assert found.time_utc == 1_778_922_000.0


async def test_what_is_not_stored_stays_unseen(server: Dovecot) -> None:
    class Never:
        def __init__(self) -> None:
            self.frames: list[Frame] = []

        async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
            del stored
            self.frames.append(frame)

    await asyncio.to_thread(server.put, mail(TEXT))
    never = Never()
    async with reading(settings(server.port), never):
        await until(lambda: len(never.frames) == 1)
    assert await asyncio.to_thread(server.unseen) == 1
    keeper = Keeper()
    async with reading(settings(server.port), keeper):
        await until(lambda: len(keeper.frames) == 1)


async def test_only_the_sender_that_is_asked_for(server: Dovecot) -> None:
    for sender in ("other@example.net", "messenger@example.net"):
        await asyncio.to_thread(server.put, mail(TEXT, sender=sender))
    keeper = Keeper()
    async with reading(settings(server.port, sender="messenger@example.net"), keeper):
        await until(lambda: len(keeper.frames) == 1)
        await asyncio.sleep(0.4)
    assert await asyncio.to_thread(server.unseen) == 1


async def test_a_server_that_restarts_is_found_again(server: Dovecot) -> None:
    keeper = Keeper()
    async with reading(settings(server.port), keeper) as health:
        await until(lambda: health.is_open)
        await asyncio.to_thread(server.stop)
        await until(lambda: health.snapshot().failures > 0)
        await asyncio.to_thread(server.start)
        await asyncio.to_thread(server.put, mail(TEXT))
        await until(lambda: len(keeper.frames) == 1)


async def test_failures_are_said(server: Dovecot) -> None:
    health = HealthRecorder("mail", "mailbox", SystemClock())
    for chosen, says in (
        (settings(server.port, password=Secret("wrong-one")), "user name or the password"),
        (settings(server.port, folder="Nowhere"), "no folder Nowhere"),
        (settings(free_port()), "can't be reached"),
    ):
        with pytest.raises(SourceError, match=says) as caught:
            await MailboxSource(chosen, SystemClock(), Pace()).run(Keeper(), health)
        assert "wrong-one" not in str(caught.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"host": ""}, "host"),
        ({"port": 0}, "port"),
        ({"folder": 'a"b'}, "quotes"),
        ({"interval_s": 0.001}, "at least"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        MailboxSource(settings(**({"port": 1} | changes)), SystemClock(), Pace())


def test_patterns() -> None:
    with pytest.raises(ConfigurationError, match="no regular expression"):
        PatternDecoder(PatternSettings(pattern="(", tracker="x"))
    with pytest.raises(ConfigurationError, match="does not name lat"):
        PatternDecoder(PatternSettings(pattern="(?P<lon>x)", tracker="x"))
    for data in (b"", b"\xff", b"nothing", b"x" * 100_000):
        (found,) = PatternDecoder(DECODER).decode(data, 0.0)
        assert isinstance(found, Unreadable)


async def test_a_mail_without_a_time_is_dated_by_its_head_else_by_the_server(
    server: Dovecot,
) -> None:
    dated = b"Date: Sat, 16 May 2026 10:59:30 +0200\r\n" + mail("Lat 47.1 Lon 20.3")
    for one in (dated, mail("Lat 47.1 Lon 20.4")):
        await asyncio.to_thread(server.put, one)
    keeper = Keeper()
    async with reading(settings(server.port), keeper):
        await until(lambda: len(keeper.frames) == 2)
    first, second = keeper.frames
    assert first.sent_utc == 1_778_921_970.0
    assert second.sent_utc is not None
    assert abs(second.sent_utc - second.received_utc) < 60.0


async def test_an_attached_file_is_read_in_the_place_of_the_text(server: Dovecot) -> None:
    message = EmailMessage()
    message["From"] = "messenger@example.net"
    message.set_content("See the file.")
    message.add_attachment(b"\x00\xff\x01", maintype="application", subtype="x", filename="A1.SBD")
    await asyncio.to_thread(server.put, bytes(message))
    keeper = Keeper()
    async with reading(settings(server.port, attachment="*.sbd"), keeper):
        await until(lambda: len(keeper.frames) == 1)
    assert keeper.frames[0].data == b"\x00\xff\x01"
