"""What the person tells the station about APRS packets."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class AprsFraming(StrEnum):
    """What a frame holds: a line in monitor form, or a KISS frame with an AX.25 UI frame."""

    TNC2 = "tnc2"
    AX25 = "ax25"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommentField:
    """A value in the comment: a regular expression whose one group is the number.

    ``name`` carries the unit in which it is kept, such as ``battery_v`` or ``temperature_c``;
    ``satellites`` becomes the report's count. ``unit`` is that in which it is sent, if another.
    """

    name: str
    pattern: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetryChannel:
    """One of the five values of a tracker's telemetry, ``channel`` 1 to 5: a x^2 + b x + c in
    ``unit`` is kept under ``name``, in the unit that ends the name."""

    channel: int
    name: str
    unit: str = ""
    a: float = 0.0
    b: float = 1.0
    c: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AprsSettings:
    """``utc_offset_s`` is how far the sender's clock is ahead of UTC, for time stamps that it
    gives in its own local time. ``telemetry`` names and scales channels that the tracker does not
    name and scale itself, or seldom."""

    kind: Literal["aprs"] = "aprs"
    framing: AprsFraming = AprsFraming.TNC2
    comment_fields: tuple[CommentField, ...] = ()
    telemetry: tuple[TelemetryChannel, ...] = ()
    utc_offset_s: float = 0.0
