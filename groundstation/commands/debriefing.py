"""What logbook, export and debrief do."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from groundstation.commands.files import write_text
from groundstation.debrief.exports import FORMS
from groundstation.debrief.flights import FlightLog, flights
from groundstation.debrief.own_log import OwnLog, beside, estimated_again
from groundstation.debrief.report import report_html
from groundstation.errors import InputFileError
from groundstation.jsonout import frame_text
from groundstation.payload_log.reading import read_log, read_log_settings
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.spread import planned
from groundstation.records import Landing
from groundstation.store.reader import Reader


def logbook_lines(database: Path, payload: str | None) -> Iterator[str]:
    """A line a flight. Raises ``StoreError``."""
    with Reader(database) as reader:
        found = [one for one in flights(reader) if payload in (None, one.payload)]
    if not found:
        yield "There is no flight in it."
    for one in found:
        day = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(one.launch_utc))
        top = one.highest
        height = "" if top is None else f"{(top.altitude_m or 0.0) / 1000.0:5.1f} km"
        line = (
            f"{one.number:3}  {day:%Y-%m-%d %H:%M} UTC  {one.payload}  {height:8}"
            f"  {one.distance_m / 1000.0:5.0f} km away  {len(one.fixes):5} fixes  {one.outcome}"
        )
        yield frame_text(line.encode("utf-8", "replace"))


def write_export(database: Path, number: int | None, form: str, out: Path) -> str:
    """Write the flight as ``form``. Raises ``StoreError`` or ``InputFileError``."""
    flight = _one(database, number)
    write_text(out, FORMS[form](flight))
    return f"flight {flight.number}, {len(flight.fixes)} fixes, written to {out}"


def write_report(
    database: Path,
    number: int | None,
    plan: Path | None,
    out: Path,
    own: tuple[Path, Path] | None = None,
    say: Callable[[str], None] = lambda _step: None,
) -> str:
    """Write the report; ``own`` are the payload's log and the map of its columns. ``say`` is told
    each step. Raises ``StoreError``, ``InputFileError`` or ``ConfigurationError``."""
    say("reading the flight")
    flight = _one(database, number)
    expected = None if plan is None else plan_settings(planned(read_flight(plan)))
    laid: OwnLog | None = None
    again: tuple[Landing, ...] = ()
    if own is not None:
        say("reading the payload's log")
        log = read_log(own[0], read_log_settings(own[1]))
        say("laying it beside the flight")
        laid = beside(flight, log)
        say("estimating again from it")
        again = tuple(estimated_again(flight, laid.track, expected))
    say("drawing")
    write_text(out, report_html(flight, expected, laid, again))
    return f"flight {flight.number}, {flight.outcome}: written to {out}"


def _one(database: Path, number: int | None) -> FlightLog:
    with Reader(database) as reader:
        found = list(flights(reader))
    if not found:
        raise InputFileError(f"{database} holds no flight yet")
    if number is None:
        return found[-1]
    if number > len(found):
        raise InputFileError(f"{database} holds {len(found)} flights; see groundstation logbook")
    return found[number - 1]
