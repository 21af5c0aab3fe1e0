"""What is posted to a webhook, as its decoder is to read it."""

import json
import re
import urllib.parse
from email import message_from_bytes, policy
from typing import Final

MOST_FIELDS: Final = 200  # own choice: a bound; services send some ten
_REQUEST: Final = re.compile(r"(?:GET|POST|PUT) (\S+)(?: HTTP/[0-9.]+)?", re.IGNORECASE)
_FORM: Final = re.compile(r"[^\s=&{}<>]{1,80}=[^\s&]*(?:&[^\s=&]{1,80}=[^\s&]*)+")


def form_json(pairs: list[tuple[str, str]]) -> bytes:
    """Named values as the JSON object of their names."""
    return json.dumps(dict(pairs)).encode()


def read_form(body: bytes) -> bytes | None:
    """A form (application/x-www-form-urlencoded) as JSON, or None where it can't be read."""
    try:
        text = body.decode()
        pairs = urllib.parse.parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError:
        return None
    return form_json(pairs)


def read_multipart(body: bytes, content_type: str) -> bytes | None:
    """The fields of a form with parts (RFC 7578) as JSON; one file that is JSON stands for all.

    None where it can't be read.
    """
    try:
        head = f"Content-Type: {content_type}\r\n\r\n".encode("latin-1")
    except UnicodeEncodeError:
        return None
    message = message_from_bytes(head + body, policy=policy.default)
    if not message.is_multipart():
        return None
    pairs = []
    for part in list(message.walk())[1 : MOST_FIELDS + 1]:
        name = part.get_param("name", header="content-disposition")
        content = part.get_payload(decode=True)
        if not isinstance(name, str) or not isinstance(content, bytes):
            continue
        if content.lstrip()[:1] == b"{" and part.get_filename():
            return content
        pairs.append((name, content.decode("utf-8", "replace").strip()))
    return form_json(pairs) if pairs else None


def form_of(text: str) -> dict[str, str] | None:
    """The values of a pasted form, request line or address with a query; None for anything else."""
    line = text.strip().splitlines()[0] if text.strip() else ""
    request = _REQUEST.fullmatch(line)
    address = request[1] if request else line
    if request or re.match(r"(?:https?://|/)\S*\?", address):
        query = urllib.parse.urlsplit(address).query
    elif _FORM.fullmatch(text.strip()):
        query = text.strip()
    else:
        return None
    try:
        pairs = urllib.parse.parse_qsl(query, keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError:
        return None
    return dict(pairs) if len(pairs) >= 2 else None
