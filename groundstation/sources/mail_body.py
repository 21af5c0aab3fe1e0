"""What a mail holds for a decoder: its text, or what is attached to it; who sent it, and when."""

import email
import fnmatch
import html
import re
from dataclasses import dataclass
from datetime import UTC
from email import policy
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from typing import Final

MOST_BYTES: Final = 65_536  # own choice: a position is in the first lines
_TAG: Final = re.compile(r"<[^>]*>")
_BREAK: Final = re.compile(r"<(?:br|/p|/div|/tr|/li)\b[^>]*>", re.IGNORECASE)
# Each line can be matched in one way only: an ambiguous \r would cost time without bound.
_HEAD: Final = re.compile(rb"(?:[A-Za-z][A-Za-z0-9-]{1,60}:[^\n]*\n(?:[ \t][^\n]*\n)*){2,}\r?\n")
_KNOWN: Final = re.compile(rb"^(?:from|to|subject|date|message-id|mime-version):", re.I | re.M)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mail:
    """``data`` is what the decoder is to read; ``sent_utc`` is None where the mail does not say."""

    sender: str
    sent_utc: float | None
    data: bytes


def is_mail(data: bytes) -> bool:
    """Whether these bytes begin with the head of a mail (RFC 5322)."""
    head = _HEAD.match(data.lstrip()[:MOST_BYTES])
    return head is not None and len(set(_KNOWN.findall(head[0].lower()))) >= 2


def read_mail(raw: bytes, attachment: str = "") -> Mail:
    """Read a mail (RFC 5322, MIME). ``attachment`` is a pattern such as "*.sbd" for the name of an
    attached file that is to be read; of several that fit, the first; "" means the text.

    Nothing is refused: where there is no such file, ``data`` is empty.
    """
    message = email.message_from_bytes(raw, policy=policy.default)
    data = _attached(message, attachment) if attachment else _text(message, raw).encode()
    return Mail(sender=_header(message, "From"), sent_utc=_date(message), data=data[:MOST_BYTES])


def attachments(raw: bytes) -> list[tuple[str, bytes]]:
    """Name and content of each attached file."""
    message = email.message_from_bytes(raw, policy=policy.default)
    return [(part.get_filename() or "", _content(part)) for part in _files(message)]


def _files(message: EmailMessage) -> list[EmailMessage]:
    parts = [part for part in message.walk() if not part.is_multipart() and part.get_filename()]
    return [part for part in parts if isinstance(part, EmailMessage)]


def _attached(message: EmailMessage, pattern: str) -> bytes:
    for part in _files(message):
        if fnmatch.fnmatchcase((part.get_filename() or "").lower(), pattern.lower()):
            return _content(part)
    return b""


def _content(part: EmailMessage) -> bytes:
    content = part.get_payload(decode=True)
    return content if isinstance(content, bytes) else b""


def _text(message: EmailMessage, raw: bytes) -> str:
    try:
        body = message.get_body(("plain", "html"))
        text = "" if body is None else str(body.get_content())
    except (LookupError, ValueError, AttributeError):
        return raw.decode("latin-1")
    if body is not None and body.get_content_subtype() == "html":
        text = html.unescape(_TAG.sub(" ", _BREAK.sub("\n", text)))
    return text


def _header(message: EmailMessage, name: str) -> str:
    try:
        return str(message.get(name, ""))
    except (ValueError, IndexError, AttributeError):
        return ""


def _date(message: EmailMessage) -> float | None:
    try:
        moment = parsedate_to_datetime(_header(message, "Date"))
        moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        return moment.timestamp()
    except (ValueError, TypeError, IndexError, OverflowError):
        return None
