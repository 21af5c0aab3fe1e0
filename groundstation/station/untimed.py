"""Which sources send times that can't be read, so that the person can be told."""

from collections.abc import Mapping
from dataclasses import dataclass

from groundstation.records import HeightReport, Report


@dataclass(frozen=True, slots=True, kw_only=True)
class UntimedSource:
    """How many reports in a row, and the newest of them."""

    count: int
    newest: Report | HeightReport


class Untimed:
    """Remembers of each source what it sent since its last time that could be read."""

    def __init__(self) -> None:
        self._sources: dict[str, UntimedSource] = {}

    @property
    def sources(self) -> Mapping[str, UntimedSource]:
        return self._sources

    def note(self, source: str, report: Report | HeightReport) -> None:
        if not report.time_unread:
            self._sources.pop(source, None)
            return
        before = self._sources.get(source)
        count = 1 if before is None else before.count + 1
        self._sources[source] = UntimedSource(count=count, newest=report)
