"""How much hurry there is: known to the station, used by sources that ask at intervals."""

from dataclasses import dataclass


@dataclass(slots=True)
class Pace:
    """``hurried`` while something falls."""

    hurried: bool = False
