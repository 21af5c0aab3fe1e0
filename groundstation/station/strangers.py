"""Whose packets come that no payload has: a tracker's id that was written down wrongly loses the
flight without a word."""

from collections.abc import Collection, Iterator
from typing import Final

from groundstation.flight.roster import plain_id

MOST: Final = 200
"""Ids that are remembered; a shared network has thousands, and only those like ours count."""

FEW: Final = 3
"""Where no more than so many are heard, one of them may well be ours under any name. Own choice."""


class Strangers:
    """The ids that were heard and belong to nobody here, with how often."""

    def __init__(self) -> None:
        self.heard: dict[str, int] = {}

    def note(self, tracker: str) -> None:
        if tracker in self.heard or len(self.heard) < MOST:
            self.heard[tracker] = self.heard.get(tracker, 0) + 1

    def like(self, ids: Collection[str]) -> Iterator[str]:
        """Those that may be one of ``ids``, none of which was heard: of the same callsign, one
        character off, or hardly anybody else is heard."""
        few = len(self.heard) <= FEW
        for tracker in sorted(self.heard):
            if few or any(_alike(plain_id(tracker), plain_id(one)) for one in ids):
                yield tracker


def lines_for(tracker: str) -> str:
    """What to add to the configuration below the payload that has ``tracker``."""
    quoted = tracker.replace("\\", "\\\\").replace('"', '\\"')
    return f'[[payload.tracker]]\nid = "{quoted}"'


def _alike(a: str, b: str) -> bool:
    """Of one callsign (what stands before the "-"), or one character apart."""
    if a.partition("-")[0] == b.partition("-")[0]:
        return True
    shorter, longer = sorted((a, b), key=len)
    if len(shorter) == len(longer):
        return sum(x != y for x, y in zip(a, b, strict=True)) == 1
    without = (longer[:n] + longer[n + 1 :] for n in range(len(longer)))
    return len(longer) - len(shorter) == 1 and shorter in without
