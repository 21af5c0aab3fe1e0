"""What logbook, export and debrief do."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Final

from groundstation import config as configuration
from groundstation.config import StationSettings
from groundstation.debrief.derive_lessons import Planned, learned
from groundstation.debrief.exports import FORMS
from groundstation.debrief.figures import figures, track_of
from groundstation.debrief.flights import FlightLog, flights, newest
from groundstation.debrief.own_log import OwnLog, beside, estimated_again
from groundstation.debrief.pictures import pictures
from groundstation.debrief.report import report_html
from groundstation.debrief.silences import silences
from groundstation.debrief.words import PLAIN, Telling
from groundstation.errors import ConfigurationError, InputFileError
from groundstation.flight.settings import FlightSettings
from groundstation.geo.places import known_places
from groundstation.html.print_pdf import write_pdf
from groundstation.jobs.files import write_text
from groundstation.jobs.spoken_language import language_of
from groundstation.jsonout import frame_text
from groundstation.language.catalogue import _, speaking
from groundstation.payload_log.reading import read_log, read_log_settings
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.lessons_file import Lesson, lessons_text, read_lessons, with_lesson
from groundstation.planning.readable_figures import Shown
from groundstation.planning.spread import planned
from groundstation.recordings.exported_frames import frame_lines
from groundstation.records import Frame, Landing
from groundstation.store.forget import forget
from groundstation.store.reader import Reader

COMPARED: Final = (
    " no  day           ascent  highest     fall   ground   in air distance interval  silence\n"
    "                      m/s       km      m/s      m/s      min       km        s      min"
)


def logbook_lines(
    database: Path, payload: str | None, having: str = "", *, compared: bool = False
) -> Iterator[str]:
    """A line a flight, of those whose line or note has the text ``having``; ``compared`` are
    figures side by side. Raises ``StoreError``."""
    with Reader(database) as reader:
        found = [
            flight for flight in flights(reader)
            if payload in (None, flight.payload) and having.casefold() in _searched(flight)
        ]  # fmt: skip
    if not found:
        yield "There is no flight in it." if not having else "There is no such flight in it."
    elif compared:
        yield COMPARED
    for flight in found:
        text = _compared(flight) if compared else _line(flight)
        yield frame_text(text.encode("utf-8", "replace"))


def remove(database: Path, number: int) -> str:
    """Remove the flight from the database. Raises ``StoreError`` or ``InputFileError``."""
    flight = one_flight(database, number)
    with Reader(database) as reader:
        earlier = [
            known.until_utc for known in flights(reader)
            if known.payload == flight.payload and known.launch_utc < flight.launch_utc
        ]  # fmt: skip
    # What was heard on the ground since the flight before it belongs to it.
    gone = forget(database, flight.payload, max(earlier, default=0.0), flight.until_utc)
    return f"flight {number} is removed, {gone} fixes; copies that were made before still hold it"


def _line(flight: FlightLog) -> str:
    top_m = flight.highest_m
    height = "" if top_m is None else f"{top_m / 1000.0:5.1f} km"
    return (
        f"{flight.number:3}  {_day(flight):%Y-%m-%d %H:%M} UTC  {flight.payload}  {height:8}"
        f"  {flight.distance_m / 1000.0:5.0f} km away  {len(flight.fixes):5} fixes"
        f"  {flight.outcome}"
    )


def _compared(flight: FlightLog) -> str:
    known = figures(flight)
    times = [fix.time_utc for fix in flight.fixes if fix.time_utc >= flight.launch_utc]
    apart = [after - before for before, after in pairwise(times)]

    def shown(value: float | None, scale: float = 1.0) -> str:
        return f"{'' if value is None else f'{scale * value:.1f}':>9}"

    return (
        f"{flight.number:3}  {_day(flight):%Y-%m-%d}{shown(known.ascent_rate_ms)}"
        f"{shown(known.highest_m, 1e-3)}{shown(known.descent_rate_ms)}{shown(known.touchdown_ms)}"
        f"{shown(known.duration_s, 1 / 60.0)}{shown(known.distance_m, 1e-3)}"
        f"{shown(median(apart) if apart else None)}"
        f"{shown(max(apart, default=None), 1 / 60.0)}  {flight.payload}, {flight.outcome}"
    )


def _searched(flight: FlightLog) -> str:
    note = "" if flight.found is None else f" {flight.found.note} {flight.found.who}"
    return f"{_line(flight)}{note}".casefold()


def _day(flight: FlightLog) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(flight.launch_utc))


def write_export(database: Path, number: int | None, form: str, out: Path) -> str:
    """Write the flight as ``form``. Raises ``StoreError`` or ``InputFileError``."""
    flight = one_flight(database, number)
    if form == "frames":
        heard = frames_of(database, flight)
        write_text(out, "".join(frame_lines(heard)))
        return f"flight {flight.number}, {len(heard)} frames, written to {out}"
    write_text(out, FORMS[form](flight))
    return f"flight {flight.number}, {len(flight.fixes)} fixes, written to {out}"


def frames_of(database: Path, flight: FlightLog) -> list[Frame]:
    """All that was heard from its first fix to its last. Raises ``StoreError``."""
    received = [fix.received_utc for fix in flight.fixes]
    first, last = min(received), max(received)
    with Reader(database) as reader:
        return [frame for _, frame in reader.frames(first) if frame.received_utc <= last]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportRequest:
    """What was asked for on the command line. ``own`` are the payload's log and the map of its
    columns, ``config`` the station's file, for base and trackers, or ``station`` what it holds.
    What is beside ``out`` is written where it is named: ``figures`` is a folder. It speaks
    ``language``, else the station's."""

    database: Path
    out: Path
    number: int | None = None
    plan: Path | None = None
    config: Path | None = None
    station: StationSettings | None = None
    own: tuple[Path, Path] | None = None
    lessons: Path | None = None
    figures: Path | None = None
    pdf: Path | None = None
    language: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """A report, of which flight, and the lesson that it keeps."""

    flight: FlightLog
    html: str
    lesson: Lesson | None
    text: str


def write_report(
    request: ReportRequest,
    say: Callable[[str], None] = lambda _step: None,
    teach: Callable[[str], None] = lambda _lesson: None,
) -> Iterator[str]:
    """Write the report and what goes with it, and yield a line for each file. ``say`` is told each
    step, ``teach`` the lesson as it may be kept, "" where there is none. Raises ``StoreError``,
    ``InputFileError`` or ``ConfigurationError``."""
    station = request.station
    if station is None and request.config is not None:
        station = configuration.load(request.config, os.environ)
    with speaking(language_of(request.language, station)):
        made = _made(request, station, say)
    teach(made.text)
    write_text(request.out, made.html)
    yield f"flight {made.flight.number}, {made.flight.outcome}: written to {request.out}"
    if request.figures is not None:
        yield _write_pictures(request.figures, made.html)
    if request.pdf is not None:
        say(_("printing"))
        write_pdf(request.out, request.pdf)
        yield f"printed to {request.pdf}"
    if request.lessons is not None:
        yield _write_lesson(request.lessons, made.lesson)


def _made(
    request: ReportRequest, station: StationSettings | None, say: Callable[[str], None]
) -> _Made:
    """In the language that is spoken."""
    say(_("reading the flight"))
    flight = one_flight(request.database, request.number)
    plan = None if request.plan is None else _planned(request.plan, flight.payload)
    expected = None if plan is None else plan.expected
    settings = None if station is None else _settings_of(station, flight)
    telling = _telling(station)
    with Reader(request.database) as reader:
        quiet = list(silences(flight, settings, reader.count_between, telling.shown))
    laid: OwnLog | None = None
    again: tuple[Landing, ...] = ()
    if request.own is not None:
        say(_("reading the payload's log"))
        log = read_log(request.own[0], read_log_settings(request.own[1]))
        say(_("laying it beside the flight"))
        laid = beside(flight, log, telling.shown)
        say(_("estimating again from it"))
        again = tuple(estimated_again(flight, laid.track, expected))
    track = track_of(flight) if laid is None else laid.track
    base = None if settings is None else settings.base
    taught = learned(flight, track, figures(flight, track), plan, base, telling.shown)
    say(_("drawing"))
    lesson = "" if taught.lesson is None else lessons_text([taught.lesson], head="").strip()
    html = report_html(flight, expected, laid, again, quiet, taught.words, lesson, telling)
    return _Made(flight=flight, html=html, lesson=taught.lesson, text=lesson)


def telling_of(config: Path | None) -> Telling:
    """The station's time zone and units, UTC and metric without its configuration."""
    return _telling(None if config is None else configuration.load(config, os.environ))


def _telling(station: StationSettings | None) -> Telling:
    if station is None:
        return replace(PLAIN, find=known_places().nearest)
    find = known_places(station.station.prepared.root).nearest
    return Telling(station.station.timezone, Shown(station.station.units), find)


def _write_pictures(folder: Path, html: str) -> str:
    count = 0
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, png in pictures(html):
            (folder / name).write_bytes(png)
            count += 1
    except OSError as error:
        raise InputFileError(
            f"{folder} can't be written: {error.strerror}; name another folder"
        ) from error
    return f"{count} figures as PNG in {folder}"


def _write_lesson(path: Path, lesson: Lesson | None) -> str:
    if lesson is None:
        return f"nothing for {path}: the flight was not heard from its launch through its fall"
    known = read_lessons(path) if path.exists() else ()
    kept = with_lesson(known, lesson)
    write_text(path, lessons_text(kept))
    return f"{len(kept)} {'lesson' if len(kept) == 1 else 'lessons'} in {path}"


def _planned(path: Path, payload: str) -> Planned:
    """Of this payload: another's would teach the wrong things."""
    file = read_flight(path)
    if file.name != payload:
        raise ConfigurationError(
            f"{path} is the plan of {file.name!r}, and the flight was of {payload!r}; give the"
            " flight file that it flew by, with that name"
        )
    plan = planned(file)
    return Planned(file=file, plan=plan, expected=plan_settings(plan, file.landing))


def _settings_of(station: StationSettings, flight: FlightLog) -> FlightSettings:
    known = configuration.flight_settings(station, flight.launch_utc)
    for lesson in known:
        if lesson.payload == flight.payload:
            return lesson
    raise ConfigurationError(
        f"the configuration has no payload {flight.payload!r}; give that which it flew under"
    )


def one_flight(database: Path, number: int | None) -> FlightLog:
    """By its number, else the last. Raises ``StoreError`` or ``InputFileError``."""
    with Reader(database) as reader:
        found = list(flights(reader))
    last = newest(found)
    if last is None:
        raise InputFileError(f"{database} holds no flight yet")
    if number is None:
        return last
    if number > len(found):
        raise InputFileError(f"{database} holds {len(found)} flights; see groundstation logbook")
    return found[number - 1]
