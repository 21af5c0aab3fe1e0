"""A real SMTP receiver on loopback that keeps the mails sent to it, and refuses when told to."""

from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from types import TracebackType
from typing import Any, Self

from aiosmtpd.controller import Controller

from tests.support.mosquitto import free_port


@dataclass(frozen=True, slots=True, kw_only=True)
class Mail:
    """One mail as it came."""

    sender: str
    recipients: tuple[str, ...]
    message: EmailMessage

    @property
    def subject(self) -> str:
        return str(self.message["Subject"])

    @property
    def text(self) -> str:
        """The plain text where there is one, else the HTML; "" where there is neither."""
        part = self.message.get_body(("plain", "html"))
        return "" if part is None else str(part.get_content())


class SmtpTarget:
    """Takes mail in a thread of its own. While ``refusing``, says to try again later.

    ``port`` stays the same through ``stop`` and ``start``.
    """

    def __init__(self) -> None:
        self.refusing = False
        self.mails: list[Mail] = []
        self.refused = 0
        self.port = free_port()
        self._controller: Any = None

    def start(self) -> None:
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)
        self._controller.start()

    def stop(self) -> None:
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    # The name is the library's.
    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        if self.refusing:
            self.refused += 1
            return "451 Try again later"
        message = message_from_bytes(envelope.content, policy=policy.default)
        self.mails.append(
            Mail(
                sender=envelope.mail_from,
                recipients=tuple(envelope.rcpt_tos),
                message=message,
            )
        )
        return "250 Taken"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()
