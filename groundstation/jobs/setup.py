"""What the setup command does: a configuration from answers."""

import json
import os
import re
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from groundstation.decoders.angles import read_angle
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.errors import ConfigurationError
from groundstation.jobs.check import check_all
from groundstation.jobs.explain import (
    SOURCE_LINES,
    explain,
    first_report,
    proposed,
    raw_bytes,
    source_lines,
)
from groundstation.jobs.files import write_configuration
from groundstation.jobs.guessing.forms import NAME, Proposal
from groundstation.jobs.install import DATA
from groundstation.jobs.install import installed as install
from groundstation.language.catalogue import languages
from groundstation.planning.flight_file import read_flight
from groundstation.planning.label import contact_address
from groundstation.settings.private_file import write_private
from groundstation.units import Units, parse_quantity

PHONE_FILE: Final = "phone-url"
BY_HAND: Final = {"aprs": AprsSettings, "nmea": NmeaSettings}
"""Forms that need no message to be known by."""

_PLACE: Final = re.compile(
    r"([^,;]+)[,;]([^,;]+)|(\S+)\s+(\S+)|(.+[NS])\s+(.+[EW])|([NS].+?)\s+([EW].+)", re.IGNORECASE
)
"""Two angles: with a mark between them, a space, or their sides after or before them."""

_VALUE: Final = re.compile(r"(\w+) = (.+)")


@dataclass(slots=True, kw_only=True)
class Answers:
    """What a person said; "" where they said nothing. ``source`` are settings of the source by
    name, ``base`` a latitude and a longitude."""

    name: str = "groundstation"
    data_dir: str = "data"
    payload: str = "balloon"
    message: str = ""
    form: str = "aprs"
    kind: str = ""
    source: dict[str, str] = field(default_factory=dict)
    tracker: str = ""
    tracker_kind: str = "radio"
    interval: str = "60 s"
    flight: str = ""
    base: str = ""
    altitude: str = "0 m"
    contact: str = ""
    phone: str = ""
    push: str = ""
    units: str = "metric"
    language: str = "en"
    timezone: str = "UTC"
    now_utc: float = field(default_factory=time.time)

    @property
    def as_service(self) -> bool:
        """Whether its data lie where a service may write."""
        return Path(self.data_dir).is_relative_to(DATA)


def understood(answers: Answers) -> Proposal:
    """How the message is read, or, without one, the form that was chosen.

    Raises ``ConfigurationError`` for a message that nothing reads.
    """
    if not answers.message:
        made = BY_HAND[_one_of("form", answers.form, BY_HAND)]()
        if isinstance(made, NmeaSettings):
            made = replace(made, tracker=NAME)
        return Proposal(made, ("tcp", "serial", "udp", "file"))
    data = raw_bytes(answers.message)
    found = proposed(data, answers.now_utc)
    if found is None or found.alone:
        raise ConfigurationError(
            "no position is found in this message; groundstation check --explain MESSAGE tells"
            " more. Leave it out to go on without it"
        )
    return found


def tracker_of(found: Proposal, answers: Answers) -> str:
    """What the message calls its tracker, or ""."""
    if not answers.message:
        return ""
    report = first_report(found, raw_bytes(answers.message), answers.now_utc)
    return "" if report is None or report.tracker == NAME else report.tracker


def source_questions(kind: str) -> Iterator[tuple[str, str]]:
    """The settings that a source of this kind needs, each with an example."""
    for line in SOURCE_LINES[kind]:
        found = _VALUE.match(line)
        if found is not None and not found[2].startswith("{"):
            yield found[1], found[2].strip('[]"')


def text_of(answers: Answers) -> str:
    """The configuration. Raises ``ConfigurationError`` for an answer that can't be."""
    found = understood(answers)
    kind = answers.kind or found.kinds[0]
    _one_of("kind", kind, SOURCE_LINES)
    tracker = answers.tracker or tracker_of(found, answers)
    if not tracker:
        raise ConfigurationError("what is the tracker called? Give --tracker NAME")
    return "\n".join(
        (
            '# Made by "groundstation setup". config/station.toml explains every setting.',
            *_station(answers),
            *_base(answers),
            *_payload(answers, tracker),
            *_source(answers, found, kind, tracker),
            *_told(answers),
            "",
        )
    )


def write(answers: Answers, path: Path, env: Mapping[str, str]) -> Iterator[str]:
    """Write the configuration, and the secrets beside it; says what was written.

    Raises ``ConfigurationError``, and leaves a file that was there as it was.
    """
    text = text_of(answers)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if answers.phone:
            write_private(path.with_name(PHONE_FILE), f"{answers.phone}\n".encode())
            yield f"{path.with_name(PHONE_FILE)} holds the phone's address, for you alone"
        write_configuration(path, text, _made_up(text, env))
    except OSError as error:
        raise ConfigurationError(f"cannot write {path}: {error.strerror}") from error
    yield f"{path} written"
    for name in sorted(set(re.findall(r'env = "(\w+)"', text)) - env.keys()):
        yield f"To do: put the secret into the environment variable {name}"


def explained(answers: Answers) -> Iterator[str]:
    """How the message is read, as ``check --explain`` says it."""
    yield from explain(raw_bytes(answers.message), None, {}, answers.now_utc)


def tried(
    path: Path,
    env: Mapping[str, str],
    *,
    send: bool,
    wait_s: float,
    say: Callable[[str], object],
) -> bool:
    """What ``check`` finds of it; whether all passed."""
    try:
        return check_all(path, env, send=send, wait_s=wait_s, say=say)
    except ConfigurationError as error:
        say(f"FAIL  configuration: {error}")
        return False


def installed(path: Path) -> Iterator[str]:
    """Make it a service. Raises ``GroundstationError``."""
    yield from install(path, Path("/etc/systemd/system"), start=True)


def checked(name: str, answer: str) -> str:
    """``answer`` to the question ``name``, tidied. Raises ``ConfigurationError``."""
    plain = answer.strip()
    match name:
        case "base" if plain:
            _place(plain)
        case "altitude":
            parse_quantity(plain, "length")
        case "interval":
            parse_quantity(plain, "time")
        case "flight" if plain:
            read_flight(Path(plain))
            plain = str(Path(plain).absolute())
        case "contact" if plain:
            contact_address(plain)
        case "push" if plain and not plain.startswith(("mailto:", "https://")):
            plain = f"mailto:{plain}"
        case "units":
            _one_of(name, plain, [str(unit) for unit in Units])
        case "language":
            _one_of(name, plain, languages())
        case "timezone":
            _zone(plain)
        case "kind":
            _one_of(name, plain, SOURCE_LINES)
        case "tracker_kind":
            _one_of("tracker-kind", plain, ("radio", "satellite", "cellular", "log"))
    return plain


def usual_folder(path: Path) -> str:
    """Where the data go: beside the configuration, for one in /etc where a service may write."""
    return str(DATA) if path.absolute().is_relative_to("/etc") else "data"


def own_timezone() -> str:
    """That of this machine, where it tells."""
    there = os.environ.get("TZ", "").lstrip(":")
    link = Path("/etc/localtime")
    if not there and link.is_symlink():
        there = str(link.readlink()).partition("zoneinfo/")[2]
    try:
        return _zone(there or "UTC")
    except ConfigurationError:
        return "UTC"


def _station(answers: Answers) -> Iterator[str]:
    yield "\n[station]"
    yield f"name = {_quoted(answers.name)}"
    if answers.contact:
        yield f"contact = {_quoted(answers.contact)}"
    yield f"data_dir = {_quoted(answers.data_dir)}"
    yield f'timezone = "{answers.timezone}"'
    yield f'units = "{answers.units}"'
    yield f'language = "{answers.language}"'


def _base(answers: Answers) -> Iterator[str]:
    if not answers.base:
        return
    latitude, longitude = _place(answers.base)
    yield "\n[base]"
    yield f"latitude_deg = {latitude:.5f}"
    yield f"longitude_deg = {longitude:.5f}"
    yield f"altitude_m = {parse_quantity(answers.altitude, 'length'):.0f}"


def _payload(answers: Answers, tracker: str) -> Iterator[str]:
    yield "\n[[payload]]"
    yield f"name = {_quoted(answers.payload)}"
    if answers.flight:
        yield f"flight = {_quoted(answers.flight)}"
    yield "\n[[payload.tracker]]"
    yield f"id = {_quoted(tracker)}"
    yield f'kind = "{answers.tracker_kind}"'
    yield f"interval_s = {parse_quantity(answers.interval, 'time'):g}"


def _source(answers: Answers, found: Proposal, kind: str, tracker: str) -> Iterator[str]:
    """As ``check --explain`` shows it, with what was answered in the place of its examples."""
    decoder: Any = found.decoder
    if any(known.name == "tracker" for known in fields(decoder)) and decoder.tracker == NAME:
        decoder = replace(decoder, tracker=tracker)
    yield ""
    for line in source_lines(replace(found, decoder=decoder, kinds=(kind,))):
        name = line.partition(" = ")[0]
        if name == "name":
            yield 'name = "tracker"'
        elif name in answers.source:
            yield f"{name} = {_like(line.partition(' = ')[2], answers.source[name])}"
        else:
            yield line


def _told(answers: Answers) -> Iterator[str]:
    if answers.phone:
        yield '\n[[target]]\nname = "phone"\nkind = "apprise"'
        origin = "credential" if answers.as_service else "file"
        yield f'url = {{ {origin} = "{PHONE_FILE}" }}'
    yield '\n[[target]]\nname = "terminal"\nkind = "terminal"'
    if answers.push:
        yield f"\n[phones]\ncontact = {_quoted(answers.push)}"


def _like(example: str, answer: str) -> str:
    """The answer as TOML of the same kind as the example."""
    if example.startswith("["):
        return f"[{', '.join(_quoted(part.strip()) for part in answer.split(','))}]"
    return answer if example.isdigit() and answer.isdigit() else _quoted(answer)


def _place(text: str) -> tuple[float, float]:
    found = _PLACE.fullmatch(text.strip())
    parts = [part for part in found.groups() if part is not None] if found else []
    if len(parts) == 2:
        latitude, longitude = read_angle(parts[0], "lat", "deg"), read_angle(parts[1], "lon", "deg")
        if latitude is not None and longitude is not None:
            place = latitude.degrees, longitude.degrees
            if abs(place[0]) <= 90.0 and abs(place[1]) <= 180.0:
                return place
    raise ConfigurationError(f"{text!r} is no place; give it as 47.1000, 20.3000")


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError) as error:
        raise ConfigurationError(
            f"{text!r} is no time zone; give its name, as Europe/Budapest"
        ) from error
    return text


def _one_of(what: str, answer: str, known: Any) -> str:
    if answer not in known:
        raise ConfigurationError(f"{what}: {answer!r} is none of {', '.join(known)}")
    return answer


def _made_up(text: str, env: Mapping[str, str]) -> dict[str, str]:
    """``env`` with something for each secret that is not there yet, so that the rest is tried."""
    return {**dict.fromkeys(re.findall(r'env = "(\w+)"', text), "json://x"), **env}


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
