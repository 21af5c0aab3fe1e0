"""Where things lie that were fetched beforehand."""

from dataclasses import dataclass
from pathlib import Path

from groundstation.prepare.record import read_record


@dataclass(frozen=True, slots=True)
class Prepared:
    """The folder of a station for that; villages lie in ``root`` itself."""

    root: Path

    @property
    def forecast(self) -> Path:
        return self.root / "forecast.csv"

    @property
    def terrain(self) -> Path:
        return self.root / "terrain"

    def whom(self, what: str) -> str:
        """Who has to be named with it, in a line; "" where that is not known."""
        fetched = read_record(self.root).get(what)
        return "" if fetched is None else fetched.credit

    @property
    def maps(self) -> Path:
        return self.root / "maps"
