"""Telemetry in base 91 in the text after a position: ``|ss1122..|``.

A counter and one to five values of two characters each, and a last pair with eight bits, between
two bars (the base 91 comment telemetry that modems and trackers send; common practice, from
memory: APRS 1.0.1 does not have it).
"""

import re
from dataclasses import replace
from typing import Final

from groundstation.decoders.aprs.compressed import base91
from groundstation.decoders.aprs.position import Position

_FORM: Final = re.compile(rb"\|((?:[!-{]{2}){2,7})\|")
_LONGEST: Final = 256  # longer than any packet's comment (own choice)


def without_telemetry(position: Position) -> Position:
    """Take the telemetry out of the text first of all: its characters may look like anything else.

    Of several groups the last is it: it is sent after what a person wrote.
    """
    comment = position.comment
    if comment.count(b"|", 0, _LONGEST) < 2:
        return position
    start = comment.rfind(b"|", 0, comment.rfind(b"|", 0, _LONGEST))
    found = _FORM.match(comment, start)
    if found is None:
        return position
    digits = found[1]
    values = tuple(base91(digits[at : at + 2]) for at in range(0, len(digits), 2))
    return replace(
        position,
        comment=comment[: found.start()] + comment[found.end() :],
        base91_telemetry=values,
    )
