"""How one raw message would be read, and which lines of configuration it needs."""

import json
import re
from collections.abc import Generator, Iterator, Mapping
from pathlib import Path
from typing import Final

from groundstation.config import load
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.build import DecoderSettings, build_decoder
from groundstation.decoders.delimited import DelimitedSettings
from groundstation.decoders.feeds import FeedForm, FeedSettings
from groundstation.decoders.framing import FEND, KissFramer
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.flight.roster import Roster
from groundstation.flight.settings import FlightSettings
from groundstation.jsonout import iso_utc
from groundstation.records import Report, Unreadable
from groundstation.sources.recording_source import RecordingSettings

# How senders commonly call what we need (common practice, no source), best first.
NAMES: Final = {
    "tracker": ("tracker", "callsign", "device_id", "deviceid", "imei", "id", "name", "device"),
    "time": ("time", "timestamp", "datetime", "gps_time", "at", "received_at", "ts"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "lng", "long", "longitude"),
    "alt_m": ("alt_m", "altitude_m", "alt", "altitude", "height", "ele"),
    "speed_ms": ("speed_ms", "speed"),
    "course_deg": ("course_deg", "course", "heading"),
    "satellites": ("satellites", "sats", "sat", "numsat"),
    "battery_v": ("battery_v", "battery", "batt", "vbat", "voltage"),
    "temperature_c": ("temperature_c", "temperature", "temp"),
}
_NUMBERED: Final = re.compile(r"-?[0-9]+(\.[0-9]+)?")


def raw_bytes(text: str) -> bytes:
    """What was pasted: text as it stands, or bytes as ``hex:C0 00 …``."""
    if not text.lower().startswith("hex:"):
        return text.encode()
    try:
        data = bytes.fromhex(text[4:])
    except ValueError as error:
        raise ConfigurationError(f"after hex: stand no hexadecimal digits ({error})") from error
    # As it came from the wire, a KISS frame still has its marks and escapes.
    whole = KissFramer().feed(data) if data.startswith(FEND) else []
    return whole[0] if whole else data


def explain(
    data: bytes, config: Path | None, env: Mapping[str, str], now_utc: float
) -> Iterator[str]:
    """Yield lines: how each configured source would read ``data``, else what would be needed."""
    understood: list[Report] = []
    roster: Roster | None = None
    if config is not None:
        settings = load(config, env)
        roster = Roster(
            tuple(
                FlightSettings(payload=payload.name, trackers=payload.tracker)
                for payload in settings.payload
            )
        )
        for source in settings.source:
            if source.decoder is None or isinstance(source, RecordingSettings):
                continue
            yield f"source {source.name} ({source.decoder.kind}):"
            reports = yield from _shown(source.decoder, data, now_utc)
            understood += reports
    if not understood:
        guess = guessed(data)
        if guess is None:
            yield "No form that is known here fits; compare it with what the sender's manual says."
            return
        yield "It looks like this:"
        yield from (f"  {line}" for line in written(guess))
        yield "With that:"
        understood = yield from _shown(guess, data, now_utc)
    for name in sorted({report.tracker for report in understood}):
        if roster is not None and roster.payload_of(name) is None:
            yield f"No payload has the tracker {name!r}; add"
            yield "  [[payload.tracker]]"
            yield f'  id = "{name}"'


def _shown(
    decoder: DecoderSettings, data: bytes, now_utc: float
) -> Generator[str, None, list[Report]]:
    """Yield what it reads, and return the reports."""
    reports = []
    for read in build_decoder(decoder).decode(data, now_utc):
        match read:
            case Unreadable(reason=reason, detail=detail):
                yield f"  not used ({reason}): {detail}"
            case Report():
                reports.append(read)
                yield from (f"  {line}" for line in _told(read))
    return reports


def _told(report: Report) -> Iterator[str]:
    yield f"tracker {report.tracker} at {report.latitude_deg:.6f}, {report.longitude_deg:.6f}"
    height = "none in it" if report.altitude_m is None else f"{report.altitude_m:.1f} m"
    time = "none in it; that of reception is taken"
    if report.time_utc is not None:
        time = iso_utc(report.time_utc) or ""
    elif report.time_unread:
        time = f"not read: {report.time_unread!r}; its fixes would be of unknown time"
    yield f"height {height}; time {time}"
    more = dict(report.telemetry)
    if report.satellites is not None:
        more["satellites"] = float(report.satellites)
    if more:
        yield ", ".join(f"{name} {value:g}" for name, value in more.items())
    for name, text in report.unread:
        yield f"not read: {name} = {text!r} is not in the form that the settings give"
    if not report.valid:
        yield "the sender says that this is no fix"


def guessed(data: bytes) -> DecoderSettings | None:
    """Settings that would read ``data``, or None."""
    text = data.decode("utf-8", "replace").strip()
    for candidate in _candidates(text):
        try:
            decoder = build_decoder(candidate)
        except ConfigurationError:
            continue
        if any(isinstance(read, Report) for read in decoder.decode(data, 0.0)):
            return candidate
    return None


def _candidates(text: str) -> Iterator[DecoderSettings]:
    if text.startswith(("{", "[")):
        yield FeedSettings(form=FeedForm.GEOJSON)
        settings = _json_map(text)
        if settings is not None:
            yield settings
        return
    if text.startswith("<"):
        for form in (FeedForm.KML, FeedForm.GPX):
            yield FeedSettings(form=form)
            yield FeedSettings(form=form, tracker="NAME")
        return
    if text.startswith("$"):
        yield NmeaSettings(tracker="NAME", sentences=("GGA", "RMC"))
    yield AprsSettings()
    yield AprsSettings(framing=AprsFraming.AX25)
    yield from _columns(text)


def _json_map(text: str) -> JsonSettings | None:
    try:
        message = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if isinstance(message, list):
        message = message[0] if message else {}
    paths = dict(_leaves(message, ""))
    fields = {}
    for ours, theirs in NAMES.items():
        found = next(
            (path for name in theirs for path in paths if path.rpartition(".")[2].lower() == name),
            None,
        )
        if found is not None:
            fields[ours] = found
    if not {"lat", "lon"} <= fields.keys():
        return None
    stamp = paths.get(fields.get("time", ""), "")
    form = TimeFormat.ISO
    if _NUMBERED.fullmatch(stamp):
        form = TimeFormat.UNIX_MS if float(stamp) > 1e11 else TimeFormat.UNIX
    return JsonSettings(
        fields=fields,
        time_format=form,
        tracker="" if "tracker" in fields else "NAME",
    )


def _leaves(value: object, path: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}".removeprefix("."))
    elif isinstance(value, list):
        for number, inner in enumerate(value[:20]):
            yield from _leaves(inner, f"{path}.{number}".removeprefix("."))
    elif value is not None:
        yield path, str(value)


def _columns(text: str) -> Iterator[DelimitedSettings]:
    """Two neighbouring cells that can be a latitude and a longitude, and a height after them."""
    for separator in (",", ";", "\t"):
        cells = text.split(separator)
        for at in range(len(cells) - 1):
            pair = cells[at : at + 2]
            if not all(re.fullmatch(r"-?[0-9]{1,3}\.[0-9]{3,}", cell.strip()) for cell in pair):
                continue
            names = ["" for _ in cells]
            names[at : at + 2] = ["lat", "lon"]
            if at + 2 < len(cells) and _NUMBERED.fullmatch(cells[at + 2].strip()):
                names[at + 2] = "alt_m"
            yield DelimitedSettings(
                columns=tuple(names[: at + 3]), separator=separator, tracker="NAME"
            )


def written(settings: DecoderSettings) -> Iterator[str]:
    """The settings as they stand in a configuration, without what is usual."""
    usual = {
        "aprs": AprsSettings(),
        "delimited": DelimitedSettings(columns=("lat", "lon"), tracker="x"),
        "json": JsonSettings(),
        "nmea": NmeaSettings(tracker=""),
    }.get(settings.kind)
    yield "[source.decoder]"
    yield f'kind = "{settings.kind}"'
    for name in settings.__dataclass_fields__:
        value = getattr(settings, name)
        if name == "kind" or value in ("", None) or value == getattr(usual, name, None):
            continue
        match value:
            case tuple():
                shown = ", ".join(json.dumps(item) for item in value)
                yield f"{name} = [{shown}]"
            case dict():
                shown = ", ".join(f"{key} = {json.dumps(path)}" for key, path in value.items())
                yield f"{name} = {{ {shown} }}"
            case int() | float():
                yield f"{name} = {value}"
            case _:
                yield f"{name} = {json.dumps(str(value))}"
