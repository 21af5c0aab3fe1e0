"""What stands in the text after a position: course and speed, altitude, digits, measurements."""

import math
import re
from dataclasses import replace
from typing import Final

from groundstation.decoders.aprs.position import MINUTE_M, Position
from groundstation.decoders.aprs.settings import CommentField
from groundstation.decoders.linear import LinearPattern, compiled
from groundstation.decoders.quantities import Conversion, conversion
from groundstation.decoders.text import number
from groundstation.errors import ConfigurationError
from groundstation.units import FOOT_M, KNOT_MS

MAX_SEARCHED: Final = 256
"""Characters in which values are looked for: an AX.25 information field has no more bytes."""
_EXTENSION: Final = re.compile(rb"([0-9 .]{3})/([0-9 .]{3})")
_ALTITUDE: Final = re.compile(rb"/A=(-[0-9]{5}|[0-9]{6})")
_DIGITS: Final = re.compile(rb"(?=!([A-Za-z])([ -{]{2})!)")


def with_course(position: Position) -> Position:
    """Read ``CCC/SSS`` in degrees and knots at the beginning of the text (ch. 7).

    Three zeros, spaces or points stand for an unknown course, and for an unknown speed where the
    course is unknown too.
    """
    found = _EXTENSION.match(position.comment)
    if found is None:
        return position
    course = int(found[1]) if found[1].isdigit() else 0
    speed = int(found[2]) if found[2].isdigit() else 0
    known = 1 <= course <= 360
    return replace(
        position,
        course_deg=course % 360.0 if known else None,
        speed_ms=speed * KNOT_MS if known or speed else None,
        comment=position.comment[found.end() :],
    )


def with_altitude(position: Position) -> Position:
    """Read ``/A=`` and six characters, in feet, anywhere in the text (ch. 6).

    It stands before an altitude that the format itself gave, being finer. A minus sign for the
    first digit is common practice, no source.
    """
    found = _ALTITUDE.search(position.comment)
    if found is None:
        return position
    return replace(position, altitude_m=int(found[1]) * FOOT_M)


def with_more_digits(position: Position) -> Position:
    """Read ``!Wnn!`` (digits) or ``!wxx!`` (base 91) as the next digits of the minutes.

    Source: the precision and datum option of the APRS 1.2 addenda, of which a packet has one.
    Trackers are heard that add a group in each packet after power-up until the text holds three,
    and from then on send the same three with every position (seen on seven of the project's real
    flights). Only a single group is of this position; with more of them none is used.
    """
    if not position.refinable:
        return position
    groups = _DIGITS.findall(position.comment)
    if len(groups) != 1:
        return position
    datum, characters = groups[0]
    if datum == b"W" and characters.isdigit():
        lat_min, lon_min = ((byte - ord("0")) * 1e-3 for byte in characters)
        step_min = 1e-3
    elif datum == b"w" and b" " not in characters:
        lat_min, lon_min = ((byte - 33) / 91.0 * 0.01 for byte in characters)
        step_min = 0.01 / 91.0
    else:
        return position
    return replace(
        position,
        latitude_deg=position.latitude_deg + math.copysign(lat_min / 60.0, position.latitude_deg),
        longitude_deg=position.longitude_deg
        + math.copysign(lon_min / 60.0, position.longitude_deg),
        half_width_m=0.5 * step_min * MINUTE_M,
    )


class FieldReader:
    """Finds the configured measurements in a comment.

    Raises ``ConfigurationError`` for a bad regular expression, for one without exactly one group,
    and for a unit that does not fit the name.
    """

    def __init__(self, fields: tuple[CommentField, ...]) -> None:
        self._fields = tuple(
            (field.name, _compiled(field), conversion(field.name, field.unit)) for field in fields
        )

    def read(self, comment: str) -> dict[str, float]:
        """The measurements that are found, in the units of their names."""
        searched = comment[:MAX_SEARCHED]
        values: dict[str, float] = {}
        for name, pattern, convert in self._fields:
            value = _value(pattern, searched, convert)
            if value is not None:
                values[name] = value
        return values


def _value(pattern: LinearPattern, text: str, convert: Conversion) -> float | None:
    found = pattern.search(text)
    value = number(found.group(1) or "") if found else None
    return None if value is None else convert(value)


def _compiled(field: CommentField) -> LinearPattern:
    pattern = compiled(field.pattern, f"comment_fields: the pattern of {field.name}")
    if pattern.groups != 1:
        raise ConfigurationError(
            f"comment_fields: the pattern of {field.name} needs one group, such as '([0-9.]+)V'"
        )
    return pattern
