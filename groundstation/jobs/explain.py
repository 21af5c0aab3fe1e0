"""How one raw message would be read, and which lines of configuration it needs."""

import json
from collections.abc import Generator, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from groundstation.config import load
from groundstation.decoders.build import DecoderSettings, build_decoder
from groundstation.decoders.carried import decoded
from groundstation.decoders.decoder import MAX_FRAME_BYTES
from groundstation.decoders.framing import FEND, KissFramer
from groundstation.errors import ConfigurationError
from groundstation.flight.heights import altitude_of
from groundstation.flight.roster import Roster
from groundstation.jobs.guessing.forms import NAME, Proposal, proposals
from groundstation.jobs.guessing.packed import packed_in
from groundstation.jobs.own_recording import roster_of
from groundstation.jsonout import iso_utc
from groundstation.records import Frame, HeightReport, Report, Unreadable
from groundstation.sources.build import SourceSettings
from groundstation.sources.http_push import HttpPushSettings
from groundstation.sources.mail_body import attachments, is_mail, read_mail
from groundstation.sources.mailbox import MailboxSettings
from groundstation.sources.push_body import form_of
from groundstation.sources.recording_source import RecordingSettings

BINARY_EXAMPLE: Final = (
    "[[source]]",
    'name = "NAME"',
    'kind = "udp"                  # or mqtt, serial, tcp, mailbox (with attachment)',
    "port = 5555",
    "[source.decoder]",
    'kind = "binary"',
    'layout = [{ name = "lat", type = "i32", at = 0, scale = 1e-7 },'
    ' { name = "lon", type = "i32", at = 4, scale = 1e-7 },'
    ' { name = "alt_m", type = "u16", at = 8 }]',
    'byte_order = "big"',
    'tracker = "NAME"',
)
SOURCE_LINES: Final[Mapping[str, tuple[str, ...]]] = {
    "serial": ('port = "/dev/serial/by-id/usb-*"', "baud = 9600"),
    "tcp": ('host = "HOST"', "port = 4001"),
    "udp": ("port = 5555",),
    "file": ('path = "FILE"',),
    "mqtt": ('host = "HOST"', 'topics = ["TOPIC/#"]'),
    "http-push": ("port = 8081", 'token = { env = "PUSH_TOKEN" }'),
    "http-poll": ('url = "https://HOST/PATH"',),
    "mailbox": ('host = "HOST"', 'username = "NAME"', 'password = { env = "MAIL_PASSWORD" }'),
}


def raw_bytes(text: str) -> bytes:
    """What was pasted: text as it stands, or bytes as ``hex:C0 00 …``."""
    if not text.lower().startswith("hex:"):
        return text.encode()
    try:
        data = bytes.fromhex(text[4:])
    except ValueError as error:
        raise ConfigurationError(f"after hex: stand no hexadecimal digits ({error})") from error
    return _unwrapped(data)


def _unwrapped(data: bytes) -> bytes:
    """As it came from the wire, a KISS frame still has its marks and escapes."""
    whole = KissFramer().feed(data) if data.startswith(FEND) else []
    return whole[0] if whole else data


def explain(
    data: bytes, config: Path | None, env: Mapping[str, str], now_utc: float
) -> Iterator[str]:
    """Yield lines: how each configured source would read ``data``, else what would be needed."""
    data = _unwrapped(data)
    understood: list[Report | HeightReport] = []
    roster: Roster | None = None
    if config is not None:
        settings = load(config, env)
        roster = roster_of(settings)
        for source in settings.source:
            if source.decoder is None or isinstance(source, RecordingSettings):
                continue
            yield f"source {source.name} ({source.decoder.kind}):"
            frame = as_source_gives(source, data, now_utc)
            reports = yield from _shown(source.decoder, frame)
            understood += reports
    if not understood:
        found = proposed(data, now_utc)
        if found is None:
            yield from _nothing(data, now_utc)
            return
        yield "It looks like this:"
        yield from (f"  {line}" for line in source_lines(found))
        for doubt in found.doubts:
            yield f"Look at it: {doubt}."
        if len(found.kinds) > 1:
            yield f"It may come by {', '.join(found.kinds[:-1])} or {found.kinds[-1]}."
        yield "With that:"
        understood = yield from _shown(found.decoder, _frame_for(found, data, now_utc))
    for name in sorted({report.tracker for report in understood}):
        if name == NAME:
            yield f"Write what the tracker is to be called in the place of {NAME}."
        if roster is not None and roster.payload_of(name) is None:
            yield f"No payload has the tracker {name!r}; add"
            yield "  [[payload.tracker]]"
            yield f'  id = "{name}"'


def as_source_gives(source: SourceSettings, data: bytes, now_utc: float) -> Frame:
    """The frame that a source would make of what it gets."""
    data = _unwrapped(data)
    sent_utc = None
    if isinstance(source, MailboxSettings) and is_mail(data):
        mail = read_mail(data, source.attachment)
        data, sent_utc = mail.data, mail.sent_utc
    elif isinstance(source, HttpPushSettings):
        data = _pushed(data)
    else:
        data = _line(source.decoder, data)
    return Frame(source=source.name, received_utc=now_utc, data=data, sent_utc=sent_utc)


def _pushed(data: bytes) -> bytes:
    form = form_of(data.decode("utf-8", "replace"))
    return data if form is None else json.dumps(form).encode()


def _line(decoder: DecoderSettings | None, data: bytes) -> bytes:
    """A line without its end, and of several the first that is read."""
    if decoder is None or decoder.kind not in ("aprs", "delimited", "nmea"):
        return data
    lines = [line for line in data.splitlines() if line.strip()] if len(data) < 65_536 else []
    if len(lines) < 2:
        return lines[0] if lines and decoder.kind != "aprs" else data
    reader = build_decoder(decoder)
    for line in lines[:200]:
        if any(isinstance(read, Report) for read in reader.decode(line, 0.0)):
            return line
    return data


def proposed(data: bytes, now_utc: float) -> Proposal | None:
    """What would read ``data``, or None."""
    if is_mail(data):
        return _of_mail(data, now_utc)
    for proposal in proposals(data, now_utc):
        if proposal.alone and packed_in(data.decode("utf-8", "replace"), now_utc) is not None:
            # Its place is among what is packed.
            continue
        try:
            decoder = build_decoder(proposal.decoder)
        except ConfigurationError:
            continue
        frame = _frame_for(proposal, data, now_utc)
        wanted = HeightReport if proposal.alone else Report
        if any(isinstance(read, wanted) for read in decoder.decode(frame.data, now_utc)):
            return proposal
    return None


def first_report(found: Proposal, data: bytes, now_utc: float) -> Report | None:
    """What the proposal reads of the message it was made from."""
    frame = _frame_for(found, data, now_utc)
    read = build_decoder(found.decoder).decode(frame.data, now_utc)
    return next((reading for reading in read if isinstance(reading, Report)), None)


def _of_mail(data: bytes, now_utc: float) -> Proposal | None:
    mail = read_mail(data)
    about = now_utc if mail.sent_utc is None else mail.sent_utc
    inner = proposed(mail.data, about) if not is_mail(mail.data) else None
    if inner is not None:
        return Proposal(inner.decoder, ("mailbox",), inner.doubts)
    for name, content in attachments(data):
        inner = proposed(content[:MAX_FRAME_BYTES], about)
        if inner is not None:
            ending = f"*.{name.rpartition('.')[2]}" if "." in name else name
            return Proposal(inner.decoder, ("mailbox",), inner.doubts, {"attachment": ending})
    return None


def _frame_for(found: Proposal, data: bytes, now_utc: float) -> Frame:
    sent_utc = None
    if found.kinds == ("mailbox",) and is_mail(data):
        mail = read_mail(data, found.more.get("attachment", ""))
        data, sent_utc = mail.data, mail.sent_utc
    elif found.kinds == ("http-push",):
        data = _pushed(data)
    else:
        data = _line(found.decoder, data)
    return Frame(source="x", received_utc=now_utc, data=data, sent_utc=sent_utc)


def _nothing(data: bytes, now_utc: float) -> Iterator[str]:
    """What to do where no form fits."""
    text = data.decode("utf-8", "replace")
    if is_mail(data):
        names = [name for name, _ in attachments(data)]
        if names:
            yield f"This is a mail with the file {', '.join(names)}, and no position in its text."
            yield "It needs a source of the kind mailbox with attachment, and the decoder binary"
            yield "with the layout that the sender's manual gives, such as:"
            yield from (f"  {line}" for line in BINARY_EXAMPLE)
            return
        yield "This is a mail without a position that is known; it needs the kind mailbox with"
        yield "the decoder pattern: a regular expression with (?P<lat>…) and (?P<lon>…) in it."
        return
    for proposal in proposals(data, now_utc):
        for read in build_decoder(proposal.decoder).decode(_line(proposal.decoder, data), now_utc):
            if isinstance(read, Unreadable) and read.reason not in ("unreadable", "no-position"):
                yield f"It looks like {proposal.decoder.kind}, but is not used ({read.reason}):"
                yield f"  {read.detail}"
                return
    if not text.isprintable() and sum(not (c.isprintable() or c in "\r\n\t") for c in text) > 1:
        yield f"These are {len(data)} bytes in no form that is known here. They need the decoder"
        yield "binary with the layout that the sender's manual gives, such as:"
        yield from (f"  {line}" for line in BINARY_EXAMPLE)
        return
    if text.strip()[:1] in ("{", "["):
        yield from _of_unknown_json(text, now_utc)
        return
    yield "No form that is known here fits; compare it with what the sender's manual says. Text in"
    yield "which a pattern finds latitude and longitude needs the decoder pattern, bytes of a fixed"
    yield "layout the decoder binary."


def _of_unknown_json(text: str, now_utc: float) -> Iterator[str]:
    """JSON in which no name tells the place: what is packed in it, or what else is needed."""
    try:
        json.loads(text)
    except (ValueError, RecursionError) as error:
        yield f"It begins like JSON and is none: {error}. Paste the whole message."
        return
    packed = packed_in(text, now_utc)
    if packed is None:
        yield "This is JSON in which no latitude and longitude are found by their names. It needs"
        yield 'the decoder json with fields = { lat = "…", lon = "…" }; where numbers are packed'
        yield "into base64 or hexadecimal text, it has packed settings for that."
        return
    yield f"This is JSON with {packed.count} bytes in {packed.path!r}, as {packed.encoding}. It"
    yield "needs the decoder json with the layout that the sender's manual gives, such as:"
    yield from (f"  {line}" for line in packed.lines)


def _shown(
    decoder: DecoderSettings, frame: Frame
) -> Generator[str, None, list[Report | HeightReport]]:
    """Yield what it reads, and return the reports."""
    reports: list[Report | HeightReport] = []
    for read in decoded(build_decoder(decoder), frame):
        match read:
            case Unreadable(reason=reason, detail=detail):
                yield f"  not used ({reason}): {detail}"
            case Report() | HeightReport():
                reports.append(read)
                yield from (f"  {line}" for line in _told(read))
    return reports


def _told(report: Report | HeightReport) -> Iterator[str]:
    if isinstance(report, Report):
        yield f"tracker {report.tracker} at {report.latitude_deg:.6f}, {report.longitude_deg:.6f}"
    else:
        yield f"tracker {report.tracker} without a place: it tells its height alone"
    height = "none in it" if report.altitude_m is None else f"{report.altitude_m:.1f} m"
    time = "none in it; that of reception is taken"
    if report.time_unread:
        time = f"not read: {report.time_unread!r}; its fixes would be of unknown time"
    elif report.time_utc is not None:
        time = iso_utc(report.time_utc) or ""
    yield f"height {height}; time {time}"
    more = dict(report.telemetry)
    if isinstance(report, HeightReport):
        by_pressure = altitude_of(report) if report.pressure_pa is not None else None
        if by_pressure is not None:
            yield f"by its pressure it is at {by_pressure[0]:.0f} m in the standard atmosphere"
    elif report.satellites is not None:
        more["satellites"] = float(report.satellites)
    if more:
        yield ", ".join(f"{name} {value:g}" for name, value in more.items())
    for name, text in report.unread:
        yield f"not read: {name} = {text!r} is not in the form that the settings give"
    if isinstance(report, Report) and not report.valid:
        yield "the sender says that this is no fix"


def guessed(data: bytes, now_utc: float = 0.0) -> DecoderSettings | None:
    """Settings that would read ``data``, or None."""
    found = proposed(data, now_utc)
    return None if found is None else found.decoder


def source_lines(found: Proposal) -> Iterator[str]:
    """A whole source as it stands in a configuration."""
    kind = found.kinds[0]
    yield "[[source]]"
    yield f'name = "{kind}-1"'
    yield f'kind = "{kind}"'
    yield from SOURCE_LINES[kind]
    yield from (f"{name} = {_toml(value)}" for name, value in found.more.items())
    yield from written(found.decoder)


def written(settings: DecoderSettings) -> Iterator[str]:
    """The settings as they stand in a configuration, without what is usual."""
    yield "[source.decoder]"
    yield f'kind = "{settings.kind}"'
    for name, default in settings.__dataclass_fields__.items():
        value = getattr(settings, name)
        usual = default.default_factory() if callable(default.default_factory) else default.default
        if name == "kind" or value in ("", None, {}, ()) or value == usual:
            continue
        yield f"{name} = {_toml(value)}"


def _toml(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case int() | float():
            return f"{value}"
        case tuple() | list():
            return f"[{', '.join(_toml(member) for member in value)}]"
        case dict():
            return f"{{ {', '.join(f'{key} = {_toml(member)}' for key, member in value.items())} }}"
        case _:
            return _quoted(str(value))


def _quoted(text: str) -> str:
    """As a TOML string; a literal one where that needs no escapes, as in regular expressions."""
    if ("\\" in text or '"' in text) and "'" not in text and text.isprintable():
        return f"'{text}'"
    return json.dumps(text)
