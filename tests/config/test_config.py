"""The configuration as a whole."""

from pathlib import Path

import pytest

from groundstation import config
from groundstation.alerts.targets import TargetSettings, TerminalSettings
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.build import build_decoder
from groundstation.errors import ConfigurationError
from groundstation.recordings.read_any import read_recording
from groundstation.records import Report
from groundstation.settings.secret import Secret
from groundstation.sources.recording_source import RecordingSettings
from groundstation.units import Units

STATION = """
[station]
data_dir = "data"
timezone = "Europe/Budapest"
units = "imperial"

[base]
latitude_deg = 47.10
longitude_deg = 20.30
altitude_m = "279 ft"

[[payload]]
name = "kanalas-1"
ground_m = 90
[[payload.tracker]]
id = "Q0HAB-11"
interval_s = "30 s"
[payload.plan]
burst_altitude_m = "31 km"

[[source]]
name = "recorded"
kind = "recording"
path = "flight.txt"

[[target]]
name = "phone"
kind = "apprise"
url = { env = "PHONE_URL" }
kinds = ["burst", "landed"]
"""
ENV = {"PHONE_URL": "json://127.0.0.1:9/very-secret"}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "station.toml"
    path.write_text(STATION)
    return path


def refusal(path: Path, text: str, env: dict[str, str] | None = None) -> str:
    path.write_text(text)
    with pytest.raises(ConfigurationError) as caught:
        config.load(path, ENV if env is None else env)
    return str(caught.value)


def test_a_configuration_in_full(file: Path) -> None:
    settings = config.load(file, ENV)
    assert settings.station.data_dir == file.parent / "data"
    assert settings.base is not None
    assert settings.base.altitude_m == pytest.approx(85.04, abs=0.01)
    [source] = settings.source
    assert isinstance(source, RecordingSettings)
    assert source.path == file.parent / "flight.txt"
    [target] = settings.target
    assert isinstance(target, TargetSettings)
    assert target.url == Secret(ENV["PHONE_URL"])
    assert "very-secret" not in repr(settings)

    [flight] = config.flight_settings(settings)
    assert flight.payload == "kanalas-1"
    assert flight.trackers[0].interval_s == 30.0
    assert flight.plan.burst_altitude_m == 31_000.0
    assert flight.base == settings.base
    assert flight.ground_m == 90.0

    wording = config.wording_settings(settings)
    assert wording.units is Units.IMPERIAL
    assert wording.timezone == "Europe/Budapest"
    assert wording.base == settings.base


def test_the_rehearsal_reads_its_own_recording() -> None:
    settings = config.load(None, {})
    try:
        assert settings.station.data_dir.is_dir()
        assert settings.target == (TerminalSettings(),)
        [source] = settings.source
        assert isinstance(source, RecordingSettings)
        assert isinstance(source.decoder, AprsSettings)
        decoder = build_decoder(source.decoder)
        frames = read_recording(source.path).frames
        [report] = decoder.decode(frames[0].data, frames[0].received_utc)
        assert isinstance(report, Report)
        assert dict(report.telemetry) == {"battery_v": 4.16, "temperature_c": 17.8}
        assert report.satellites == 7
        known = {tracker.id for payload in settings.payload for tracker in payload.tracker}
        assert report.tracker in known
    finally:
        settings.station.data_dir.rmdir()


def test_each_rehearsal_has_a_folder_of_its_own() -> None:
    folders = [config.load(None, {}).station.data_dir for _ in range(2)]
    for folder in folders:
        folder.rmdir()
    assert folders[0] != folders[1]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('"Europe/Budapest"', '"Europe/Budapst"', "line 2: station: timezone 'Europe/Budapst'"),
        ("data_dir", "datadir", "line 3: station.datadir: unknown key; did you mean 'data_dir'?"),
        ('"279 ft"', '"279 s"', "line 10: base.altitude_m: '279 s' has not a unit of length"),
        ('"30 s"', "0", "interval_s of tracker 'Q0HAB-11' must be above 0"),
        ('"31 km"', "-1", "line 12: payload[1]: plan.burst_altitude_m must be above 0"),
        ('"burst"', '"bursts"', "target[1].kinds[1]: expected one of "),
        ('kind = "recording"', 'kind = "tape"', "source[1].kind: expected one of "),
        ('units = "imperial"', 'units = "feet"', "station.units: expected one of 'metric'"),
    ],
)
def test_wrong_values_are_named(file: Path, old: str, new: str, expected: str) -> None:
    assert old in STATION
    assert expected in refusal(file, STATION.replace(old, new, 1))


def test_a_missing_secret_is_named(file: Path) -> None:
    said = refusal(file, STATION, env={})
    assert "target[1].url: the environment variable PHONE_URL is not set; set it" in said


def test_names_are_unique(file: Path) -> None:
    again = STATION + '\n[[source]]\nname = "recorded"\nkind = "recording"\npath = "x.txt"\n'
    assert "source[2].name: 'recorded' is the name of another source" in refusal(file, again)


def test_a_tracker_has_one_payload(file: Path) -> None:
    again = STATION + '\n[[payload]]\nname = "kanalas-2"\n[[payload.tracker]]\nid = "q0hab-11"\n'
    assert "payload[2].tracker[1].id: 'q0hab-11' is given twice" in refusal(file, again)


def test_a_decoder_that_cannot_work_is_named(file: Path) -> None:
    wrong = STATION.replace(
        'path = "flight.txt"',
        'path = "f"\n[source.decoder]\nkind = "delimited"\ncolumns = ["lat", "lon"]',
    )
    assert "source[1].decoder: columns names no tracker" in refusal(file, wrong)


def test_a_page_for_everybody_is_refused(file: Path) -> None:
    said = refusal(file, STATION + '\n[web]\nhost = "0.0.0.0"\n')
    number = STATION.count("\n") + 3
    assert f"station.toml, line {number}: web.host: '0.0.0.0' would open the page" in said


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match=r"cannot read the configuration .*: No such file"):
        config.load(tmp_path / "none.toml", {})
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ConfigurationError, match="is not UTF-8 text"):
        config.load(tmp_path / "bytes.toml", {})
