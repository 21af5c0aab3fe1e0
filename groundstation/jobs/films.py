"""What films does."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from groundstation.debrief.camera import (
    chapters,
    happened,
    photos,
    read_cameras,
    shown,
    sidecar,
    table,
)
from groundstation.debrief.exports import clean, gpx_of_photos
from groundstation.debrief.figures import track_of
from groundstation.debrief.own_log import beside
from groundstation.errors import InputFileError
from groundstation.jobs.debrief import one_flight, telling_of
from groundstation.jobs.files import write_text
from groundstation.payload_log.reading import read_log, read_log_settings


def write_films(
    database: Path,
    number: int | None,
    cameras: Path,
    own: tuple[Path, Path] | None,
    out: Path,
    config: Path | None = None,
) -> Iterator[str]:
    """A line for each thing that is to be seen; files into ``out``. Raises
    ``GroundstationError``."""
    flight = one_flight(database, number)
    videos = read_cameras(cameras)
    track = track_of(flight)
    clouds: tuple[tuple[float, float], ...] = ()
    if own is not None:
        laid = beside(flight, read_log(own[0], read_log_settings(own[1])))
        track = laid.track
        clouds = () if laid.air is None else laid.air.clouds
    if track is None:
        raise InputFileError(f"{flight.payload} sent too few heights")
    marks = list(shown(videos, happened(flight, track, clouds, telling_of(config))))
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputFileError(f"{out} can't be made: {error.strerror}; name another") from error
    rows = io.StringIO()
    csv.writer(rows, lineterminator="\n").writerows(table(marks))
    write_text(out / "films.csv", rows.getvalue())
    # Cameras of one make give their files the same names.
    for camera, film in dict.fromkeys((mark.camera, mark.film) for mark in marks):
        its = [mark for mark in marks if (mark.camera, mark.film) == (camera, film)]
        write_text(out / f"{_name(camera)}-{_name(film)}.vtt", chapters(its))
    for camera, film, at, _, what in list(table(marks))[1:]:
        yield f"{camera}  {film}  {at}  {what}"
    taken = list(photos(videos, track))
    for photo in taken:
        write_text(out / f"{_name(photo.camera)}-{photo.path.name}.xmp", sidecar(photo))
    if taken:
        write_text(out / "photos.gpx", gpx_of_photos(
            [(at.path.name, at.time_utc, at.latitude_deg, at.longitude_deg, at.altitude_m)
             for at in taken]
        ))  # fmt: skip
    if not marks and not taken:
        yield "No film or photo is of the time of this flight; look at switched_on or seen."
    else:
        yield f"{len(marks)} marks and {len(taken)} photos written to {out}"


def _name(text: str) -> str:
    """For a file: without folders."""
    return clean(Path(text).name)
