"""check --explain: what it advises is held by doing it."""

from pathlib import Path

import pytest

from groundstation.decoders.build import build_decoder
from groundstation.errors import ConfigurationError
from groundstation.jobs.explain import explain, guessed, raw_bytes, written
from groundstation.records import Report
from groundstation.settings.builder import SettingsBuilder
from groundstation.sources.tcp_lines import TcpSettings
from tests.support.typed import typed

NOW = 1_778_922_000.0
KISS = (
    "hex:C0 00 82 A0 B4 96 82 9C E0 A2 60 90 82 84 40 77 03 F0"
    + "".join(f" {byte:02X}" for byte in b"!4706.00N/02018.00EO/A=000279")
    + " C0"
)
MESSAGES = {
    "json": '{"imei": "300234", "at": 1778922000, "fix": {"lat": 47.1, "lng": 20.3, "alt": 900}}',
    "geojson": '{"type": "Feature", "properties": {"name": "Q0HAB-13"},'
    ' "geometry": {"type": "Point", "coordinates": [20.3, 47.1, 900]}}',
    "delimited": "Q0HAB-14;12;47.10000;20.30000;900;3.9",
    "aprs": "Q0HAB-11>APZKAN:!4706.00N/02018.00EO/A=000279",
    # A GGA sentence that is quoted everywhere (from memory); its sum is right.
    "nmea": "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "kml": "<kml><Placemark><name>Q0HAB-13</name><Point><coordinates>20.3,47.1,900</coordinates>"
    "</Point></Placemark></kml>",
}


@pytest.mark.parametrize("name", MESSAGES)
def test_the_advised_lines_read_the_message(name: str, tmp_path: Path) -> None:
    data = raw_bytes(MESSAGES[name])
    settings = guessed(data)
    assert settings is not None
    lines = [line.replace("[source.decoder]", "[decoder]") for line in written(settings)]
    text = "\n".join(['name = "x"', 'host = "x"', "port = 1", *lines])
    built = SettingsBuilder(text, name="x", folder=tmp_path, env={}).build(TcpSettings)
    (found,) = build_decoder(built.decoder).decode(data, NOW)
    assert isinstance(found, Report), found
    assert found.latitude_deg == pytest.approx(48.1173 if name == "nmea" else 47.1, abs=1e-4)
    assert found.altitude_m is not None


def test_names_and_times_of_json_are_guessed() -> None:
    lines = list(explain(raw_bytes(MESSAGES["json"]), None, {}, NOW))
    whole = "\n".join(lines)
    assert 'tracker = "imei"' in whole
    assert 'lat = "fix.lat", lon = "fix.lng", alt_m = "fix.alt"' in whole
    assert 'time_format = "unix"' in whole
    assert "tracker 300234 at 47.100000, 20.300000" in whole
    assert "2026-05-16T09:00:00Z" in whole


def test_a_frame_in_hexadecimal() -> None:
    settings = guessed(raw_bytes(KISS))
    assert settings is not None
    assert "ax25" in "\n".join(written(settings))
    with pytest.raises(ConfigurationError, match="no hexadecimal digits"):
        raw_bytes("hex:xyz")


def test_what_fits_nothing_is_said() -> None:
    told = "\n".join(explain(b"hello there", None, {}, NOW))
    assert "No form" in told
    assert "pattern" in told


STATION = """
[station]
data_dir = "data"
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = 9
[source.decoder]
kind = "aprs"
"""


def test_against_a_configuration(tmp_path: Path) -> None:
    file = tmp_path / "station.toml"
    file.write_text(STATION)
    known = "\n".join(explain(MESSAGES["aprs"].encode(), file, {}, NOW))
    assert "source line (aprs):" in known
    assert "tracker Q0HAB-11" in known
    assert "No payload" not in known
    other = MESSAGES["aprs"].replace("Q0HAB-11", "Q0HAB-12").encode()
    assert 'id = "Q0HAB-12"' in "\n".join(explain(other, file, {}, NOW))
    wrong = "\n".join(explain(MESSAGES["delimited"].encode(), file, {}, NOW))
    assert "not used (unreadable)" in wrong
    assert "It looks like this:" in wrong


def test_as_a_person_types_it() -> None:
    done = typed("check", "--explain", "-", given=MESSAGES["aprs"])
    assert done.returncode == 0
    assert 'kind = "aprs"' in done.stdout


def test_a_time_in_another_form_is_named(tmp_path: Path) -> None:
    """A value that is left out without a word would be looked for in vain on the day."""
    config = tmp_path / "station.toml"
    config.write_text(
        f'[station]\nname = "b"\ndata_dir = "{tmp_path}"\n[[payload]]\nname = "kanalas-1"\n'
        '[[payload.tracker]]\nid = "Q0HAB-11"\n[[source]]\nname = "hook"\nkind = "http-push"\n'
        '[source.decoder]\nkind = "json"\n'
    )
    message = b'{"tracker": "Q0HAB-11", "lat": 47.1, "lon": 20.3, "alt_m": "x", "time": 1778922000}'
    told = "\n".join(explain(message, config, {}, NOW))
    assert "not read: time = '1778922000'" in told
    assert "not read: alt_m = 'x'" in told


@pytest.mark.parametrize(
    ("message", "kind", "says"),
    [
        ('{"id": "T1", "alt": 12345}', "json", "height 12345.0 m"),
        ("id=T1 time=08:30:00 pressure=265.3hPa temp=-40", "pairs", "it is at 9993 m"),
    ],
)
def test_a_height_alone_is_read_and_a_place_asked_for(message: str, kind: str, says: str) -> None:
    """265 hPa are 10 km in the standard atmosphere (ISO 2533)."""
    text = "\n".join(explain(message.encode(), None, {}, NOW))
    assert f'kind = "{kind}"' in text
    assert says in text
    assert "show a message that has one, too" in text


def test_the_height_of_a_receiver_is_nobodys() -> None:
    text = "\n".join(explain(b'{"dev": "T1", "gateway": {"altitude": 120}}', None, {}, NOW))
    assert "It looks like this" not in text
