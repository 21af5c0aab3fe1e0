"""Numbers packed into a text of a JSON message: where they stand, and a source to fill in."""

import base64
import binascii
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from groundstation.decoders.paths import written_path
from groundstation.jobs.guessing.forms import leaves_of
from groundstation.jobs.guessing.names import TRACKER, Leaf, means, sender_and_time

FEWEST: Final = 6  # own choice: a place takes six bytes at least
LONG: Final = 24  # own choice: as text; hardly a word or a name
CALLED: Final = (
    "payload", "data", "raw", "bytes", "hex", "base64", "b64", "message", "msg", "packet", "frame",
    "body", "content", "binary", "blob",
)  # fmt: skip
_HEX: Final = re.compile(r"(?:[0-9A-Fa-f]{2}\s?)+")
_BASE64: Final = re.compile(r"[A-Za-z0-9+/_-]+={0,2}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """``count`` bytes at ``path``, and the lines of a source with a layout as an example."""

    path: str
    encoding: str
    count: int
    lines: tuple[str, ...]


def packed_in(text: str, now_utc: float) -> Packed | None:
    """The longest text that is bytes, or None."""
    leaves = leaves_of(text)
    found = [(len(data), leaf, encoding) for leaf, encoding, data in _bytes(leaves)]
    if not found:
        return None
    count, leaf, encoding = max(found, key=lambda candidate: candidate[0])
    guess = sender_and_time([other for other in leaves if other is not leaf], now_utc)
    fields = ", ".join(
        f"{name} = {json.dumps(written_path(place))}" for name, place in guess.places.items()
    )
    lines = [
        "[[source]]", 'name = "NAME"', 'kind = "mqtt"                 # or http-push, http-poll',
        'host = "HOST"', 'topics = ["TOPIC/#"]', "[source.decoder]", 'kind = "json"',
        f"fields = {{ {fields} }}",
        *([f'time_format = "{guess.time_format}"'] if "time" in guess.places else ()),
        *([] if "tracker" in guess.places else ['tracker = "NAME"']),
        "[source.decoder.packed]", f"path = {json.dumps(written_path(leaf.path))}",
        f'encoding = "{encoding}"', 'byte_order = "big"',
        'layout = [{ name = "lat", type = "i32", at = 0, scale = 1e-7 },'
        ' { name = "lon", type = "i32", at = 4, scale = 1e-7 },'
        ' { name = "alt_m", type = "u16", at = 8 }]',
    ]  # fmt: skip
    return Packed(path=written_path(leaf.path), encoding=encoding, count=count, lines=tuple(lines))


def _bytes(leaves: Sequence[Leaf]) -> Iterator[tuple[Leaf, str, bytes]]:
    for leaf in leaves:
        text = leaf.text.strip()
        if text.isdigit() or (means(leaf, TRACKER) and not means(leaf, CALLED)):
            continue
        if not means(leaf, CALLED) and len(text) < LONG:
            # Short words and names look like base64 too.
            continue
        if _HEX.fullmatch(text):
            yield leaf, "hex", bytes.fromhex(text)
        elif _BASE64.fullmatch(text) and len(text) % 4 == 0 and re.search(r"[0-9+/=]", text):
            try:
                data = base64.b64decode(text, altchars=b"-_" if {*text} & {*"-_"} else None)
            except (ValueError, binascii.Error):
                continue
            if len(data) >= FEWEST:
                yield leaf, "base64", data
