"""The setup command: by asking, over a terminal of its own, and by options alone."""

import os
import pty
import re
import select
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from groundstation.commands.setup import QUESTIONS, setup
from groundstation.config import load
from groundstation.decoders.build import build_decoder
from groundstation.errors import ConfigurationError
from groundstation.jobs.explain import as_source_gives
from groundstation.jobs.setup import Answers, checked, text_of
from groundstation.records import Report
from groundstation.sources.tcp_lines import TcpSettings
from tests.cli.raw_messages import MESSAGES, NOW, Raw

PACKET = "Q0HAB-11>APRS,TCPIP*:/120000h4706.00N/02018.00EO123/045/A=012345 3.9V"
PLAN = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
WAIT_S = 240.0


class Terminal:
    """The command as a person sees it: what it says, and what is typed."""

    def __init__(self, folder: Path, *words: str) -> None:
        self._ours, theirs = pty.openpty()
        self.said = ""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "groundstation", "setup", *words],
            cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs,
            env={**os.environ, "COLUMNS": "200"},
        )  # fmt: skip
        os.close(theirs)

    def until(self, text: str) -> None:
        """Read on to ``text``, which must come after what was read before."""
        fresh = ""
        until = time.monotonic() + WAIT_S
        while text not in fresh:
            assert time.monotonic() < until, f"{text!r} did not come: {self.said}"
            if not select.select([self._ours], [], [], 1.0)[0]:
                continue
            try:
                data = os.read(self._ours, 4_096).decode("utf-8", "replace")
            except OSError:
                data = ""
            assert data, f"it ended before {text!r}: {self.said}"
            fresh += data
            self.said += data

    def type(self, text: str) -> None:
        os.write(self._ours, f"{text}\n".encode())

    def end(self) -> int:
        while True:
            try:
                data = os.read(self._ours, 4_096).decode("utf-8", "replace")
            except OSError:
                data = ""
            if not data:
                break
            self.said += data
        os.close(self._ours)
        return self.process.wait(WAIT_S)


@pytest.fixture
def tracker() -> Iterator[int]:
    """A server of lines that sends one packet to whoever connects."""
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def serve() -> None:
            while True:
                try:
                    accepted, _ = listener.accept()
                except OSError:
                    return
                accepted.sendall(f"{PACKET}\r\n".encode())

        threading.Thread(target=serve, daemon=True).start()
        yield listener.getsockname()[1]
        listener.shutdown(socket.SHUT_RDWR)


@pytest.mark.live
def test_a_person_is_asked_and_gets_a_station_that_hears_its_tracker(
    tmp_path: Path, tracker: int
) -> None:
    terminal = Terminal(tmp_path, "--wait", "20")
    for question, answer in (
        ("What is the station called?", "Pusztaszél"),
        ("What is the payload called?", "kanalas-1"),
        # A mistake is told, and asked again.
        ("Paste one raw message", "nothing that anybody reads"),
        ("no position is found in this message", PACKET),
        ("How do such messages come?", "tcp"),
        ("tcp: host", "127.0.0.1"),
        ("tcp: port", f"{tracker}"),
        # The name that the message holds is offered.
        ("What does the tracker call itself (its callsign, say)? [Q0HAB-11]", ""),
        ("Is it a radio", ""),
        ("How often does it send?", "30 s"),
        ("The file with your plan", "none.toml"),
        ("cannot read the flight file none.toml", str(PLAN)),
        ("Where does your antenna stand", "somewhere"),
        ("is no place", "47°06' N 20°18' E"),
        ("How high is that", "280 ft"),
        ("What is a finder asked", "+36 00 000 0000"),
        ("as apprise has it", "json://127.0.0.1:9/"),
        ("Your mail address", "you@example.net"),
        ("metric or imperial?", "imperial"),
        ("In which language", "hu"),
        ("In which time zone", "Europe/Budapest"),
    ):
        terminal.until(question)
        terminal.type(answer)
    terminal.until("station.toml written")
    code = terminal.end()
    assert "ok    source tracker" in terminal.said, terminal.said
    # The phone's service is not there, so check finds a fault; all is written all the same.
    assert code == 1
    assert "FAIL  target phone: no connection to the service" in terminal.said
    settings = load(tmp_path / "station.toml", {})
    [source] = settings.source
    assert isinstance(source, TcpSettings)
    assert (source.host, source.port) == ("127.0.0.1", tracker)
    assert settings.payload[0].tracker[0].id == "Q0HAB-11"
    assert settings.payload[0].tracker[0].interval_s == 30.0
    assert settings.payload[0].flight == PLAN
    assert settings.base is not None
    assert (settings.base.latitude_deg, settings.base.longitude_deg) == (47.1, 20.3)
    assert settings.base.altitude_m == 85.0
    assert settings.station.contact == "+36 00 000 0000"
    assert (settings.station.language, settings.station.timezone) == ("hu", "Europe/Budapest")
    assert settings.phones is not None
    assert settings.phones.contact == "mailto:you@example.net"
    assert (tmp_path / "phone-url").stat().st_mode & 0o777 == 0o600
    # Whoever asks again is asked before anything is lost.
    before = (tmp_path / "station.toml").read_bytes()
    again = Terminal(tmp_path)
    again.until("is there already. Write over it?")
    again.type("n")
    assert again.end() == 0
    assert (tmp_path / "station.toml").read_bytes() == before


def by_options(out: Path, *words: str) -> str:
    done = CliRunner().invoke(
        setup, ["--out", str(out), "--no-ask", "--no-check", *words], catch_exceptions=False
    )
    assert done.exit_code == 0, done.output
    return done.output


def test_everything_it_asks_is_an_option() -> None:
    options = {one.name for one in setup.params}
    assert set(QUESTIONS) <= options


def test_options_alone_make_a_station(tmp_path: Path) -> None:
    out = tmp_path / "base" / "station.toml"
    told = by_options(
        out, "--payload", "kanalas-1", "--tracker", "Q0HAB-11", "--kind", "tcp",
        "--set", "host=aprs.example.net", "--set", "port=14580", "--base", "47.10, 20.30",
    )  # fmt: skip
    settings = load(out, {})
    [source] = settings.source
    assert isinstance(source, TcpSettings)
    assert (source.host, source.port) == ("aprs.example.net", 14580)
    assert "groundstation phone --config" in told


PASTED = [one for one in MESSAGES if not one.by_hand and not one.refused and one.data.isascii()]


@pytest.mark.parametrize("message", PASTED, ids=lambda one: one.name)
def test_each_message_that_is_known_makes_a_station_that_reads_it(
    message: Raw, tmp_path: Path
) -> None:
    answers = Answers(message=message.data.decode(), tracker="Q0HAB-7", now_utc=NOW)
    text = text_of(answers)
    asked = re.findall(r'env = "(\w+)"', text)
    (tmp_path / "station.toml").write_text(text)
    secret = "a long made-up secret, 32 characters"
    settings = load(tmp_path / "station.toml", dict.fromkeys(asked, secret))
    [source] = settings.source
    assert source.decoder is not None
    frame = as_source_gives(source, message.data, NOW)
    [report, *_] = [
        one for one in build_decoder(source.decoder).decode(frame.data, NOW)
        if isinstance(one, Report)
    ]  # fmt: skip
    assert (report.latitude_deg, report.longitude_deg) == pytest.approx(
        (message.lat, message.lon), abs=0.001
    )


def test_there_are_messages_of_many_forms() -> None:
    assert len(PASTED) >= 25


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    out = tmp_path / "station.toml"
    out.write_text("mine")
    words = ["--out", str(out), "--no-ask", "--no-check", "--tracker", "Q0HAB-11"]
    done = CliRunner().invoke(setup, words)
    assert done.exit_code != 0
    assert "give --overwrite" in done.output
    assert out.read_text() == "mine"
    assert CliRunner().invoke(setup, [*words, "--overwrite"]).exit_code == 0
    assert load(out, {}).payload


def test_what_goes_wrong_leaves_nothing_half_written(tmp_path: Path) -> None:
    out = tmp_path / "station.toml"
    out.write_text("mine")
    wrong = ["--tracker", "Q0HAB-11", "--kind", "tcp", "--set", "port=0"]
    done = CliRunner().invoke(
        setup, ["--out", str(out), "--no-ask", "--overwrite", "--no-check", *wrong]
    )
    assert isinstance(done.exception, ConfigurationError)
    assert ".new" not in str(done.exception)
    assert out.read_text() == "mine"
    assert [one.name for one in tmp_path.iterdir()] == ["station.toml"]


def test_a_service_gets_its_secrets_from_systemd(tmp_path: Path) -> None:
    out = tmp_path / "station.toml"
    by_options(
        out, "--tracker", "Q0HAB-11", "--phone", "json://127.0.0.1:9/",
        "--data-dir", "/var/lib/groundstation",
    )  # fmt: skip
    assert 'url = { credential = "phone-url" }' in out.read_text()
    assert load(out, {"CREDENTIALS_DIRECTORY": str(tmp_path)}).target


@pytest.mark.parametrize(
    ("name", "answer"),
    [
        ("base", "47.1"),
        ("base", "95, 20"),
        ("altitude", "high"),
        ("interval", "often"),
        ("contact", "me"),
        ("units", "both"),
        ("language", "xx"),
        ("timezone", "Puszta/Szél"),
        ("timezone", "../etc/passwd"),
        ("kind", "pigeon"),
        ("flight", "none.toml"),
        ("tracker_kind", "pigeon"),
    ],
)
def test_an_answer_that_can_t_be_is_told(name: str, answer: str) -> None:
    with pytest.raises(ConfigurationError, match=re.escape(repr(answer)[1:-1][:4])):
        checked(name, answer)


@pytest.mark.parametrize(
    "place",
    ["47.1, 20.3", "47.1 20.3", "47.1;20.3", "N 47.1 E 20.3", "47°06' N 20°18' E", "47.1,20.3"],
)
def test_places_as_people_write_them(place: str) -> None:
    text = text_of(Answers(tracker="Q0HAB-11", base=place))
    assert "latitude_deg = 47.10000\nlongitude_deg = 20.30000" in text
