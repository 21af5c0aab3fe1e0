"""The certificate command, judged by OpenSSL's own program and by a TLS connection."""

import socket
import ssl
import stat
import subprocess
import threading
import urllib.request
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from click.testing import CliRunner
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, load_pem_private_key

from groundstation.commands.certificate import certificate
from groundstation.errors import ConfigurationError
from groundstation.jobs.certificate import fingerprint, hand_out, made, names_of
from groundstation.settings.builder import SettingsBuilder
from groundstation.web.settings import WebSettings

NOW = datetime.now(UTC)


def judged(folder: Path, certificate: Path) -> str:
    """What ``openssl verify`` says."""
    done = subprocess.run(
        ["openssl", "verify", "-purpose", "sslserver", "-CAfile", str(folder / "authority.pem"),
         str(certificate)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stdout + done.stderr


def forged(folder: Path, *names: x509.GeneralName) -> Path:
    """What a thief of the authority's key would make."""
    authority = x509.load_pem_x509_certificate((folder / "authority.pem").read_bytes())
    signer = load_pem_private_key((folder / "authority-key.pem").read_bytes(), None)
    assert isinstance(signer, ec.EllipticCurvePrivateKey)
    made_up = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority.subject)
        .public_key(ec.generate_private_key(ec.SECP256R1()).public_key())
        .serial_number(1)
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=9))
        .add_extension(x509.SubjectAlternativeName(names), critical=True)
        .sign(signer, hashes.SHA256())
    )
    path = folder / "forged.pem"
    path.write_bytes(made_up.public_bytes(Encoding.PEM))
    return path


def test_a_browser_that_has_the_authority_takes_the_station_for_what_it_is(tmp_path: Path) -> None:
    list(made(("localhost", "127.0.0.1"), tmp_path, NOW))
    assert judged(tmp_path, tmp_path / "station.pem").endswith("OK\n")
    assert names_of(tmp_path / "station.pem") == ("localhost", "127.0.0.1")
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(tmp_path / "station.pem", tmp_path / "station-key.pem")
    client = ssl.create_default_context(cafile=tmp_path / "authority.pem")
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def answer() -> None:
            for _ in range(2):
                accepted, _ = listener.accept()
                with server.wrap_socket(accepted, server_side=True) as spoken:
                    spoken.sendall(b"hello")

        thread = threading.Thread(target=answer)
        thread.start()
        for name in ("localhost", "127.0.0.1"):
            with (
                socket.create_connection(listener.getsockname()) as plain,
                client.wrap_socket(plain, server_hostname=name) as spoken,
            ):
                assert spoken.recv(5) == b"hello"
        thread.join()


@pytest.mark.parametrize(
    ("own", "other"),
    [
        (("station.local",), x509.DNSName("bank.example.net")),
        (("station.local",), x509.IPAddress(ip_address("192.0.2.7"))),
        (("192.168.1.20",), x509.DNSName("bank.example.net")),
        (("192.168.1.20",), x509.IPAddress(ip_address("192.168.1.21"))),
        (("fd00::20",), x509.IPAddress(ip_address("192.168.1.20"))),
    ],
)
def test_a_stolen_authority_can_pose_as_nobody_else(
    own: tuple[str, ...], other: x509.GeneralName, tmp_path: Path
) -> None:
    list(made(own, tmp_path, NOW))
    assert judged(tmp_path, tmp_path / "station.pem").endswith("OK\n")
    said = judged(tmp_path, forged(tmp_path, other))
    # X509_V_ERR_PERMITTED_VIOLATION and X509_V_ERR_EXCLUDED_VIOLATION
    assert "error 47" in said or "error 48" in said


def test_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    list(made(("station.local",), tmp_path, NOW))
    for name in ("authority-key.pem", "station-key.pem"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600


def test_a_second_time_the_phones_need_nothing_new(tmp_path: Path) -> None:
    list(made(("station.local",), tmp_path, NOW))
    before = (tmp_path / "authority.pem").read_bytes(), (tmp_path / "station.pem").read_bytes()
    list(made(("station.local",), tmp_path, NOW + timedelta(days=300)))
    assert (tmp_path / "authority.pem").read_bytes() == before[0]
    assert (tmp_path / "station.pem").read_bytes() != before[1]
    with pytest.raises(ConfigurationError, match=r"is for station\.local and can't vouch for"):
        list(made(("other.local",), tmp_path, NOW))
    list(made(("other.local",), tmp_path, NOW, new_authority=True))
    assert names_of(tmp_path / "station.pem") == ("other.local",)


def test_no_phone_refuses_it_for_counting_too_long(tmp_path: Path) -> None:
    list(made(("station.local",), tmp_path, NOW))
    given = x509.load_pem_x509_certificate((tmp_path / "station.pem").read_bytes())
    days = given.not_valid_after_utc - given.not_valid_before_utc
    assert timedelta(days=365) < days < timedelta(days=825)


def test_the_authority_is_handed_out_and_nothing_else(tmp_path: Path) -> None:
    list(made(("station.local",), tmp_path, NOW))
    with hand_out(tmp_path, 0) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        for path in ("authority.crt", "authority-key.pem", "../station-key.pem"):
            with urllib.request.urlopen(f"http://127.0.0.1:{server.server_port}/{path}") as answer:
                given = x509.load_pem_x509_certificate(answer.read())
        server.shutdown()
    kept = x509.load_pem_x509_certificate((tmp_path / "authority.pem").read_bytes())
    assert fingerprint(given) == fingerprint(kept)


def test_the_command_shows_lines_that_the_configuration_takes(tmp_path: Path) -> None:
    done = CliRunner().invoke(
        certificate, ["--name", "station.local", "--out", str(tmp_path / "c")]
    )
    assert done.exit_code == 0, done.output
    lines = done.output.partition("under [web]:\n")[2].splitlines()[:3]
    text = "\n".join(lines) + f'\naccess = [{{ name = "phone", token_hash = "{"0" * 64}" }}]\n'
    settings = SettingsBuilder(text, name="x", folder=tmp_path, env={}).build(WebSettings)
    assert settings.certificate == tmp_path / "c" / "station.pem"
    assert settings.key is not None
    assert settings.key.is_file()


@pytest.mark.parametrize("wrong", ["a b", "-", "https://station.local", ""])
def test_a_name_that_is_none_is_refused(wrong: str, tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match="neither a host name nor an address"):
        list(made((wrong,), tmp_path, NOW))


def test_a_service_is_handed_its_key(tmp_path: Path) -> None:
    """systemd.exec(5), LoadCredential: the file lies in $CREDENTIALS_DIRECTORY."""
    text = 'certificate = "station.pem"\nkey = "credential:station-key.pem"\n'
    for env, where in (({}, tmp_path), ({"CREDENTIALS_DIRECTORY": "/run/c"}, Path("/run/c"))):
        built = SettingsBuilder(text, name="x", folder=tmp_path, env=env).build(WebSettings)
        assert built.key == where / "station-key.pem"
    wrong = text.replace("credential:", "credential:../")
    with pytest.raises(ConfigurationError, match="expected a bare name"):
        SettingsBuilder(wrong, name="x", folder=tmp_path, env={}).build(WebSettings)
