"""Encrypted connections: whom we trust, how we prove ourselves, and what went wrong in words."""

import ssl
from pathlib import Path

from groundstation.errors import SourceError, Words


def trusting(
    ca_file: Path | None,
    where: str | Words,
    cert_file: Path | None = None,
    key_file: Path | None = None,
    key_password: str | None = None,
) -> ssl.SSLContext:
    """A context for a client. Raises ``SourceError``, which names the file and what to do."""
    for name, path in (("ca_file", ca_file), ("cert_file", cert_file), ("key_file", key_file)):
        if path is not None and not path.is_file():
            raise SourceError(
                "{where}: {name} {path} is not there; put it there or mend the path",
                where=where,
                name=name,
                path=path,
            )
    try:
        context = ssl.create_default_context(cafile=None if ca_file is None else str(ca_file))
    except (ssl.SSLError, OSError) as error:
        raise SourceError(
            "{where}: ca_file {path} holds no certificate (PEM)", where=where, path=ca_file
        ) from error
    if cert_file is not None:
        try:
            context.load_cert_chain(cert_file, key_file, password=key_password or "")
        except (ssl.SSLError, OSError, ValueError) as error:
            raise SourceError(
                "{where}: cert_file {certificate} and key_file {key} are no certificate with its"
                " key (PEM), or key_password is wrong or missing",
                where=where,
                certificate=cert_file,
                key=key_file or cert_file,
            ) from error
    return context


def why_no_tls(where: str | Words, error: BaseException) -> Words:
    """What a person can do about a failed handshake with the server ``where``."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return Words(
            "{where} proves itself by a certificate that is not trusted here ({why}); give its"
            " authority as ca_file, and look at host and clock",
            where=where,
            why=error.verify_message,
        )
    text = str(error).upper()
    if "WRONG_VERSION_NUMBER" in text or "RECORD_LAYER_FAILURE" in text or "HTTP_REQUEST" in text:
        return Words(
            "{where} does not speak TLS on that port; set tls = false, or its port with TLS",
            where=where,
        )
    if "CERTIFICATE_REQUIRED" in text or "HANDSHAKE_FAILURE" in text or "ALERT" in text:
        return Words(
            "{where} refuses our certificate or the lack of one; set cert_file and key_file",
            where=where,
        )
    why = getattr(error, "reason", None) or error
    return Words("{where} can't be reached by TLS ({why})", where=where, why=why)
