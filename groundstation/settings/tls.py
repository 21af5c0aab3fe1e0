"""Encrypted connections: whom we trust, how we prove ourselves, and what went wrong in words."""

import ssl
from pathlib import Path

from groundstation.errors import SourceError


def trusting(
    ca_file: Path | None,
    where: str,
    cert_file: Path | None = None,
    key_file: Path | None = None,
    key_password: str | None = None,
) -> ssl.SSLContext:
    """A context for a client. Raises ``SourceError``, which names the file and what to do."""
    for name, path in (("ca_file", ca_file), ("cert_file", cert_file), ("key_file", key_file)):
        if path is not None and not path.is_file():
            raise SourceError(f"{where}: {name} {path} is not there; put it there or mend the path")
    try:
        context = ssl.create_default_context(cafile=None if ca_file is None else str(ca_file))
    except (ssl.SSLError, OSError) as error:
        raise SourceError(f"{where}: ca_file {ca_file} holds no certificate (PEM)") from error
    if cert_file is not None:
        try:
            context.load_cert_chain(cert_file, key_file, password=key_password or "")
        except (ssl.SSLError, OSError, ValueError) as error:
            raise SourceError(
                f"{where}: cert_file {cert_file} and key_file {key_file or cert_file} are no"
                " certificate with its key (PEM), or key_password is wrong or missing"
            ) from error
    return context


def why_no_tls(error: BaseException) -> str:
    """What a person can do about a failed handshake, to stand after the name of the server."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return (
            f"proves itself by a certificate that is not trusted here ({error.verify_message});"
            " give its authority as ca_file, and look at host and clock"
        )
    text = str(error).upper()
    if "WRONG_VERSION_NUMBER" in text or "RECORD_LAYER_FAILURE" in text or "HTTP_REQUEST" in text:
        return "does not speak TLS on that port; set tls = false, or its port with TLS"
    if "CERTIFICATE_REQUIRED" in text or "HANDSHAKE_FAILURE" in text or "ALERT" in text:
        return "refuses our certificate or the lack of one; set cert_file and key_file"
    return f"can't be reached by TLS ({getattr(error, 'reason', None) or error})"
