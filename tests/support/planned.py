"""What ``plan`` says and writes of an invented flight in each language, as text, and how it was
last read: ``tests/planning/plan_en.txt`` and its like. After a change that is meant, ``python -m
tests.support.planned`` writes it anew; then read it as who gets it would.

The flight is that of the example's file, with too little gas, two candidates for the site, a
keep-out, and winds of a table. All names are invented.
"""

import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from groundstation.jobs.plan import PlanRequest, work, write
from groundstation.jobs.plan_text import plan_text
from groundstation.language.catalogue import languages
from tests.support.plans import changed, winds
from tests.support.reported import as_text

TESTS: Final = Path(__file__).resolve().parents[1]
NEXT_SITE: Final = (
    '\n[[candidate]]\nname = "Dűlő"\nlatitude_deg = 47.30\nlongitude_deg = 19.90\n'
    "altitude_m = 95.0\n"
)


@dataclass(frozen=True, slots=True)
class Written:
    """What is printed, the notice as text, and the brief as HTML."""

    printed: str
    notice: str
    brief: str

    def lines(self) -> list[str]:
        """All that is read."""
        return [*self.printed.splitlines(), *self.notice.splitlines(), *as_text(self.brief)]


def kept(language: str) -> Path:
    """The text as it was last read."""
    return TESTS / "planning" / f"plan_{language}.txt"


def planned_in(language: str) -> Written:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        flight = changed(
            folder, ('pressure_pa = "200 bar"', 'pressure_pa = "60 bar"'),
            ('diameter_m = "1.2 m"', 'diameter_m = "80 cm"'),
            ("\n[limits]", f"{NEXT_SITE}\n[limits]"),
        )  # fmt: skip
        box = [[21.0, 46.5], [23.0, 46.5], [23.0, 47.7], [21.0, 47.7], [21.0, 46.5]]
        shapes = (
            {"type": "Polygon", "coordinates": [box]},
            {"type": "LineString", "coordinates": [[20.5, 47.0], [21.0, 47.2]]},
            None,
        )
        keep_out = folder / "keep_out.geojson"
        features = [{"type": "Feature", "properties": {}, "geometry": shape} for shape in shapes]
        keep_out.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
        request = PlanRequest(
            flight=flight,
            winds=(winds(folder),),
            hours=1,
            keep_out=keep_out,
            notice=folder / "notice.txt",
            brief=folder / "brief.html",
            language=language,
        )
        worked = work(request)
        write(request, worked)
        return Written(
            printed=plan_text(worked, checklist=True),
            notice=(folder / "notice.txt").read_text("utf-8"),
            brief=(folder / "brief.html").read_text("utf-8"),
        )


if __name__ == "__main__":
    for each in languages():
        kept(each).write_text("\n".join(planned_in(each).lines()) + "\n", encoding="utf-8")
