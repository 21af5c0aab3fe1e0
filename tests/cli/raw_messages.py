# ruff: noqa: E501 - a message is one line, as it comes
"""Sixty raw messages as they come from receivers, services and modems, with what they say.

All are invented: Q0 callsigns, an invented club on the Great Hungarian Plain. ``NOW`` is when they
are received. ``by_hand`` holds the decoder lines of those whose layout is known in words only;
``refused`` is a word of the reason for those that say nothing.
"""

import base64
import struct
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Final

from groundstation.decoders.checksums import crc16_ccitt_false, nmea_xor


def utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


NOW: Final = utc("2026-05-16T09:01:00")
AT: Final = utc("2026-05-16T09:00:00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Raw:
    name: str
    data: bytes
    lat: float = 47.1
    lon: float = 20.3
    alt_m: float | None = 900.0
    time_utc: float | None = AT
    telemetry: dict[str, float] = field(default_factory=dict)
    tracker: str | None = None
    by_hand: str = ""
    refused: str = ""


def summed(body: str, kind: str) -> bytes:
    total = (
        f"{crc16_ccitt_false(body.encode()):04X}"
        if kind == "crc"
        else f"{nmea_xor(body.encode()):02X}"
    )
    return f"{body}*{total}".encode()


def nmea(body: str) -> bytes:
    return b"$" + summed(body, "xor")


def mail(body: str, *, date: str = "Sat, 16 May 2026 11:00:30 +0200", html: bool = False) -> bytes:
    kind = "html" if html else "plain"
    return (
        f"From: messenger@example.net\r\nTo: club@example.net\r\nSubject: Position\r\nDate: {date}\r\n"
        f'MIME-Version: 1.0\r\nContent-Type: text/{kind}; charset="utf-8"\r\n\r\n{body}\r\n'
    ).encode()


def mail_with_file(content: bytes, name: str = "300234_000042.sbd") -> bytes:
    packed = base64.b64encode(content).decode()
    return (
        "From: sbd@example.net\r\nTo: club@example.net\r\nSubject: Message\r\n"
        "Date: Sat, 16 May 2026 09:00:30 +0000\r\nMIME-Version: 1.0\r\n"
        'Content-Type: multipart/mixed; boundary="B"\r\n\r\n'
        "--B\r\nContent-Type: text/plain\r\n\r\nMOMSN: 42\r\n"
        f'--B\r\nContent-Type: application/x-zip-compressed; name="{name}"\r\n'
        f'Content-Disposition: attachment; filename="{name}"\r\n'
        f"Content-Transfer-Encoding: base64\r\n\r\n{packed}\r\n--B--\r\n"
    ).encode()


def kiss(info: bytes) -> bytes:
    """An unnumbered frame of Q0HAB-11 to APZ001 (AX.25 2.2, 3.12: letters shifted by one bit)."""

    def address(call: str, end: int) -> bytes:
        return bytes(ord(letter) << 1 for letter in call.ljust(6)) + bytes([end])

    head = address("APZ001", 0x60) + address("Q0HAB", 0x60 | 11 << 1 | 1)
    return b"\xc0\x00" + head + b"\x03\xf0" + info + b"\xc0"


KISS: Final = kiss(b"/090000h4706.00N/02018.00EO/A=002953")
PACKED: Final = (
    b'{"dev":"KITE-3","time":"2026-05-16T09:00:00Z","payload":"'
    + base64.b64encode(struct.pack(">iiH", 471_000_000, 203_000_000, 900))
    + b'"}'
)
HEAD_OF_MAIL: Final = utc("2026-05-16T09:00:30")
LE: Final = struct.pack("<IiiHbB", int(AT), 471_000_000, 203_000_000, 900, -12, 195)
BE24: Final = (
    b"\xaa\x55"
    + int(47.1 / 180 * 2**24).to_bytes(3, "big", signed=True)
    + int(20.3 / 180 * 2**23).to_bytes(3, "big", signed=True)
    + struct.pack(">HB", 900, 0b1001_0111)
)
BE24_SUMMED: Final = BE24 + crc16_ccitt_false(BE24).to_bytes(2, "big")

MESSAGES: Final = (
    # JSON
    Raw(name="flat json, epoch seconds", data=b'{"id":"Q0HAB-11","time":1778922000,"lat":47.1,"lon":20.3,"alt":900,"batt":3.91}', telemetry={"battery_v": 3.91}, tracker="Q0HAB-11"),
    Raw(name="flat json, epoch milliseconds, millivolts", data=b'{"deviceId":"Q0HAB-11","timestamp":1778922000000,"latitude":47.1,"longitude":20.3,"altitude":900,"battery_mv":3910}', telemetry={"battery_v": 3.91}),
    Raw(name="nested json, feet and Fahrenheit", data=b'{"dev":{"name":"Q0HAB-11"},"gps":{"time":"2026-05-16T09:00:00Z","lat":47.1,"lng":20.3,"alt_ft":2952.756},"sensors":{"temp_f":14.0}}', telemetry={"temperature_c": -10.0}),
    Raw(name="integers scaled by 1e7", data=b'{"node":"Q0HAB-11","time":1778922000,"latitude_i":471000000,"longitude_i":203000000,"altitude":900}'),
    Raw(name="integers scaled by 1e6 with a name that tells", data=b'{"imei":"300234010000010","ts":1778922000,"lat_e6":47100000,"lon_e6":20300000,"alt":900}'),
    Raw(name="numbers as texts", data=b'{"callsign":"Q0HAB-11","datetime":"2026-05-16 09:00:00","lat":"47.10000","lon":"20.30000","alt":"900","temp":"-12.5"}', telemetry={"temperature_c": -12.5}),
    Raw(name="sides as fields of their own", data=b'{"id":"Q0HAB-11","time":"09:00:00","lat":33.9,"lat_dir":"S","lon":151.2,"lon_dir":"E","alt":900}', lat=-33.9, lon=151.2),
    Raw(name="sides beside the numbers", data=b'{"id":"Q0HAB-11","time":"2026-05-16T09:00:00Z","lat":"47.1N","lon":"20.3W","alt":"900m"}', lon=-20.3),
    Raw(name="keys with a dot", data=b'{"id":"Q0HAB-11","gps.time":1778922000,"gps.lat":47.1,"gps.lon":20.3,"gps.alt":900}'),
    Raw(name="a list of one record", data=b'[{"name":"Q0HAB-11","at":1778922000,"lat":47.1,"long":20.3,"height":900}]'),
    Raw(name="records in a list below", data=b'{"status":"ok","device":"Q0HAB-11","positions":[{"time":"2026-05-16T09:00:00Z","latitude":47.1,"longitude":20.3,"altitude":900}]}', tracker="Q0HAB-11"),
    Raw(name="a place in one text", data=b'{"id":"Q0HAB-11","time":1778922000,"location":"47.1,20.3","alt":900}'),
    Raw(name="a GeoJSON order of coordinates", data=b'{"id":"Q0HAB-11","time":1778922000,"geometry":{"type":"Point","coordinates":[20.3,47.1,900]}}'),
    Raw(name="a gateway's place beside the tracker's", data=b'{"end_device":{"dev_id":"q0hab-11"},"rx_metadata":{"gateway":"gw-1","rssi":-97,"snr":7.5,"latitude":46.0,"longitude":21.0,"altitude":85},"decoded":{"time":1778922000,"latitude":47.1,"longitude":20.3,"altitude":900}}'),
    Raw(name="no height", data=b'{"id":"Q0HAB-11","time":1778922000,"lat":47.1,"lon":20.3,"alt":null}', alt_m=None),
    Raw(name="day first with slashes", data=b'{"id":"Q0HAB-11","time":"16/05/2026 09:00:00","lat":47.1,"lon":20.3,"alt":900}'),
    Raw(name="two-digit year", data=b'{"imei":"300234010000010","transmit_time":"26-05-16 09:00:00","iridium_latitude":46.9,"iridium_longitude":20.1,"latitude":47.1,"longitude":20.3,"altitude":900}'),
    Raw(name="local time with an offset", data=b'{"id":"Q0HAB-11","time":"2026-05-16T11:00:00+02:00","lat":47.1,"lon":20.3,"alt_m":900}'),
    Raw(name="time in parts", data=b'{"id":"Q0HAB-11","year":2026,"month":5,"day":16,"hour":9,"minute":0,"second":0,"lat":47.1,"lon":20.3,"alt":900}'),
    Raw(name="date and time apart", data=b'{"id":"Q0HAB-11","date":"2026-05-16","time":"09:00:00","lat":47.1,"lon":20.3,"alt":900}'),
    Raw(name="degrees and minutes in text", data='{"id":"Q0HAB-11","time":1778922000,"lat":"47°06.000\'N","lon":"20°18.000\'E","alt":900}'.encode()),
    Raw(name="degrees and minutes run together", data=b'{"id":"Q0HAB-11","time":1778922000,"lat":"4706.0000","lon":"02018.0000","alt":900}'),
    Raw(name="json in a text of json", data=b'{"topic":"up","payload":"{\\"id\\":\\"Q0HAB-11\\",\\"time\\":1778922000,\\"lat\\":47.1,\\"lon\\":20.3,\\"alt\\":900}"}'),
    Raw(name="heights in millimetres, speed in knots", data=b'{"id":"Q0HAB-11","time":1778922000,"lat":47.1,"lon":20.3,"alt_mm":900000,"speed_kt":36}'),
    # Delimited
    Raw(name="commas with a callsign and a clock", data=b"Q0HAB-11,12,09:00:00,47.10000,20.30000,900,8", tracker="Q0HAB-11"),
    Raw(name="two dollars and a crc", data=b"$$" + summed("Q0HAB-11,12,09:00:00,47.10000,20.30000,00900", "crc"), tracker="Q0HAB-11"),
    Raw(name="semicolons and decimal commas", data=b"Q0HAB-11;16.05.2026 09:00:00;47,10000;20,30000;900;3,91V"),
    Raw(name="degrees, minutes and sides in columns", data=b"Q0HAB-11,090000,3354.0000,S,15112.0000,E,900", lat=-33.9, lon=151.2),
    Raw(name="epoch and tabs", data=b"1778922000\tQ0HAB-11\t47.10000\t20.30000\t900"),
    Raw(name="units beside the numbers", data=b"Q0HAB-11,2026-05-16T09:00:00Z,47.10000N,20.30000E,2953ft,3.91V,-12C", alt_m=2953 * 0.3048, telemetry={"battery_v": 3.91, "temperature_c": -12.0}),
    Raw(name="date and time in two columns", data=b"Q0HAB-11,2026-05-16,09:00:00,47.10000,20.30000,900"),
    Raw(name="scaled integers in columns", data=b"Q0HAB-11,1778922000,471000000,203000000,900"),
    Raw(name="a line with spaces", data=b"Q0HAB-11 09:00:00 47.10000 20.30000 900"),
    # NMEA
    Raw(name="GGA", data=nmea("GPGGA,090000.00,4706.0000,N,02018.0000,E,1,08,1.0,900.0,M,40.0,M,,")),
    Raw(name="GGA of another talker in the south and west", data=nmea("GNGGA,090000,3354.000,S,07012.000,W,2,12,0.7,900.0,M,30.0,M,,"), lat=-33.9, lon=-70.2),
    Raw(name="RMC alone", data=nmea("GNRMC,090000.00,A,4706.0000,N,02018.0000,E,022.4,084.4,160526,,,A"), alt_m=None),
    Raw(name="GGA behind a time and before a level", data=b"2026-05-16 09:00:01 " + nmea("GPGGA,090000,4706.000,N,02018.000,E,1,08,1.0,900.0,M,40.0,M,,") + b" rssi -97"),
    # APRS
    Raw(name="uncompressed", data=b"Q0HAB-11>APZ001,WIDE2-1:/090000h4706.00N/02018.00EO088/036/A=002953", alt_m=2953 * 0.3048, tracker="Q0HAB-11"),
    Raw(name="behind a program's mark", data=b"APRS: Q0HAB-11>APZ001,WIDE2-1:!4706.00N/02018.00EO/A=002953", alt_m=2953 * 0.3048, time_utc=None),
    Raw(name="behind a channel", data=b"[0.3] Q0HAB-11>APZ001,WIDE2-1:!4706.00N/02018.00EO/A=002953", alt_m=2953 * 0.3048, time_utc=None),
    Raw(name="in base 91 with telemetry", data=b"Q0HAB-11>APZ001:!4706.00N/02018.00EO/A=002953|!!#I|", alt_m=2953 * 0.3048, time_utc=None, telemetry={"analog_1": 222.0}),
    Raw(name="a weather station", data=b"Q0HAB-11>APZ001:@160900z4706.00N/02018.00E_090/010g015t050h50b10132", alt_m=None, telemetry={"temperature_c": 10.0, "pressure_hpa": 1013.2}),
    Raw(name="an object", data=b"Q0AAA>APZ001:;Q0HAB-11 *160900z4706.00N/02018.00EO/A=002953", alt_m=2953 * 0.3048, tracker="Q0HAB-11"),
    # Pairs and forms
    Raw(name="a form", data=b"id=Q0HAB-11&timestamp=1778922000&lat=47.1&lon=20.3&altitude=900.0&batt=87.0", telemetry={"battery_percent": 87.0}),
    Raw(name="a request with a query", data=b"GET /log?id=Q0HAB-11&time=2026-05-16T09%3A00%3A00Z&lat=47.1&lon=20.3&alt=900 HTTP/1.1\r\nHost: x\r\n\r\n"),
    Raw(name="a pair a line", data=b"Callsign: Q0HAB-11\nTime: 2026-05-16 09:00:00 UTC\nLatitude: 47.1\nLongitude: 20.3\nAltitude: 900 m\nBattery: 3.91 V\n", telemetry={"battery_v": 3.91}),
    Raw(name="pairs between commas", data=b"id=Q0HAB-11,time=1778922000,lat=47.1,lon=20.3,alt=900"),
    # Mails and sentences
    Raw(name="a mail with a pair a line", data=mail("Device: Q0HAB-11\r\nTime: 16.05.2026 11:00:00 CEST\r\nLat: 47.1\r\nLon: 20.3\r\nAltitude: 2953 ft"), alt_m=2953 * 0.3048),
    Raw(name="a mail that is dated by its head", data=mail("The tracker is at 47.1000, 20.3000 at a height of 900 m."), time_utc=HEAD_OF_MAIL),
    Raw(name="a mail with a sentence", data=mail("Q0HAB-11 was at N47.1000 E20.3000, altitude 2,953 ft, on 16 May 2026 09:00:00 UTC."), alt_m=2953 * 0.3048),
    Raw(name="a mail in HTML", data=mail("<p>Lat: <b>47.1000</b></p><p>Lon: <b>20.3000</b></p><p>Alt: 900 m</p><p>UTC: 2026-05-16 09:00:00</p>", html=True)),
    Raw(name="a mail with bytes attached", data=mail_with_file(LE), telemetry={"temperature_c": -12.0, "battery_v": 3.9}, by_hand='attachment = "*.sbd"\n[source.decoder]\nkind = "binary"\nbyte_order = "little"\ntracker = "Q0HAB-11"\nlayout = [{name="time",type="u32",at=0},{name="lat",type="i32",at=4,scale=1e-7},{name="lon",type="i32",at=8,scale=1e-7},{name="alt_m",type="u16",at=12},{name="temperature_c",type="i8",at=14},{name="battery_v",type="u8",at=15,scale=0.02}]'),
    Raw(name="a mail with signs and feet", data=mail("Lat:+47.1000 Lon:-120.3000 Alt:2953 feet GPS Sats seen:8 16/05/2026 09:00"), lon=-120.3, alt_m=2953 * 0.3048),
    Raw(name="a line of labels", data=b"Lat: 47.1 Lon: 20.3 Alt: 900m", time_utc=None),
    Raw(name="capitals and minutes", data=b"Q0HAB-11 LAT 47 06.000 N LON 020 18.000 E ALT 2953FT", alt_m=2953 * 0.3048, time_utc=None, tracker="Q0HAB-11"),
    Raw(name="a name in another language", data=b'{"dev":"Q0HAB-11","Latitude":"47,1000","Longitude":"20,3000","Altitude":"900,5","Zeit":"16.05.2026 09:00:00"}', alt_m=900.5),
    Raw(name="a height that stands for none", data=b'{"lat":47.1,"lon":20.3,"alt":-9999,"time":1778922000,"id":"Q0HAB-11"}', alt_m=None),
    Raw(name="commas everywhere", data=b"SONDE;47,10000;20,30000;900,5;16/05/2026;09:00:00", alt_m=900.5, tracker="SONDE"),
    Raw(name="GLL", data=nmea("GNGLL,4706.0000,N,02018.0000,E,090000.00,A,A"), alt_m=None),
    # Bytes whose layout is known in words
    Raw(name="little-endian struct", data=LE, telemetry={"temperature_c": -12.0, "battery_v": 3.9}, by_hand='[source.decoder]\nkind = "binary"\nbyte_order = "little"\ntracker = "Q0HAB-11"\nlayout = [{name="time",type="u32",at=0},{name="lat",type="i32",at=4,scale=1e-7},{name="lon",type="i32",at=8,scale=1e-7},{name="alt_m",type="u16",at=12},{name="temperature_c",type="i8",at=14},{name="battery_v",type="u8",at=15,scale=0.02}]'),
    Raw(name="24 bits, bits and a checksum", data=BE24_SUMMED, time_utc=None, telemetry={"flag": 1.0}, by_hand='[source.decoder]\nkind = "binary"\nstart = "AA 55"\nlength = 13\nchecksum = "crc-16"\ntracker = "Q0HAB-11"\nlayout = [{name="lat",type="i24",at=2,scale=1.0728836059570312e-05},{name="lon",type="i24",at=5,scale=2.1457672119140625e-05},{name="alt_m",type="u16",at=8},{name="satellites",type="u8",at=10,bits=4},{name="flag",type="u8",at=10,bit=7,bits=1}]'),
    # Another seventy were written later, blind to the code; these kinds of them were not read right.
    Raw(name="three marks and a checksum", data=b"$$$" + summed("BAL1,118,09:00:00,47.10000,20.30000,900,3.9", "xor"), tracker="BAL1"),
    Raw(name="minutes behind a side", data=b"KITE-3,N 47 06.000,E 020 18.000,900,09:00:00", tracker="KITE-3"),
    Raw(name="seconds that are called unix", data=b'{"id":"KITE-3","lat_e7":471000000,"lon_e7":203000000,"alt_mm":900000,"unix":1778922000}', tracker="KITE-3"),
    Raw(name="radians", data=b'{"id":"KITE-3","t":1778922000,"lat_rad":0.8220500777,"lon_rad":0.3543018381}', alt_m=None, tracker="KITE-3"),
    Raw(name="a list, and a sender called dev", data=b'{"dev":"KITE-3","gps":[47.1,20.3,900],"t":"2026-05-16T09:00:00Z"}', tracker="KITE-3"),
    Raw(name="a mail with a link to a map", data=mail("Your tracker KITE-3 moved. https://maps.example.org/?q=47.10000,20.30000 at 09:00 UTC"), alt_m=None, tracker="KITE-3"),
    Raw(name="a whole KISS frame", data=KISS, alt_m=2953 * 0.3048, tracker="Q0HAB-11"),
    Raw(name="a table with a head", data=b"time,lat,lon,alt\n2026-05-16T09:00:00Z,47.10000,20.30000,900\n"),
    Raw(name="a time of day beside sides", data=b"KITE-3,09:00:00,47.10000N,20.30000E,FL029", alt_m=None, tracker="KITE-3"),
    Raw(name="a unit between two values", data=b"[KITE-3] (47.10000, 20.30000) 900m @ 09:00:00Z"),
    Raw(name="a sender behind the place", data=b"1778922000000,47.10000,20.30000,900,KITE-3", tracker="KITE-3"),
    Raw(name="minutes alone", data=b'{"sn":"KITE-3","time":1778922000,"lat_arcmin":2826.0,"lon_arcmin":1218.0,"alt":900}', tracker="KITE-3"),
    Raw(name="a word with an umlaut", data=mail("Position: 47,10000\u00b0 N / 20,30000\u00b0 E\nH\u00f6he: 900 m\nZeit: 16.05.2026 09:00:00\n")),
    Raw(name="a time right behind its word", data=mail("KITE-3 LAT:47.10000 LON:20.30000 ALT:900 UTC:09:00:00 BAT:88%"), telemetry={"battery_percent": 88.0}),
    Raw(name="a date without a time", data=b'{"id":"KITE-3","date":"2026-05-16","lat":47.1,"lon":20.3,"alt":900}', time_utc=None, tracker="KITE-3"),
    Raw(name="bytes in JSON", data=PACKED, tracker="KITE-3", by_hand='[source.decoder]\nkind = "json"\nfields = { time = "time", tracker = "dev" }\n[source.decoder.packed]\npath = "payload"\nencoding = "base64"\nbyte_order = "big"\nlayout = [{name="lat",type="i32",at=0,scale=1e-7},{name="lon",type="i32",at=4,scale=1e-7},{name="alt_m",type="u16",at=8}]'),
    Raw(name="bytes in JSON without a layout", data=PACKED, refused="10 bytes in 'payload', as base64"),
    # What must not be read
    Raw(name="JSON that is cut off", data=b'{"id":"KITE-3","time":1778922000,"lat":47.1,"lon":20.3', refused="Paste the whole message"),
    Raw(name="degrees and minutes apart", data=b'{"id":"KITE-3","lat_d":47,"lat_m":6.0,"lon_d":20,"lon_m":18.0,"alt":900}', refused="latitude"),
    Raw(name="a wrong crc", data=b"$$Q0HAB-11,12,09:00:00,47.10000,20.30000,00900*0000", refused="checksum", by_hand='[source.decoder]\nkind = "delimited"\ncolumns = ["tracker","","time","lat","lon","alt_m"]\nstart = "$$"\nchecksum = "crc-16"\ntime_format = "hms"'),
    Raw(name="a receiver without a fix", data=nmea("GPGGA,090000,,,,,0,00,,,M,,M,,"), refused="no-fix"),
    Raw(name="GLL without a fix", data=nmea("GNGLL,4706.0000,N,02018.0000,E,090000.00,V,N"), refused="no-fix"),
    Raw(name="a damaged line of a maker's own", data=b"$PXYZ,00,090000.00,4706.0000,N,02018.0000,E,900.0,G3*00", refused="checksum"),
    Raw(name="minutes in a field of their own", data=b'{"lat_deg":47,"lat_min":6.0,"lon_deg":20,"lon_min":18.0}', refused="latitude"),
    Raw(name="words", data=b"hello from the balloon", refused="No form"),
    Raw(name="json without a place", data=b'{"id":"Q0HAB-11","time":1778922000,"temp":3}', refused="latitude"),
    Raw(name="a latitude that is none", data=b'{"id":"Q0HAB-11","time":1778922000,"lat":147.1,"lon":20.3,"alt":900}', refused="latitude"),
    Raw(name="bytes without a layout", data=b"\x01\x02\xff\x00\x10\x99\xfe", refused="binary"),
)  # fmt: skip
