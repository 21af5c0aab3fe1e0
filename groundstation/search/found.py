"""What became of a payload in the end."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

MOST_NOTE: Final = 2_000  # own choice: a page of text


class Condition(StrEnum):
    """How it was found. LOST: the search was given up, and the place is the best guess."""

    WHOLE = "whole"
    DAMAGED = "damaged"
    PARTS = "parts"
    LOST = "lost"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Where and when it was found; told to the station at ``told_utc``. The newest one counts."""

    payload: str
    time_utc: float
    told_utc: float
    latitude_deg: float
    longitude_deg: float
    condition: Condition
    who: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        """Raises ``ValueError`` with a sentence."""
        if not (-90.0 <= self.latitude_deg <= 90.0 and -180.0 <= self.longitude_deg <= 180.0):
            raise ValueError("a place is a latitude and a longitude in degrees")
        if len(self.note) > MOST_NOTE:
            raise ValueError(f"the note may have {MOST_NOTE:,} characters")
