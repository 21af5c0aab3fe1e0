"""What the run command does: the clock, the start, and a clean end."""

import asyncio
import ctypes
import os
import shutil
import signal
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import click

from groundstation.alerts.base_watch import WatchSettings
from groundstation.alerts.targets import TerminalSettings
from groundstation.clock import Clock, RehearsalClock, SystemClock
from groundstation.config import StationSettings, load
from groundstation.errors import ConfigurationError, GroundstationError
from groundstation.jobs.own_recording import check_trackers
from groundstation.jsonout import iso_utc
from groundstation.language.catalogue import speak
from groundstation.publish.publisher import PLACE_ENDING
from groundstation.recordings.read_any import read_recording
from groundstation.sources.recording_source import RecordingSettings
from groundstation.station.station import database, run_station
from groundstation.store.connection import only_writer

DEFAULT_SPEED = 30.0
"""A rehearsal of two and a half hours in five minutes; our choice."""


def rehearse_or_run(
    config: Path | None,
    as_if: float | None,
    speed: float | None,
    env: Mapping[str, str],
    *,
    tell_targets: bool = False,
    rehearsal: str = "normal",
    recording: Path | None = None,
) -> None:
    """Run until SIGINT or SIGTERM. With ``tell_targets`` a rehearsal alerts real targets too.
    Without a ``config`` it plays the bundled ``rehearsal`` of that name; with one, a ``recording``
    in the place of its sources.

    Raises the ``GroundstationError`` that ended it otherwise.
    """
    settings = load(config, env, rehearsal)
    if config is not None and recording is not None:
        check_trackers(recording, config, read_recording(recording), settings)
        settings = replace(settings, source=(RecordingSettings(name="recording", path=recording),))
    speak(settings.station.language)
    folder = settings.station.data_dir
    # Where it was and who is told is nobody else's business on a machine that is shared.
    os.umask(0o077)
    try:
        clock = choose_clock(settings, as_if, speed or (None if config else DEFAULT_SPEED))
        _make_folder(folder)
        if clock.rehearsal and not tell_targets:
            settings = in_private(settings)
        if clock.rehearsal and as_if is None:
            _begin_anew(database(settings, clock))
        _keep_memory_together()
        asyncio.run(_until_stopped(settings, clock))
    except BaseExceptionGroup as group:
        errors = list(leaves(group))
        named = [error for error in errors if isinstance(error, GroundstationError)]
        if len(named) != len(errors):
            raise
        raise named[0] from group
    finally:
        if config is None:
            shutil.rmtree(folder, ignore_errors=True)


def choose_clock(settings: StationSettings, as_if: float | None, speed: float | None) -> Clock:
    """The real clock, or that of a rehearsal where a recording or ``as_if`` asks for one.

    Raises ``ConfigurationError`` for a speed without either, and where live sources stand beside
    a recording: their packets would be at odds with its time.
    """
    recordings = [source for source in settings.source if isinstance(source, RecordingSettings)]
    if as_if is None and recordings:
        if len(recordings) != len(settings.source):
            live = next(source for source in settings.source if source not in recordings)
            raise ConfigurationError(
                f"source {live.name!r} is live and {recordings[0].name!r} is a recording, and they "
                "would disagree about the time; leave one out, or give --as-if"
            )
        as_if = min(
            read_recording(recording.path).frames[0].received_utc for recording in recordings
        )
    if as_if is not None:
        return RehearsalClock(as_if, speed or 1.0)
    if speed is not None:
        raise ConfigurationError(
            "--speed is for rehearsals; give --recording FILE or --as-if TIME with it"
        )
    return SystemClock()


def in_private(settings: StationSettings) -> StationSettings:
    """Without what would tell anybody who is not at this machine."""
    here = tuple(target for target in settings.target if isinstance(target, TerminalSettings))
    return replace(settings, target=here, phones=None, friends=None, watch=WatchSettings())


def leaves(group: BaseExceptionGroup[BaseException]) -> Iterator[BaseException]:
    """The errors in a group of groups."""
    for error in group.exceptions:
        if isinstance(error, BaseExceptionGroup):
            yield from leaves(error)
        else:
            yield error


async def _until_stopped(settings: StationSettings, clock: Clock) -> None:
    station = asyncio.create_task(
        run_station(settings, clock, ready=_greeting(settings, clock), report=_report),
        name="station",
    )
    loop = asyncio.get_running_loop()
    stopped = False

    def stop() -> None:
        nonlocal stopped
        stopped = True
        station.cancel()

    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop)
    try:
        await station
    except asyncio.CancelledError:
        if not stopped:
            raise
    click.echo("The station has stopped; everything it took is on disk.", err=True)


def _report(
    settings: StationSettings,
    path: Path,
    payload: str,
    keep_lesson: bool,
    say: Callable[[str], None],
) -> tuple[Path, str]:
    # Drawing and reading logs need much that a station without a report never does.
    from groundstation.jobs.station_report import write_newest  # noqa: PLC0415

    return write_newest(settings, path, payload, keep_lesson, say)


def _greeting(settings: StationSettings, clock: Clock) -> Callable[[str], None]:
    def greet(address: str) -> None:
        lines = [f"{settings.station.name} is running. Ctrl-C stops it."]
        if clock.rehearsal:
            lines.append(
                f"  rehearsal  as if it were {iso_utc(clock.now_utc())}, "
                f"{clock.speed:g} times real time"
            )
        payloads = ", ".join(payload.name for payload in settings.payload)
        sources = ", ".join(f"{source.name} ({source.kind})" for source in settings.source)
        targets = ", ".join(f"{target.name} ({target.kind})" for target in settings.target)
        nobody = "nobody; add a [[target]]"
        if clock.rehearsal:
            nobody = "the page only; --tell-targets alerts your targets in a rehearsal too"
        lines += [
            f"  page       {address}",
            f"  payload    {payloads}",
            f"  source     {sources}",
            f"  alerts to  {targets or nobody}",
            f"  data in    {database(settings, clock)}",
        ]
        click.echo("\n".join(lines), err=True)

    return greet


def _keep_memory_together() -> None:
    """Give all threads one heap (mallopt(3), M_ARENA_MAX): with one for each, what estimates leave
    behind adds up over the days. Other C libraries than GNU's know no such thing."""
    with suppress(AttributeError):
        ctypes.CDLL(None).mallopt(-8, 1)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ConfigurationError(
            f"station.data_dir {folder} cannot be made: {error.strerror}; name another"
        ) from error


def _begin_anew(path: Path) -> None:
    """Forget the last rehearsal: its packets would make those of this one duplicates."""
    with only_writer(path):
        for ending in ("", "-wal", "-shm", PLACE_ENDING):
            path.with_name(f"{path.name}{ending}").unlink(missing_ok=True)
