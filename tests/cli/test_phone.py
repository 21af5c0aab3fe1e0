"""The phone command: a code that phones read, lines that let it in, and tests that arrive."""

import asyncio
import os
import re
import ssl
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from click.testing import CliRunner
from numpy.typing import NDArray
from PIL import Image

from groundstation.alerts.phones import Phones
from groundstation.commands.certificate import certificate
from groundstation.commands.phone import phone
from groundstation.config import load
from groundstation.errors import ConfigurationError
from groundstation.html import qr_code
from groundstation.jobs.certificate import own_address
from groundstation.jobs.phone import (
    MAIL,
    MESSENGER,
    PUSH,
    access_lines,
    add_lines,
    free_name,
    link,
    page_address,
    try_targets,
)
from groundstation.web.door import Door
from groundstation.web.settings import AccessSettings, Role, WebSettings
from tests.support.configurations import DATA, REHEARSAL
from tests.support.push_service import PushService
from tests.support.services import Services, on_this_machine, readme_addresses
from tests.support.smtp import SmtpTarget

ACCESS = (AccessSettings(name="phone", token_hash="0" * 64),)
CONFIG = f"""# my station
{DATA}{REHEARSAL}[[target]]
kind = "terminal"
[web]
port = 8443
"""


def of_terminal(text: str) -> NDArray[np.uint8]:
    """The picture that a terminal shows, dark, with light blocks."""
    upper = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    rows = []
    for line in text.splitlines():
        pairs = [upper[letter] for letter in line]
        rows += [[top for top, _ in pairs], [bottom for _, bottom in pairs]]
    return np.repeat(np.repeat(np.array(rows, np.uint8), 4, axis=0), 4, axis=1)


def test_a_phone_reads_the_code_off_the_terminal() -> None:
    """Read by ZXing's reader."""
    address = link("https://192.168.1.20:8080/", access_lines("phone", Role.FULL)[0])
    [seen] = zxingcpp.read_barcodes(of_terminal(qr_code.in_terminal(address)))
    assert seen.text == address


@pytest.mark.parametrize("text", ["+36 00 000 0000", "https://[fd00::1]:8080/login#token=ab_c-d"])
def test_a_phone_reads_the_code_off_a_picture(text: str, tmp_path: Path) -> None:
    qr_code.write(text, tmp_path / "code.png")
    [seen] = zxingcpp.read_barcodes(Image.open(tmp_path / "code.png").convert("L"))
    assert seen.text == text
    assert seen.format == zxingcpp.BarcodeFormat.QRCode
    qr_code.write(text, tmp_path / "code.svg")
    assert "<svg" in (tmp_path / "code.svg").read_text()
    with pytest.raises(ConfigurationError, match=r"\.svg nor \.png"):
        qr_code.write(text, tmp_path / "code.jpg")


def test_what_a_phone_opens() -> None:
    far = WebSettings(host="192.168.1.20", access=ACCESS, plain_http=True)
    assert page_address(WebSettings()) is None
    assert page_address(far) == "http://192.168.1.20:8080/"
    assert page_address(far, "https://station.example.net") == "https://station.example.net/"
    anywhere = WebSettings(host="0.0.0.0", port=80, access=ACCESS, plain_http=True)
    assert page_address(anywhere) == f"http://{own_address()}:80/"
    six = WebSettings(host="fd00::1", access=ACCESS, plain_http=True)
    assert page_address(six) == "http://[fd00::1]:8080/"
    with pytest.raises(ConfigurationError, match="https://NAME:PORT/"):
        page_address(far, "station.example.net")


def test_it_opens_a_name_that_the_certificate_counts_for(tmp_path: Path) -> None:
    names = ["--name", "127.0.0.1", "--name", "station.local", "--name", "192.168.1.20"]
    assert CliRunner().invoke(certificate, [*names, "--out", str(tmp_path)]).exit_code == 0
    web = WebSettings(
        host="0.0.0.0",
        access=ACCESS,
        certificate=tmp_path / "station.pem",
        key=tmp_path / "station-key.pem",
    )
    assert page_address(web) == "https://station.local:8080/"


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "station.toml"
    path.write_text(CONFIG)
    path.chmod(0o640)
    return path


def test_the_lines_let_the_token_in_and_leave_the_rest_as_it_was(config: Path) -> None:
    token, lines = access_lines("Anna's phone", Role.FULL)
    add_lines(config, lines, {})
    assert config.read_text().startswith(CONFIG.rstrip())
    assert config.stat().st_mode & 0o777 == 0o640
    settings = load(config, {})
    seen = Door(settings.web.access, lambda: 0.0).of_token(token, "192.0.2.1")
    assert seen is not None
    assert (seen.name, seen.role) == ("Anna's phone", Role.FULL)
    assert free_name("Anna's phone", settings) == "Anna's phone 2"
    assert [one.name for one in config.parent.iterdir()] == ["station.toml"]


INLINE = f'{CONFIG}access = [{{ name = "a", token_hash = "{"0" * 64}" }}]\n'


def test_lines_that_do_not_fit_are_not_written(config: Path) -> None:
    config.write_text(INLINE)
    with pytest.raises(ConfigurationError, match="is left as it was"):
        add_lines(config, access_lines("phone", Role.FULL)[1], {})
    assert config.read_text() == INLINE
    assert [one.name for one in config.parent.iterdir()] == ["station.toml"]


def test_a_token_whose_lines_do_not_fit_is_shown_with_them(config: Path) -> None:
    config.write_text(INLINE)
    order = ["--config", str(config), "--network", "--write", "--no-send"]
    done = CliRunner().invoke(phone, order)
    assert isinstance(done.exception, ConfigurationError)
    assert ".new" not in str(done.exception)
    assert "token_hash" in done.output
    assert config.read_text() == INLINE


def test_a_code_that_can_t_be_written_shows_no_token(config: Path) -> None:
    order = ["--config", str(config), "--address", "https://station.example.net", "--code", "x.txt"]
    done = CliRunner().invoke(phone, order)
    assert isinstance(done.exception, ConfigurationError)
    assert "token" not in done.output


def test_who_runs_it_sees_the_code_the_lines_and_what_to_do(config: Path) -> None:
    order = ["--config", str(config), "--address", "https://station.example.net"]
    done = CliRunner().invoke(phone, order)
    assert done.exit_code == 0, done.output
    assert "https://station.example.net/login#token=" in done.output
    assert "[[web.access]]" in done.output
    assert "ok    target terminal" in done.output
    assert config.read_text() == CONFIG
    written = CliRunner().invoke(phone, [*order, "--write", "--no-send"])
    [token] = re.findall(r"#token=(\S+)", written.output)
    assert Door(load(config, {}).web.access, lambda: 0.0).of_token(token, "") is not None


EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "station.toml"


@pytest.mark.parametrize(
    ("before", "port"),
    [
        (CONFIG.partition("[web]")[0], 8080),
        (f'{CONFIG}host = "127.0.0.1"\n\n[watch]\nup_every_s = "6 h"\n', 8443),
        (CONFIG.replace("[web]", "[ web ]  # the page"), 8443),
    ],
)
def test_one_command_opens_the_page_to_the_phones_of_the_network(
    config: Path, before: str, port: int
) -> None:
    config.write_text(before)
    done = CliRunner().invoke(phone, ["--config", str(config), "--network", "--write", "--no-send"])
    assert done.exit_code == 0, done.output
    assert f"https://{own_address()}:{port}/login#token=" in done.output
    assert "On each phone, once" in done.output
    kept = [line for line in before.splitlines() if line and not line.startswith(("host", "port"))]
    assert [line for line in config.read_text().splitlines() if line in kept] == kept
    settings = load(config, {})
    assert settings.web.host == "0.0.0.0"
    assert settings.web.certificate is not None
    # OpenSSL takes the pair, and the page's address is one that the certificate counts for.
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(
        settings.web.certificate, settings.web.key
    )
    assert page_address(settings.web) == f"https://{own_address()}:{port}/"
    [token] = re.findall(r"#token=(\S+)", done.output)
    assert Door(settings.web.access, lambda: 0.0).of_token(token, "") is not None


def test_the_example_that_people_copy_takes_the_lines(tmp_path: Path) -> None:
    path = tmp_path / "station.toml"
    text = EXAMPLE.read_text("utf-8")
    path.write_text(text, "utf-8")
    (tmp_path / "flight.toml").write_bytes((EXAMPLE.parent / "flight.toml").read_bytes())
    (tmp_path / "phone-url").write_text("json://127.0.0.1:9/")
    order = ["--config", str(path), "--network", "--write", "--no-send"]
    done = CliRunner().invoke(phone, order, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    assert load(path, {}).web.host == "0.0.0.0"


def test_a_page_that_no_phone_opens_is_told_and_the_tests_go_out(config: Path) -> None:
    done = CliRunner().invoke(phone, ["--config", str(config)])
    assert done.exit_code == 0, done.output
    assert "served to this machine only" in done.output
    assert "token" not in done.output
    assert "ok    target terminal" in done.output


def test_three_kinds_of_service_as_the_readme_has_them(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    addresses = readme_addresses()
    assert addresses.keys() == {"ntfys", "matrixs", "mailtos"}
    told: list[str] = []
    mail = SmtpTarget()
    targets = (
        f'[[target]]\nname = "{one}"\nkind = "apprise"\nurl = {{ env = "{one}" }}\n'
        for one in addresses
    )
    config.write_text(CONFIG + "".join(targets))

    async def tried() -> tuple[Services, bool]:
        async with Services() as services:
            with mail as box:
                for scheme, address in addresses.items():
                    port = box.port if scheme == "mailtos" else services.port
                    monkeypatch.setenv(scheme, on_this_machine(address, port))
                settings = load(config, os.environ)
                passed = await asyncio.to_thread(try_targets, settings, told.append)
            return services, passed

    services, passed = asyncio.run(tried())
    assert passed, "\n".join(told)
    assert [one["title"] for one in services.pushed] == ["groundstation: a test"]
    assert services.pushed[0]["topic"] == "kanalas-7Qm2xW"
    assert [room for room, _ in services.said] == ["!balloon:example.net"]
    assert "Nothing has happened." in services.said[0][1]
    assert [one.subject for one in mail.mails] == ["groundstation: a test"]
    assert mail.mails[0].recipients == ("you@example.net",)
    for hints in (PUSH, MESSENGER, MAIL):
        assert all(f"        {hint}" in told for hint in hints)


async def test_phones_that_asked_on_the_page_get_the_test_too(config: Path) -> None:
    told: list[str] = []
    lines = '[phones]\ncontact = "mailto:a@example.net"\nca_file = "push-service.pem"\n'
    await asyncio.to_thread(config.write_text, CONFIG + lines)
    settings = load(config, {})
    async with PushService(config.parent) as service:
        handset = service.handset()
        settings.station.data_dir.mkdir()
        assert await asyncio.to_thread(try_targets, settings, told.append)
        assert "ok    phones: none has asked on the page to be told yet" in told
        Phones(settings.station.data_dir).add("Anna", **handset.given)
        assert await asyncio.to_thread(try_targets, settings, told.append)
    assert handset.titles == ["groundstation: a test"]


def test_nobody_to_tell_is_a_failure(config: Path) -> None:
    config.write_text(CONFIG.replace('[[target]]\nkind = "terminal"\n', ""))
    done = CliRunner().invoke(phone, ["--config", str(config)])
    assert done.exit_code == 1
    assert "nobody is told" in done.output
