"""Where things lie that were fetched beforehand."""

from dataclasses import dataclass
from pathlib import Path


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

    @property
    def maps(self) -> Path:
        return self.root / "maps"
