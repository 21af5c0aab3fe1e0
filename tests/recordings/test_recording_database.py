"""The station's own database as a recording: with its sources' decoders, and without them."""

import math
from pathlib import Path

import pytest

from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.errors import InputFileError
from groundstation.recordings.read_any import RecordingKind, read_recording
from groundstation.records import Frame, Reason, Report, Unreadable
from groundstation.simulation.forms.aprs import frame, information
from groundstation.simulation.forms.nmea import sentences
from groundstation.simulation.forms.tables import json_line, sentence
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import simulate
from groundstation.store.batch import Batch
from groundstation.store.writer import Store

FLIGHT = simulate(SimulationSettings(seed=16))
COPY = FLIGHT.heard[200]
SENT = COPY.sent


async def store(path: Path, *frames: tuple[str, float, bytes]) -> None:
    rows = tuple(
        (number, Frame(source=source, received_utc=SENT.time_utc + late, data=data))
        for number, (source, late, data) in enumerate(frames, start=1)
    )
    async with Store.open(path) as opened:
        await opened.commit(Batch(frames=rows))


async def test_frames_are_read_by_what_they_look_like(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    radio = frame(FLIGHT, COPY)[1:-1]
    packet = b"Q0HAB-11>APZKAN,WIDE2-1:" + information(SENT)
    gga = sentences(SENT).split(b"\r\n")[0]
    await store(
        path,
        ("radio", 3.0, radio),
        ("server", 1.0, packet),
        ("broker", 2.0, json_line(FLIGHT, SENT)),
        ("logger", 4.0, gga),
        ("modem", 5.0, sentence(FLIGHT, SENT)),
        ("modem", math.nan, b"lost in time"),
    )
    recording = read_recording(path)
    assert recording.kind is RecordingKind.DATABASE
    assert [f.source for f in recording.frames] == ["server", "broker", "radio", "logger", "modem"]
    *read, last = [recording.decode(f)[0] for f in recording.frames]
    for report in read:
        assert isinstance(report, Report)
        assert report.time_utc == SENT.time_utc
        assert report.altitude_m == pytest.approx(SENT.altitude_m, abs=0.2)
        assert report.latitude_deg == pytest.approx(SENT.latitude_deg, abs=5e-6)
    assert isinstance(last, Unreadable)
    assert last.reason is Reason.UNREADABLE


async def test_decoders_of_the_sources_are_used_where_given(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    await store(path, ("modem", 1.0, b"47.5;20.5;1234"), ("server", 2.0, b"Q0HAB-11>APZKAN:>hi"))
    modem = DelimitedSettings(columns=("lat", "lon", "alt_m"), separator=";", tracker="Q0HAB-12")
    recording = read_recording(path, {"modem": DelimitedDecoder(modem)})
    first, second = (recording.decode(f)[0] for f in recording.frames)
    assert isinstance(first, Report)
    assert (first.tracker, first.altitude_m) == ("Q0HAB-12", 1234.0)
    assert isinstance(second, Unreadable)


async def test_an_empty_database_is_said_to_be_empty(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    await store(path)
    with pytest.raises(InputFileError, match=r"station\.db: no packet was ever stored"):
        read_recording(path)
