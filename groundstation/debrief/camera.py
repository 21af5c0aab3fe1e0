"""When in which film something happened, and where each photo was taken.

A camera's clock is seldom right, so a film is laid in time by the moment when the camera was
switched on, or by one thing that is seen in it: the launch, the burst or the touchdown.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal

import numpy as np

from groundstation.debrief.exports import clean
from groundstation.debrief.figures import Track
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.touchdown import came_down
from groundstation.debrief.words import PLAIN, Telling
from groundstation.errors import ConfigurationError
from groundstation.settings.builder import read_settings

HEIGHTS_M: Final = 5_000.0
"""A mark each so many metres: own choice, six up to 30 km."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmSettings:
    """One file of a camera; ``gap_s`` passes before it begins."""

    file: str
    lasts_s: float
    gap_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSettings:
    """Either ``switched_on`` (ISO 8601, UTC unless it says otherwise), or ``seen`` at ``seen_at_s``
    in the film ``seen_in``. Photos, by name, were taken each ``photo_every_s`` from
    ``first_photo`` on."""

    name: str
    switched_on: str = ""
    seen: Literal["", "launch", "burst", "touchdown"] = ""
    seen_in: str = ""
    seen_at_s: float = 0.0
    film: tuple[FilmSettings, ...] = ()
    photos: Path | None = None
    first_photo: str = ""
    photo_every_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraFile:
    """All cameras of a flight."""

    camera: tuple[CameraSettings, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """Something at ``at_s`` from the begin of a film."""

    camera: str
    film: str
    at_s: float
    time_utc: float
    what: str


@dataclass(frozen=True, slots=True)
class Photo:
    """Where a photo was taken; metres above mean sea level."""

    camera: str
    path: Path
    time_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float


def read_cameras(path: Path) -> CameraFile:
    """Raises ``ConfigurationError`` with all that is wrong, one a line."""
    return read_settings(path, CameraFile, "the cameras in")


def happened(
    flight: FlightLog,
    track: Track,
    clouds: tuple[tuple[float, float], ...] = (),
    telling: Telling = PLAIN,
) -> list[tuple[float, str]]:
    """(time, what) in order: launch, each 5 km, ``clouds`` (bottom, top) met, burst, touchdown."""
    found = [(flight.launch_utc, "launch")]
    if flight.burst_utc is not None:
        found.append((flight.burst_utc, "burst"))
    down = came_down(flight)
    if down is not None:
        found.append((down.when.time_utc, f"touchdown, {down.words(telling)}"))
    levels = [(height, _level(height, telling)) for height in _levels(telling)]
    for low, high in clouds:
        levels += [(low, "into cloud"), (high, "out of cloud")]
    for height, name in levels:
        found += [(at, f"{name}, going {way}") for at, way in _passed(track, height)]
    words = {"into cloud, going down": "out of cloud, going down",
             "out of cloud, going down": "into cloud, going down"}  # fmt: skip
    return sorted((at, words.get(what, what)) for at, what in found)


def shown(cameras: CameraFile, events: list[tuple[float, str]]) -> Iterator[Shown]:
    """Each event in each film that was running. Raises ``ConfigurationError``."""
    for camera in cameras.camera:
        begins = _begins(camera, events)
        for film in camera.film:
            begin = begins[film.file]
            for at, what in events:
                if begin <= at < begin + film.lasts_s:
                    yield Shown(camera.name, film.file, at - begin, at, what)


def photos(cameras: CameraFile, track: Track) -> Iterator[Photo]:
    """Those that were taken while the track was known. Raises ``ConfigurationError``."""
    for camera in cameras.camera:
        if camera.photos is None:
            continue
        if camera.photo_every_s <= 0.0:
            raise ConfigurationError(f"camera {camera.name}: photos need photo_every_s")
        first = _utc(camera, "first_photo", camera.first_photo)
        try:
            files = sorted(path for path in camera.photos.iterdir() if path.is_file())
        except OSError as error:
            raise ConfigurationError(
                f"camera {camera.name}: cannot read {camera.photos}: {error.strerror}"
            ) from error
        for n, path in enumerate(path for path in files if path.suffix.lower() != ".xmp"):
            at = first + n * camera.photo_every_s
            if track.time_s[0] <= at <= track.time_s[-1]:
                x, y, z = (
                    float(np.interp(at, track.time_s, along))
                    for along in (track.x_m, track.y_m, track.altitude_m)
                )
                lat, lon = track.plane.to_latlon(x, y)
                yield Photo(camera.name, path, at, float(lat), float(lon), z)


def chapters(marks: list[Shown]) -> str:
    """Chapters of one film as WebVTT (W3C), which players and editors read."""
    lines = ["WEBVTT", ""]
    ends = [mark.at_s for mark in marks[1:]] + [marks[-1].at_s + 60.0] if marks else []
    for mark, end in zip(marks, ends, strict=True):
        lines += [f"{_clock(mark.at_s)} --> {_clock(max(end, mark.at_s + 1.0))}", mark.what, ""]
    return "\n".join(lines)


def sidecar(photo: Photo) -> str:
    """An XMP packet (ISO 16684-1) with time and place by the Exif schema of XMP Specification,
    part 2."""
    moment = datetime.fromtimestamp(photo.time_utc, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    low = "1" if photo.altitude_m < 0.0 else "0"
    return (
        '<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF'
        ' xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""'
        ' xmlns:exif="http://ns.adobe.com/exif/1.0/"'
        f' exif:DateTimeOriginal="{moment}"'
        f' exif:GPSLatitude="{_angle(photo.latitude_deg, "N", "S")}"'
        f' exif:GPSLongitude="{_angle(photo.longitude_deg, "E", "W")}"'
        f' exif:GPSAltitude="{abs(photo.altitude_m) * 10.0:.0f}/10" exif:GPSAltitudeRef="{low}"'
        f' exif:GPSTimeStamp="{moment}"/></rdf:RDF></x:xmpmeta>\n<?xpacket end="w"?>\n'
    )


def table(marks: list[Shown]) -> Iterator[tuple[str, ...]]:
    """Rows for a CSV."""
    yield ("camera", "film", "at", "time", "what")
    for mark in marks:
        moment = datetime.fromtimestamp(mark.time_utc, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        at = _clock(mark.at_s).partition(".")[0]
        yield (clean(mark.camera), clean(mark.film), at, moment, mark.what)


def _begins(camera: CameraSettings, events: list[tuple[float, str]]) -> Mapping[str, float]:
    """When each film of a camera began."""
    since: dict[str, float] = {}
    at = 0.0
    for film in camera.film:
        at += film.gap_s
        since[film.file] = at
        at += film.lasts_s
    if camera.switched_on:
        on = _utc(camera, "switched_on", camera.switched_on)
    elif camera.seen:
        # The touchdown's mark says how sure it is.
        when = {what.partition(",")[0]: at for at, what in events}.get(camera.seen)
        if when is None:
            raise ConfigurationError(
                f"camera {camera.name}: the flight does not tell when its {camera.seen} was"
            )
        if camera.seen_in not in since:
            raise ConfigurationError(
                f"camera {camera.name}: seen_in is {camera.seen_in!r}, which is no file of its"
                " films"
            )
        on = when - camera.seen_at_s - since[camera.seen_in]
    elif camera.film:
        raise ConfigurationError(f"camera {camera.name}: give switched_on, or seen and seen_in")
    else:
        on = 0.0
    return {name: on + later for name, later in since.items()}


def _utc(camera: CameraSettings, name: str, text: str) -> float:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ConfigurationError(
            f"camera {camera.name}: {name} is {text!r}, which is no time such as"
            " 2026-05-16T08:12:30Z"
        ) from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _passed(track: Track, height_m: float) -> Iterator[tuple[float, str]]:
    """When it passed a height, the first time up and the last time down."""
    time, height = track.time_s, track.altitude_m
    up, down = height[: track.top + 1], height[track.top :]
    if up[0] < height_m <= up[-1]:
        n = int(np.argmax(up >= height_m))
        yield _between(time[n - 1], time[n], up[n - 1], up[n], height_m), "up"
    if len(down) > 1 and down[-1] < height_m <= down[0]:
        n = len(down) - 1 - int(np.argmax(down[::-1] >= height_m))
        later = time[track.top :]
        yield _between(later[n], later[n + 1], down[n], down[n + 1], height_m), "down"


def _between(t0: float, t1: float, z0: float, z1: float, z: float) -> float:
    return float(t0 + (t1 - t0) * (z - z0) / (z1 - z0))


def _clock(seconds: float) -> str:
    """Whole seconds, as nothing is known better; WebVTT wants three decimals."""
    whole = round(seconds)
    return f"{whole // 3_600:02}:{whole // 60 % 60:02}:{whole % 60:02}.000"


def _angle(degrees: float, positive: str, negative: str) -> str:
    """As XMP has it: DDD,MM.mmmmk."""
    # In ten-thousandths of a minute, so that 60 minutes never come out.
    whole, rest = divmod(round(abs(degrees) * 600_000.0), 600_000)
    letter = negative if math.copysign(1.0, degrees) < 0.0 else positive
    return f"{whole},{rest / 10_000.0:.4f}{letter}"


def _levels(telling: Telling) -> list[float]:
    """Each 5 km, or each 20,000 ft."""
    return [n * telling.shown.levels_m for n in range(1, 9)]


def _level(height_m: float, telling: Telling) -> str:
    return telling.shown.text("level", height_m)
