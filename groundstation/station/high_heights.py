"""Which sources send heights where no balloon is: feet that are taken for metres, mostly."""

from collections.abc import Mapping
from typing import Final

from groundstation.flight.gate import HIGHEST_M
from groundstation.records import HeightReport, Report

IN_A_ROW: Final = 3  # own choice: one is a packet that was damaged


class HighHeights:
    """Remembers of each source how many such heights came in a row, and the newest of them."""

    def __init__(self) -> None:
        self._sources: dict[str, tuple[int, Report | HeightReport]] = {}

    @property
    def sources(self) -> Mapping[str, Report | HeightReport]:
        """The newest report of each source that goes on sending such heights."""
        return {
            name: newest for name, (count, newest) in self._sources.items() if count >= IN_A_ROW
        }

    def note(self, source: str, report: Report | HeightReport) -> None:
        height = report.altitude_m
        if height is None:
            return
        if height <= HIGHEST_M:
            self._sources.pop(source, None)
            return
        count, _ = self._sources.get(source, (0, report))
        self._sources[source] = count + 1, report
