"""What people saw stands in the report, with who told it, and what they took back says so."""

import lzma
from pathlib import Path

from groundstation.debrief.flights import flights
from groundstation.debrief.report import report_html
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

OLD = Path(__file__).resolve().parents[1] / "store" / "old" / "0008.sqlite.xz"


async def test_the_report_tells_what_was_seen(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    path.write_bytes(lzma.decompress(OLD.read_bytes()))
    async with Store.open(path):
        pass
    with Reader(path) as reader:
        [flight] = flights(reader)
    text = report_html(flight)
    section = text[text.index("What was seen") : text.index("What was told")]
    assert "burst seen or heard. a pop" in section
    assert "its signal comes from 19° (±\u00a015°). from the dam" in section
    assert "47.60000, 20.30000" in section
    assert section.count("(taken back)") == 1
    assert section.index("looked here and found nothing") < section.index("(taken back)")
