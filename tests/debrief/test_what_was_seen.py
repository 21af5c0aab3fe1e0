"""What people saw stands in the report, with who told it, and what they took back says so."""

import lzma
from dataclasses import replace
from pathlib import Path

from groundstation.debrief.flights import flights, newest
from groundstation.debrief.report import report_html
from groundstation.flight.sightings import NoFlight
from groundstation.jobs.debrief import logbook_lines
from groundstation.records import Phase, PhaseChange
from groundstation.store.batch import Batch
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
    assert "its signal comes from 19° (± 15°). from the dam" in section
    assert "47.60000, 20.30000" in section
    assert section.count("(taken back)") == 1
    assert section.index("looked here and found nothing") < section.index("(taken back)")


async def test_a_flight_that_was_none_is_told_so_and_not_reported_first(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    path.write_bytes(lzma.decompress(OLD.read_bytes()))
    async with Store.open(path):
        pass
    with Reader(path) as reader:
        [flight] = flights(reader)
    word = NoFlight(number=1, at_utc=flight.launch_utc + 60.0, told_utc=flight.launch_utc + 90.0)
    drive = replace(flight, number=2, seen=((word, False),))
    assert drive.called_off
    assert drive.outcome == "no flight, as somebody said"
    assert newest((flight, drive)) is flight
    assert newest((drive,)) is drive
    assert newest(()) is None
    taken_back = replace(flight, number=2, seen=((word, True),))
    assert not taken_back.called_off
    assert newest((flight, taken_back)) is taken_back


async def test_a_flight_that_goes_on_after_all_is_one_flight(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    path.write_bytes(lzma.decompress(OLD.read_bytes()))
    async with Store.open(path) as store:
        with Reader(path) as reader:
            [flight] = flights(reader)
        again = PhaseChange(
            payload=flight.payload,
            time_utc=flight.launch_utc + 900.0,
            phase=Phase.ASCENT,
            since_utc=flight.launch_utc,
        )
        await store.commit(Batch(phases=(again,)))
    assert len(list(logbook_lines(path, None))) == 1
