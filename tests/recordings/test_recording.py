"""Any recording is recognised by its content and read in order of reception."""

import sqlite3
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.checksums import nmea_xor
from groundstation.errors import InputFileError
from groundstation.recordings.nmea import UNDATED_UTC
from groundstation.recordings.read_any import Recording, RecordingKind, read_recording
from groundstation.records import Report, Unreadable

MAY_16_0830 = 1_778_920_200.0
"""2026-05-16T08:30:00Z"""


def read(folder: Path, data: bytes, name: str = "flight") -> Recording:
    path = folder / name
    path.write_bytes(data)
    return read_recording(path)


def reports(recording: Recording) -> list[Report]:
    read = [record for frame in recording.frames for record in recording.decode(frame)]
    return [record for record in read if isinstance(record, Report)]


def times(recording: Recording) -> list[float]:
    return [frame.received_utc - MAY_16_0830 for frame in recording.frames]


def sealed(text: str) -> bytes:
    return f"${text}*{nmea_xor(text.encode()):02X}\r\n".encode()


def gga(clock: str) -> bytes:
    return sealed(f"GPGGA,{clock},4706.000,N,02018.000,E,1,08,0.9,545.4,M,46.9,M,,")


def rmc(clock: str, date: str, status: str = "A") -> bytes:
    return sealed(f"GPRMC,{clock},{status},4706.000,N,02018.000,E,022.4,084.4,{date},,")


def test_track_table(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b"# a comment\r\ntime,lat,lon,alt_m,battery_v\r\n"
        b"2026-05-16T08:30:00Z,47.1,20.3,85.0,4.1\r\n"
        b"\r\n2026-05-16T08:30:10Z,47.2,20.4,130,\r\n",
        "f77.csv",
    )
    assert recording.kind is RecordingKind.TRACK
    assert times(recording) == [0.0, 10.0]
    first, second = reports(recording)
    assert (first.latitude_deg, first.longitude_deg, first.altitude_m) == (47.1, 20.3, 85.0)
    assert first.time_utc == MAY_16_0830
    assert first.telemetry == (("battery_v", 4.1),)
    assert second.telemetry == ()
    assert {r.tracker for r in (first, second)} == {"f77"}
    assert recording.trackers == ("f77",)
    assert recording.frames[0].data == b"2026-05-16T08:30:00Z,47.1,20.3,85.0,4.1"


def test_track_table_with_payload_and_trackers(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b"time;payload;tracker;lat;lon;alt_m;Odd Name\n"
        b"1778920200;kanalas-1;Q0HAB-11;47.1;20.3;85;x\n"
        b"1778920205;kanalas-1;Q0HAB-12;47.1;20.3;90;x\n",
    )
    assert recording.payload == "kanalas-1"
    assert recording.trackers == ("Q0HAB-11", "Q0HAB-12")
    assert times(recording) == [0.0, 5.0]
    assert [r.tracker for r in reports(recording)] == ["Q0HAB-11", "Q0HAB-12"]


def test_track_rows_are_put_in_order_and_broken_ones_kept(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b"time,lat,lon,alt_m\n2026-05-16T08:30:20Z,47.1,20.3,85\nrubbish\n\xff\xfe,1\n"
        b"2026-05-16T08:30:10Z,47.2,20.4,130\n",
    )
    assert times(recording) == [10.0, 20.0, 20.0, 20.0]
    assert recording.frames[2].data == b"rubbish"
    assert len(reports(recording)) == 2


def test_raw_packets(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b"# heard by nobody\n"
        b"1778920201\tQ0HAB-11>APZKAN,WIDE2-1,qAR,Q0PSZ-1:/083000h4706.00N/02018.00EO\xff\xfe\n"
        b"1778920200.5\tq0hab-12>APZKAN,qAR,Q0PSZ-1:>status\twith a tab\r\n"
        b"1778920202\t# a server says something\n"
        b"cut off\n",
    )
    assert recording.kind is RecordingKind.PACKETS
    assert times(recording) == [0.5, 1.0, 2.0, 2.0]
    assert recording.frames[0].data.endswith(b"status\twith a tab")
    assert recording.frames[1].data.endswith(b"O\xff\xfe")
    assert recording.frames[3].data == b"cut off"
    assert recording.trackers == ("Q0HAB-11", "Q0HAB-12")
    (report,) = reports(recording)
    assert report.time_utc == MAY_16_0830
    assert report.latitude_deg == pytest.approx(47.1)


def test_nmea_log_over_midnight_with_a_late_date(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b"noise before\n"
        + gga("235958")
        + sealed("GPVTG,1,T,2,M,3,N,4,K")
        + gga("000001")
        + rmc("000002", "170526")
        + gga("235959").replace(b"*", b"0*"),
    )
    assert recording.kind is RecordingKind.NMEA
    midnight = MAY_16_0830 - 8.5 * 3600 + 86_400
    expected = [-2, -2, -2, 1, 2, 2]
    assert [f.received_utc - midnight for f in recording.frames] == expected
    assert [r.time_utc for r in reports(recording)] == [midnight - 2, midnight + 1]
    assert reports(recording)[0].altitude_m == 545.4


def test_nmea_date_rolls_over_without_a_new_date(tmp_path: Path) -> None:
    recording = read(
        tmp_path, rmc("235930", "160526") + gga("235959") + gga("000004") + gga("120000")
    )
    midnight = MAY_16_0830 - 8.5 * 3600 + 86_400
    assert [f.received_utc - midnight for f in recording.frames] == [-30, -1, 4, 43_200]


def test_nmea_date_of_a_receiver_without_fix_is_not_believed(tmp_path: Path) -> None:
    recording = read(tmp_path, rmc("083000", "060180", "V") + rmc("083010", "160526"))
    assert times(recording) == [0.0, 10.0]


def test_nmea_date_by_zda(tmp_path: Path) -> None:
    recording = read(tmp_path, gga("083000") + sealed("GPZDA,083001,16,05,2026,00,00"))
    assert times(recording) == [0.0, 1.0]


def test_nmea_without_any_date(tmp_path: Path) -> None:
    recording = read(tmp_path, gga("083000.50"))
    assert recording.frames[0].received_utc == UNDATED_UTC + 8.5 * 3600 + 0.5


def test_nmea_with_rmc_only(tmp_path: Path) -> None:
    recording = read(tmp_path, rmc("083000", "160526"))
    assert reports(recording)[0].time_utc == MAY_16_0830


GPX = b"""<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="nobody" xmlns="http://www.topografix.com/GPX/1/1"><trk>
<name>kanalas-1</name><trkseg>
<trkpt lat="47.2" lon="20.4"><ele>130.5</ele><time>2026-05-16T08:30:10Z</time></trkpt>
<trkpt lat="47.1" lon="20.3"><ele>85</ele><time>2026-05-16T10:30:00+02:00</time></trkpt>
<trkpt lat="47.3" lon="20.5"><time>2026-05-16T08:30:20Z</time></trkpt>
</trkseg></trk></gpx>"""


def test_gpx(tmp_path: Path) -> None:
    recording = read(tmp_path, GPX)
    assert recording.kind is RecordingKind.GPX
    assert times(recording) == [0.0, 10.0, 20.0]
    assert recording.frames[1].data == b"2026-05-16T08:30:10Z,47.2,20.4,130.5"
    found = reports(recording)
    assert [r.altitude_m for r in found] == [85.0, 130.5, None]
    assert {r.tracker for r in found} == {"kanalas-1"}


def test_json_lines(tmp_path: Path) -> None:
    recording = read(
        tmp_path,
        b'{"time":"2026-05-16T08:30:00Z","payload":"kanalas-1","tracker":"Q0HAB-11",'
        b'"lat":47.1,"lon":20.3,"alt_m":85,"battery_v":4.1}\n{broken\n',
    )
    assert recording.kind is RecordingKind.JSON
    assert recording.payload == "kanalas-1"
    assert times(recording) == [0.0, 0.0]
    (report,) = reports(recording)
    assert report.telemetry == (("battery_v", 4.1),)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"# only\n\n# comments\n", "is empty"),
        (b"dear diary\n", "line 1: this does not begin like a recording"),
        (b"\n\n\x00\xff\n", "line 3: this does not begin like a recording"),
        (b"time,lat,alt_m\n1,2,3\n", "line 1: the header names no column lon"),
        (b"#\ntime,lat,lon,lat\n", "line 2: the header names lat twice"),
        (b"time,lat,lon\n", "no line has a time"),
        (b"time,lat,lon\nx,1,2\n", "no line has a time"),
        (b"$GPGGA,,,,,,0,,,,,,,,\n", "no line has a time"),
        (b"<gpx>\n<trkpt>\n</gpx>", "line 3: this is not well-formed XML"),
        (b"<gpx/>", "no track point"),
        (GPX.replace(b"time>", b"t>"), "no line has a time"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><gpx>&b;</gpx>', "declares entities"),
        (b'{"lat":1,"lon":2}\n', "line 1: the objects have no time"),
        (b'{"time":"","lat":1,"lon":2}\n', "no line has a time"),
    ],
)
def test_what_is_no_recording(tmp_path: Path, data: bytes, says: str) -> None:
    with pytest.raises(InputFileError) as caught:
        read(tmp_path, data, "odd.bin")
    assert says in str(caught.value)
    assert "odd.bin" in str(caught.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputFileError, match="cannot read"):
            read_recording(path)


@given(
    begin=st.sampled_from([b"", b"time,lat,lon\n", b"1778920200\t", b"$GP", b"{", b"<gpx>"]),
    rest=st.binary(max_size=300),
)
def test_any_bytes_give_frames_or_a_named_error(
    begin: bytes, rest: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "any"
    path.write_bytes(begin + rest)
    try:
        recording = read_recording(path)
    except InputFileError:
        return
    received = [frame.received_utc for frame in recording.frames]
    assert received == sorted(received)
    for frame in recording.frames:
        for record in recording.decode(frame):
            assert isinstance(record, Report | Unreadable)


@pytest.mark.slow
def test_a_hundred_thousand_lines_are_read(tmp_path: Path) -> None:
    packet = b"Q0HAB-11>APZKAN,WIDE2-1,qAR,Q0PSZ-1:/083000h4706.00N/02018.00EO/A=000279"
    packets = b"".join(b"%d\t%s\n" % (1778920200 + i, packet) for i in range(100_000))
    sentences = b"".join(
        gga(f"{i // 3600 % 24:02d}{i // 60 % 60:02d}{i % 60:02d}") for i in range(100_000)
    )
    row = b",47.1,20.3,85.0\n"
    table = b"time,lat,lon,alt_m\n" + b"".join(b"%d" % (10**9 + i) + row for i in range(100_000))
    for data in (packets, sentences, table):
        assert len(read(tmp_path, data).frames) == 100_000


def test_real_packets_and_tracks(shared: Path) -> None:
    """Every real recording is recognised, and most of its lines hold a position."""
    files = sorted((shared / "flights" / "packets").glob("*.txt"))
    assert len(files) == 23
    for path in files:
        recording = read_recording(path)
        assert recording.kind is RecordingKind.PACKETS
        lines = [line for line in path.read_bytes().split(b"\n") if line.strip()]
        assert len(recording.frames) == len(lines)
        assert len(recording.trackers) == 1
        assert len(reports(recording)) > 0.4 * len(lines)
        track = read_recording(shared / "flights" / "tracks" / f"{path.stem}.csv")
        assert track.kind is RecordingKind.TRACK
        assert len(reports(track)) == len(track.frames)


def test_a_foreign_database(tmp_path: Path) -> None:

    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE t (a)")
    connection.commit()
    connection.close()
    with pytest.raises(InputFileError, match=r"other\.db"):
        read_recording(path)
