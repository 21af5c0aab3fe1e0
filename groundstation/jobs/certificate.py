"""What the certificate command does: an authority of one's own, and a certificate by it.

The authority may vouch for the names it was made for and for nothing else (RFC 5280 section
4.2.1.10), so that whoever steals its key can't pose as other sites to the phones that trust it.
"""

import ipaddress
import socket
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from groundstation.errors import ConfigurationError
from groundstation.html.qr_code import in_terminal
from groundstation.settings.private_file import write_private

AUTHORITY: Final = "authority.pem"
AUTHORITY_KEY: Final = "authority-key.pem"
CERTIFICATE: Final = "station.pem"
KEY: Final = "station-key.pem"
AUTHORITY_DAYS: Final = 3_650  # own choice: longer than a phone is used
DAYS: Final = 800
"""Own choice; phones of one maker refuse certificates that count for more than 825 days (from
memory)."""

STEPS: Final = (
    "On each phone, once (the names of menus differ):",
    f"  Get {AUTHORITY} onto it: with --hand-out by the code, else by a cable or a mail to"
    " yourself. Compare the fingerprint.",
    '  Android: in the settings search for "CA certificate", take Install anyway, and choose the'
    " file. Firefox has a list of its own.",
    "  iPhone, iPad: open it in Safari, then Settings, General, VPN & Device Management, install"
    " it; then Settings, General, About, Certificate Trust Settings, and switch it on.",
    f"  Never give {AUTHORITY_KEY} to anybody.",
)

Name = x509.DNSName | x509.IPAddress


@dataclass(frozen=True, slots=True)
class _Authority:
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


def own_names() -> tuple[str, ...]:
    """What this machine is likely called by a phone in its network."""
    host = socket.gethostname().partition(".")[0].lower()
    return (own_address(), f"{host}.local")


def own_address() -> str:
    """This machine's address in its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # TEST-NET-1 (RFC 5737): any address beyond this machine will do.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def made(
    names: Sequence[str], folder: Path, now: datetime, *, new_authority: bool = False
) -> Iterator[str]:
    """Write the files into ``folder``; says what was done. An authority that is there is used.

    Raises ``ConfigurationError``.
    """
    wanted = [_name(name) for name in names]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if new_authority or not (folder / AUTHORITY).exists():
            authority = _new_authority(wanted, now)
            write_private(folder / AUTHORITY_KEY, _key_pem(authority.key))
            (folder / AUTHORITY).write_bytes(authority.certificate.public_bytes(Encoding.PEM))
            yield f"{folder / AUTHORITY} is a new authority, for {', '.join(names)} only"
        else:
            authority = _read_authority(folder)
            _within(authority.certificate, wanted, folder)
            yield f"{folder / AUTHORITY} is the authority"
        key = ec.generate_private_key(ec.SECP256R1())
        certificate = _certificate(authority, key, wanted, now)
        write_private(folder / KEY, _key_pem(key))
        (folder / CERTIFICATE).write_bytes(certificate.public_bytes(Encoding.PEM))
    except OSError as error:
        raise ConfigurationError(f"cannot write into {folder}: {error.strerror}") from error
    yield f"{folder / CERTIFICATE} counts until {certificate.not_valid_after_utc:%Y-%m-%d}"
    yield f"Fingerprint of the authority (SHA-256): {fingerprint(authority.certificate)}"


def fingerprint(certificate: x509.Certificate) -> str:
    """As phones and browsers show it."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def names_of(path: Path) -> tuple[str, ...]:
    """The names for which the certificate in ``path`` counts, in its order.

    Raises ``ConfigurationError``.
    """
    try:
        certificate = x509.load_pem_x509_certificate(path.read_bytes())
        names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound) as error:
        raise ConfigurationError(f"the certificate {path} can't be used: {error}") from error
    return tuple(str(name.value) for name in names)


def hand_out(folder: Path, port: int) -> ThreadingHTTPServer:
    """A server that gives the authority, which is no secret, to whoever asks; not yet serving.

    Raises ``ConfigurationError``.
    """
    try:
        body = (folder / AUTHORITY).read_bytes()
    except OSError as error:
        raise ConfigurationError(f"cannot read {folder / AUTHORITY}: {error.strerror}") from error

    class Giver(BaseHTTPRequestHandler):
        timeout = 10.0

        def do_GET(self) -> None:
            self.send_response(200)
            # What phones take for a certificate to be installed (RFC 5280 names no type).
            self.send_header("Content-Type", "application/x-x509-ca-cert")
            self.send_header("Content-Length", f"{len(body)}")
            self.send_header("Content-Disposition", 'attachment; filename="authority.crt"')
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            del format, args

    try:
        return ThreadingHTTPServer(("", port), Giver)
    except OSError as error:
        raise ConfigurationError(
            f"port {port} can't be listened on: {error.strerror}; give another --port"
        ) from error


def code_of(server: ThreadingHTTPServer) -> str:
    """The address at which phones get the authority, as a QR code and in letters."""
    address = f"http://{own_address()}:{server.server_port}/authority.crt"
    return f"{in_terminal(address)}\n{address}"


def _name(text: str) -> Name:
    try:
        return x509.IPAddress(ipaddress.ip_address(text))
    except ValueError:
        pass
    labels = text.split(".")
    fits = text.isascii() and all(
        0 < len(label) <= 63 and label.replace("-", "").isalnum() for label in labels
    )
    if not fits:
        raise ConfigurationError(
            f"{text!r} is neither a host name nor an address; give what phones open, as"
            " station.local or 192.168.1.20"
        )
    return x509.DNSName(text.lower())


def _new_authority(names: Sequence[Name], now: datetime) -> _Authority:
    key = ec.generate_private_key(ec.SECP256R1())
    called = x509.Name(
        [x509.NameAttribute(NameOID.COMMON_NAME, f"Own authority of {names[0].value}"[:64])]
    )
    certificate = (
        _begun(called, called, key, now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(_bounds(names), critical=True)
        .sign(key, hashes.SHA256())
    )
    return _Authority(certificate, key)


def _bounds(names: Sequence[Name]) -> x509.NameConstraints:
    """Only ``names``; of a kind of name that is not among them, none at all."""
    hosts = [name for name in names if isinstance(name, x509.DNSName)]
    networks = [
        x509.IPAddress(ipaddress.ip_network(str(name.value)))
        for name in names
        if isinstance(name, x509.IPAddress)
    ]
    none: list[x509.GeneralName] = []
    if not hosts:
        none.append(x509.DNSName(""))
    for everything in ("0.0.0.0/0", "::/0"):
        whole = ipaddress.ip_network(everything)
        if not any(network.value.version == whole.version for network in networks):
            none.append(x509.IPAddress(whole))
    return x509.NameConstraints([*hosts, *networks], none or None)


def _certificate(
    authority: _Authority, key: ec.EllipticCurvePrivateKey, names: Sequence[Name], now: datetime
) -> x509.Certificate:
    # No host name here: some take the common name for one where the others are addresses.
    called = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Balloon ground station")])
    return (
        _begun(called, authority.certificate.subject, key, now, DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()),
            critical=False,
        )
        .sign(authority.key, hashes.SHA256())
    )


def _begun(
    called: x509.Name, by: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(called)
        .issuer_name(by)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A phone's clock may be behind.
        .not_valid_before(now.astimezone(UTC) - timedelta(days=1))
        .not_valid_after(now.astimezone(UTC) + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _read_authority(folder: Path) -> _Authority:
    try:
        certificate = x509.load_pem_x509_certificate((folder / AUTHORITY).read_bytes())
        key = load_pem_private_key((folder / AUTHORITY_KEY).read_bytes(), None)
    except (OSError, ValueError, TypeError) as error:
        raise ConfigurationError(
            f"the authority in {folder} can't be used ({error}); make another with --new-authority,"
            " and put it onto the phones"
        ) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ConfigurationError(f"the authority in {folder} was not made by this program")
    return _Authority(certificate, key)


def _within(certificate: x509.Certificate, names: Sequence[Name], folder: Path) -> None:
    bounds = certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    known = {str(subtree.value).partition("/")[0] for subtree in bounds.permitted_subtrees or ()}
    strange = [str(name.value) for name in names if str(name.value) not in known]
    if strange:
        raise ConfigurationError(
            f"the authority in {folder} is for {', '.join(sorted(known))} and can't vouch for"
            f" {', '.join(strange)}; make another with --new-authority, and put it onto the phones"
        )


def _key_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
