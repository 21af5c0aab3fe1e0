"""The forms by name, and the line that marks them all as invented."""

from enum import StrEnum
from typing import Final


class Form(StrEnum):
    """How a simulated flight is written down."""

    TRACK = "track"
    PACKETS = "packets"
    JSON = "json"
    NMEA = "nmea"
    DELIMITED = "delimited"
    KISS = "kiss"


INVENTED: Final = (
    "Invented: a simulated flight. The Pusztaszél Balloon Circle, its payload and its callsigns"
    " belong to nobody."
)
