"""One flight sent by every way a station can hear: what each way looks like, and its settings."""

import base64
import json
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path

from groundstation.decoders.checksums import nmea_xor
from groundstation.jsonout import iso_utc
from groundstation.records import Report
from groundstation.units import FOOT_M

TOKEN = "demonstration-token-7Y"
NEWEST = 40
"""So many of the newest positions stand in an answer of the service that is asked."""


@dataclass(frozen=True, slots=True)
class Said:
    """One position and when it was first heard."""

    received_utc: float
    report: Report

    @property
    def altitude_m(self) -> float:
        assert self.report.altitude_m is not None
        return self.report.altitude_m

    @property
    def time_utc(self) -> float:
        assert self.report.time_utc is not None
        return self.report.time_utc


def as_json(said: Said, tracker: str) -> bytes:
    one = said.report
    return json.dumps(
        {
            "tracker": tracker,
            "time": iso_utc(said.time_utc),
            "lat": one.latitude_deg,
            "lon": one.longitude_deg,
            "alt_m": said.altitude_m,
        }
    ).encode()


def as_form(said: Said) -> dict[str, str]:
    """In feet and milliseconds, as some services send it."""
    one = said.report
    return {
        "latitude": f"{one.latitude_deg:.6f}",
        "longitude": f"{one.longitude_deg:.6f}",
        "height": f"{said.altitude_m / FOOT_M:.1f}",
        "at": f"{said.time_utc * 1000.0:.0f}",
    }


def as_packed(said: Said, tracker: str) -> bytes:
    """As a gateway passes on what a long-range radio module has sent."""
    one = said.report
    data = struct.pack(
        ">iiHI",
        round(one.latitude_deg * 1e7),
        round(one.longitude_deg * 1e7),
        round(said.altitude_m),
        round(said.time_utc),
    )
    return json.dumps(
        {"device": tracker, "uplink": {"data": base64.b64encode(data).decode()}}
    ).encode()


def as_forwarded(said: Said, tracker: str) -> bytes:
    return json.dumps(
        {
            "kind": "frame",
            "received": iso_utc(said.received_utc),
            "data": base64.b64encode(as_json(said, tracker)).decode(),
        }
    ).encode()


def as_delimited(said: Said, tracker: str) -> bytes:
    one = said.report
    when = datetime.fromtimestamp(said.time_utc, UTC)
    return (
        f"{tracker},{when:%H%M%S},{one.latitude_deg:.6f},{one.longitude_deg:.6f},"
        f"{said.altitude_m:.1f}\n"
    ).encode()


def as_nmea(said: Said) -> bytes:
    one = said.report
    when = datetime.fromtimestamp(said.time_utc, UTC)
    north, east = ("N" if one.latitude_deg >= 0 else "S"), ("E" if one.longitude_deg >= 0 else "W")
    body = (
        f"GNGGA,{when:%H%M%S},{_minutes(one.latitude_deg, 2)},{north},"
        f"{_minutes(one.longitude_deg, 3)},{east},1,09,1.0,{said.altitude_m:.1f},M,,M,,"
    )
    return f"${body}*{nmea_xor(body.encode()):02X}\r\n".encode()


def as_mail(said: Said) -> bytes:
    one = said.report
    message = EmailMessage()
    message["Subject"] = "A position"
    message["From"] = "messenger@example.net"
    message["To"] = "kanalas@example.net"
    message.set_content(
        f"Lat {one.latitude_deg:.6f} Lon {one.longitude_deg:.6f}"
        f" Alt {said.altitude_m / FOOT_M:.1f} ft at {iso_utc(said.time_utc)}"
    )
    return bytes(message)


def as_list(all_said: Sequence[Said], tracker: str) -> str:
    """A list in a list, as web services answer."""
    rows = [json.loads(as_json(said, tracker)) for said in all_said[-NEWEST:]]
    return json.dumps({"answer": {"positions": rows}})


def as_kml(all_said: Sequence[Said], _tracker: str) -> str:
    marks = "".join(
        f"<Placemark><TimeStamp><when>{iso_utc(said.time_utc)}</when></TimeStamp><Point>"
        f"<altitudeMode>absolute</altitudeMode><coordinates>{said.report.longitude_deg:.6f},"
        f"{said.report.latitude_deg:.6f},{said.altitude_m:.1f}</coordinates></Point></Placemark>"
        for said in all_said[-NEWEST:]
    )
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{marks}</Document></kml>'


def as_kml_link(_all_said: Sequence[Said], _tracker: str) -> str:
    return (
        '<kml xmlns="http://www.opengis.net/kml/2.2"><NetworkLink><Link><href>kml</href></Link>'
        "</NetworkLink></kml>"
    )


def as_gpx(all_said: Sequence[Said], _tracker: str) -> str:
    points = "".join(
        f'<trkpt lat="{said.report.latitude_deg:.6f}" lon="{said.report.longitude_deg:.6f}">'
        f"<ele>{said.altitude_m:.1f}</ele><time>{iso_utc(said.time_utc)}</time></trkpt>"
        for said in all_said[-NEWEST:]
    )
    return (
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="test"><trk><trkseg>'
        f"{points}</trkseg></trk></gpx>"
    )


def as_geojson(all_said: Sequence[Said], tracker: str) -> str:
    features = [
        {
            "type": "Feature",
            "geometry": {
                "type": "Point",
                "coordinates": [
                    said.report.longitude_deg,
                    said.report.latitude_deg,
                    said.altitude_m,
                ],
            },
            "properties": {"name": tracker, "time": iso_utc(said.time_utc)},
        }
        for said in all_said[-NEWEST:]
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


ANSWERS: dict[str, Callable[[Sequence[Said], str], str]] = {
    "list": as_list,
    "kml": as_kml,
    "kml-link": as_kml_link,
    "gpx": as_gpx,
    "geojson": as_geojson,
}
"""What the service answers at each path."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """Where the test stands for the world."""

    line: int
    columns: int
    radio: Path
    receiver: Path
    broker: int
    push_json: int
    push_form: int
    service: str
    imap: int
    user: str
    password: str


def way_settings(doors: Doors, interval_s: float) -> dict[str, str]:
    """By the name of the way, which is also its payload's and its source's: the source in TOML."""
    ask = f'kind = "http-poll"\ninterval_s = {interval_s}\ndescent_s = {interval_s}\n'
    local = 'host = "127.0.0.1"\n'

    def broker(topic: str) -> str:
        return f'kind = "mqtt"\n{local}port = {doors.broker}\ntopics = ["{topic}"]\n' + (
            f'client_id = "{topic}"\n[source.decoder]\n'
        )

    def feed(name: str, form: str) -> str:
        return f'{ask}url = "{doors.service}/{name}"\n[source.decoder]\nkind = "feed"\n' + (
            f'form = "{form}"\ntracker = "{name}"\nnewest = {NEWEST}\n'
        )

    return {
        "Q0HAB-1": f'kind = "tcp"\n{local}port = {doors.line}\n[source.decoder]\nkind = "aprs"\n',
        "Q0HAB-2": f'kind = "serial"\nport = "{doors.radio}"\n[source.decoder]\nkind = "aprs"\n'
        'framing = "ax25"\n',
        "columns": f'kind = "tcp"\n{local}port = {doors.columns}\n[source.decoder]\n'
        'kind = "delimited"\ncolumns = ["tracker", "time", "lat", "lon", "alt_m"]\n'
        'time_format = "hms"\n',
        "nmea": f'kind = "serial"\nport = "{doors.receiver}"\n[source.decoder]\nkind = "nmea"\n'
        'tracker = "nmea"\n',
        "json": f'{broker("json")}kind = "json"\n',
        "packed": f'{broker("packed")}kind = "json"\nfields = {{ tracker = "device" }}\n'
        'time_format = "unix"\n'
        '[source.decoder.packed]\npath = "uplink.data"\nlayout = ['
        '{ name = "lat", type = "i32", at = 0, scale = 1e-7 },'
        '{ name = "lon", type = "i32", at = 4, scale = 1e-7 },'
        '{ name = "alt_m", type = "u16", at = 8 }, { name = "time", type = "u32", at = 10 }]\n',
        "forwarded": f'{broker("forwarded")}kind = "forwarded"\ndecoder = {{ kind = "json" }}\n',
        "push-json": f'kind = "http-push"\nport = {doors.push_json}\ntoken = '
        '{ env = "PUSH_TOKEN" }\n[source.decoder]\nkind = "json"\n',
        "push-form": f'kind = "http-push"\nport = {doors.push_form}\n[source.decoder]\n'
        'kind = "json"\ntracker = "push-form"\ntime_format = "unix-ms"\n'
        'fields = { lat = "latitude", lon = "longitude", alt_m = "height", time = "at" }\n'
        'units = { alt_m = "ft" }\n',
        "list": f'{ask}url = "{doors.service}/list"\n[source.decoder]\nkind = "json"\n'
        'records = "answer.positions"\n',
        "kml": feed("kml", "kml").replace("/kml", "/kml-link"),
        "gpx": feed("gpx", "gpx"),
        "geojson": feed("geojson", "geojson"),
        "mail": f'kind = "mailbox"\n{local}port = {doors.imap}\ntls = false\n'
        f'username = "{doors.user}"\npassword = {{ env = "MAIL_PASSWORD" }}\n'
        f"interval_s = {interval_s}\ndescent_s = {interval_s}\n"
        '[source.decoder]\nkind = "pattern"\ntracker = "mail"\nunits = { alt_m = "ft" }\n'
        "pattern = 'Lat (?P<lat>-?[0-9.]+) Lon (?P<lon>-?[0-9.]+) Alt (?P<alt_m>-?[0-9.]+) ft at "
        "(?P<time>\\S+)'\n",
    }


def _minutes(angle_deg: float, digits: int) -> str:
    whole = int(abs(angle_deg))
    return f"{whole:0{digits}d}{(abs(angle_deg) - whole) * 60.0:08.5f}"
