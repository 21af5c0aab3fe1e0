"""Positions that come by mail: an IMAP mailbox (RFC 9051, and the older RFC 3501).

Mails that are not marked as seen are read, and marked once they are on disk: what arrives while the
station is away waits there, and a kill costs at most a mail read twice. Nothing is deleted.
"""

import asyncio
import imaplib
import re
import ssl
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError, Words
from groundstation.records import Frame
from groundstation.settings.secret import Secret
from groundstation.settings.tls import why_no_tls
from groundstation.sources.health import HealthRecorder
from groundstation.sources.mail_body import Mail, read_mail
from groundstation.sources.pace import Pace
from groundstation.sources.source import Emit

ANSWER_S: Final = 12.0
"""Below what a service manager waits at a stop: a question under way can't be broken off."""
LEAST_S: Final = 10.0  # own choice, so that a provider does not lock us out
_INTERNAL_DATE: Final = re.compile(rb'INTERNALDATE "([^"]{20,40})"')


@dataclass(frozen=True, slots=True, kw_only=True)
class MailboxSettings:
    """A mailbox of its own, best: every unseen mail in ``folder`` is read, and marked as seen.

    With ``sender`` only mails from there are; with ``attachment``, a pattern such as "*.sbd", the
    attached file of that name is read in the place of the text. What gives no time of its own is
    dated by the head of its mail, else by the server. Looked into every ``interval_s``, and every
    ``descent_s`` while something falls.
    """

    kind: Literal["mailbox"] = "mailbox"
    name: str
    host: str
    username: str
    password: Secret
    decoder: DecoderSettings
    port: int = 993
    tls: bool = True
    folder: str = "INBOX"
    sender: str = ""
    interval_s: float = 60.0
    descent_s: float = 20.0
    attachment: str = ""


class MailboxSource:
    """One connection a ``run``. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: MailboxSettings, clock: Clock, pace: Pace) -> None:
        _check(settings)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._pace = pace

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Look again and again. Raises ``SourceError``, saying why it can't."""
        settings = self._settings
        server = f"{settings.host}:{settings.port}"
        where = Words("mailbox {user} at {server}", user=settings.username, server=server)
        try:
            box = await asyncio.to_thread(self._open)
            try:
                health.opened()
                while True:
                    for number in await asyncio.to_thread(self._unseen, box):
                        await self._take(box, number, emit, health)
                    hurried = self._pace.hurried
                    await asyncio.sleep(settings.descent_s if hurried else settings.interval_s)
            finally:
                await asyncio.to_thread(_close, box)
        except imaplib.IMAP4.error as error:
            raise SourceError("{where}: {why}", where=where, why=_plain(error)) from error
        except ssl.SSLError as error:
            raise SourceError(why_no_tls(where, error)) from error
        except OSError as error:
            raise SourceError(
                "{where} can't be reached ({why})", where=where, why=error.strerror or error
            ) from error

    async def _take(
        self, box: imaplib.IMAP4, number: str, emit: Emit, health: HealthRecorder
    ) -> None:
        mail = await asyncio.to_thread(self._mail, box, number)
        frame = Frame(
            source=self.name,
            received_utc=self._clock.now_utc(),
            data=mail.data,
            receiver=mail.sender,
            sent_utc=mail.sent_utc,
        )
        health.received(frame)
        stored = asyncio.Event()
        await emit(frame, stored.set)
        await stored.wait()
        await asyncio.to_thread(_asked, box, "STORE", number, "+FLAGS.SILENT", r"(\Seen)")

    def _open(self) -> imaplib.IMAP4:
        settings = self._settings
        form = imaplib.IMAP4_SSL if settings.tls else imaplib.IMAP4
        box = form(settings.host, settings.port, timeout=ANSWER_S)
        try:
            box.login(settings.username, settings.password.reveal())
            state, _ = box.select(f'"{settings.folder}"')
            if state != "OK":
                raise imaplib.IMAP4.error(f"there is no folder {settings.folder}")
        except BaseException:
            _close(box)
            raise
        return box

    def _unseen(self, box: imaplib.IMAP4) -> list[str]:
        """Numbers of the mails to read, oldest first."""
        wanted = ["UNSEEN"]
        if self._settings.sender:
            wanted += ["FROM", f'"{self._settings.sender}"']
        # Some servers tell of new mail only when asked for anything.
        box.noop()
        (found,) = _asked(box, "SEARCH", *wanted)[:1] or (b"",)
        return found.decode().split() if isinstance(found, bytes) else []

    def _mail(self, box: imaplib.IMAP4, number: str) -> Mail:
        """The mail, and when the server got it where it does not say when it was sent. Reading
        alone does not mark it."""
        parts = [
            part for part in _asked(box, "FETCH", number, "(INTERNALDATE BODY.PEEK[])") if part
        ]
        head, raw = next((part for part in parts if isinstance(part, tuple)), (b"", b""))
        mail = read_mail(raw, self._settings.attachment)
        if mail.sent_utc is None:
            mail = replace(mail, sent_utc=_internal_date(head))
        return mail


def _internal_date(head: bytes) -> float | None:
    """When the server got the mail (RFC 9051, 7.5.2: always with its offset)."""
    found = _INTERNAL_DATE.search(head)
    if found is None:
        return None
    try:
        text = found[1].decode("latin-1").strip()
        return datetime.strptime(text, "%d-%b-%Y %H:%M:%S %z").timestamp()
    except (ValueError, OverflowError):
        return None


def _asked(box: imaplib.IMAP4, command: str, *words: str) -> list[bytes | tuple[bytes, bytes]]:
    state, answer = box.uid(command, *words)
    if state != "OK":
        raise imaplib.IMAP4.error(f"the server refuses {command}")
    return answer


def _close(box: imaplib.IMAP4) -> None:
    try:
        box.logout()
    except (imaplib.IMAP4.error, OSError):
        box.shutdown()


def _plain(error: imaplib.IMAP4.error) -> Words | str:
    said = str(error)
    if "AUTHENTICATIONFAILED" in said.upper() or "authentication failed" in said.lower():
        return Words("the user name or the password is refused")
    return said.removeprefix("b'").removesuffix("'")


def _check(settings: MailboxSettings) -> None:
    if not settings.host or not settings.username:
        raise ConfigurationError("host and username may not be empty")
    if not 1 <= settings.port <= 0xFFFF:
        raise ConfigurationError(f"port: {settings.port} is not between 1 and 65535")
    if any('"' in value or not value.isprintable() for value in (settings.folder, settings.sender)):
        raise ConfigurationError("folder and sender may hold no quotes and no control characters")
    if min(settings.interval_s, settings.descent_s) < LEAST_S:
        raise ConfigurationError(f"interval_s and descent_s are at least {LEAST_S:.0f} s")
