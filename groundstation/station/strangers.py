"""Whose packets come that no payload has: a tracker's id that was written down wrongly loses the
flight without a word."""

from collections.abc import Collection, Iterator
from typing import Final

from groundstation.alerts.quantities import span_text
from groundstation.flight.flights import Flights
from groundstation.flight.roster import plain_id
from groundstation.language.catalogue import N_, _

MOST: Final = 200
"""Ids that are remembered; a shared network has thousands, and only those like ours count."""

FEW: Final = 3
"""Where no more than so many are heard, one of them may well be ours under any name. Own choice."""

BEFORE_LAUNCH_S: Final = 7_200.0  # own choice, see MISSED_S
AFTER_LAUNCH_S: Final = 600.0  # own choice, see MISSED_S
MISSED_S: Final = 6 * 3_600.0
"""From two hours before its planned launch a payload should be heard, and urgently ten minutes
after; six hours later it was put off. Own choices."""


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
            if few or any(_alike(plain_id(tracker), plain_id(other)) for other in ids):
                yield tracker


def lines_for(tracker: str) -> str:
    """What to add to the configuration below the payload that has ``tracker``."""
    quoted = tracker.replace("\\", "\\\\").replace('"', '\\"')
    return f'[[payload.tracker]]\nid = "{quoted}"'


def unheard(
    flights: Flights, strangers: Strangers, now_utc: float
) -> Iterator[tuple[str, str, bool]]:
    """Payloads that are missed: what the matter is called, a sentence, and whether it is urgent."""
    silent = [name for name in flights.payloads if flights.state(name).motion.last is None]
    ids = [tracker.id for name in silent for tracker in flights.settings(name).trackers]
    for tracker in strangers.like(ids) if ids else ():
        lines = lines_for(tracker).replace("\n", ", ")
        yield (
            _("tracker {tracker}", tracker=tracker),
            _(
                "Packets are coming from {tracker}, which no payload has, and none from {ids}. If"
                " it is yours, add below its payload: {lines}, and start the station again.",
                tracker=tracker,
                ids=_(" or ").join(ids),
                lines=lines,
            ),
            False,
        )
    for name in flights.payloads:
        launch, last = flights.settings(name).launch_utc, flights.state(name).motion.last
        if launch is None or not launch - BEFORE_LAUNCH_S <= now_utc < launch + MISSED_S:
            continue
        if last is not None and last.received_utc >= launch - BEFORE_LAUNCH_S:
            continue
        before = N_(
            "{name} is to be launched in {span} and was not heard. See that its trackers are on,"
            " that their ids are those of the configuration, and that the sources are connected."
        )
        after = N_(
            "{name} was to be launched {span} ago and was not heard. See that its trackers are on,"
            " that their ids are those of the configuration, and that the sources are connected."
        )
        text = before if now_utc < launch else after
        yield (
            _("{name} not heard", name=name),
            _(text, name=name, span=span_text(abs(now_utc - launch))),
            now_utc >= launch + AFTER_LAUNCH_S,
        )


def _alike(a: str, b: str) -> bool:
    """Of one callsign (what stands before the "-"), or one character apart."""
    if a.partition("-")[0] == b.partition("-")[0]:
        return True
    shorter, longer = sorted((a, b), key=len)
    if len(shorter) == len(longer):
        return sum(x != y for x, y in zip(a, b, strict=True)) == 1
    without = (longer[:n] + longer[n + 1 :] for n in range(len(longer)))
    return len(longer) - len(shorter) == 1 and shorter in without
