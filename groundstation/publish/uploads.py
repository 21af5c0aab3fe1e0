"""Files put where a web server gives them out, by WebDAV, SFTP or S3: whole, or not at all."""

import asyncio
import base64
import hashlib
import hmac
import ssl
import urllib.parse
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Final, Protocol

import aiohttp

from groundstation.errors import ConfigurationError, DeliveryError
from groundstation.settings.secret import Secret

ATTEMPT_S: Final = 60.0  # own choice: a slow mobile link, and a few kB
KEPT_S: Final = 30  # own choice: how long a browser may show the same, half a minute
TYPES: Final = {".html": "text/html; charset=utf-8", ".json": "application/json"}


@dataclass(frozen=True, slots=True, kw_only=True)
class WebdavSettings:
    """A folder of a server that speaks WebDAV (RFC 4918)."""

    url: str
    username: str = ""
    password: Secret | None = None
    ca_file: Path | None = None

    def __post_init__(self) -> None:
        _address("friends.webdav.url", self.url)


@dataclass(frozen=True, slots=True, kw_only=True)
class SftpSettings:
    """A ``folder`` of a server that is reached by SSH with the key in ``key_file``.

    The server must be known: in ``known_hosts``, else in the file of the user who runs it.
    """

    host: str
    username: str
    key_file: Path
    folder: str = "."
    port: int = 22
    known_hosts: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class S3Settings:
    """A folder in a bucket of an object store: ``url`` is https://HOST/BUCKET/FOLDER."""

    url: str
    access_key: Secret
    secret_key: Secret
    region: str = "us-east-1"
    ca_file: Path | None = None

    def __post_init__(self) -> None:
        _address("friends.s3.url", self.url)


class Upload(Protocol):
    """Somewhere that files go to. ``name`` is how it is called in what is said of it."""

    name: str

    async def put(self, name: str, data: bytes) -> None:
        """Put the file ``name`` there, or leave what is there as it was. Raises ``DeliveryError``
        with a reason that holds no secret."""


class Webdav:
    """Writes beside, then moves (RFC 4918 section 9.9): nobody reads half a file."""

    name = "WebDAV"

    def __init__(self, settings: WebdavSettings) -> None:
        self._settings = settings
        self._tls = _tls(settings.ca_file)

    async def put(self, name: str, data: bytes) -> None:
        settings = self._settings
        folder = settings.url.rstrip("/")
        headers = {}
        if settings.password is not None:
            pair = f"{settings.username}:{settings.password.reveal()}".encode()
            headers["Authorization"] = f"Basic {base64.b64encode(pair).decode()}"
        put = {**headers, "Content-Type": _type(name)}
        async with _client(self._tls) as client:
            there = f"{folder}/{name}.part"
            status = await _ask(client, "PUT", there, put, data)
            if status in (404, 409):
                # The folder is not there yet (RFC 4918 section 9.7.1).
                await _ask(client, "MKCOL", f"{folder}/", headers)
                status = await _ask(client, "PUT", there, put, data)
            _good(status)
            moved = {**headers, "Destination": f"{folder}/{name}", "Overwrite": "T"}
            _good(await _ask(client, "MOVE", there, moved))


class S3:
    """One signed PUT for each file; an object store shows an object whole or not at all."""

    name = "S3"

    def __init__(self, settings: S3Settings) -> None:
        self._settings = settings
        self._tls = _tls(settings.ca_file)

    async def put(self, name: str, data: bytes) -> None:
        settings = self._settings
        address = f"{settings.url.rstrip('/')}/{name}"
        headers = signed(
            "PUT",
            address,
            {"content-type": _type(name), "cache-control": f"max-age={KEPT_S}"},
            data,
            access_key=settings.access_key.reveal(),
            secret_key=settings.secret_key.reveal(),
            region=settings.region,
            now=datetime.now(UTC),
        )
        async with _client(self._tls) as client:
            _good(await _ask(client, "PUT", address, headers, data))


class Sftp:
    """Writes beside, then renames."""

    name = "SFTP"

    def __init__(self, settings: SftpSettings) -> None:
        try:
            import asyncssh  # noqa: PLC0415  (an extra)
        except ImportError as error:
            raise ConfigurationError(
                'friends.sftp needs another package: pip install "groundstation[sftp]"'
            ) from error
        self._asyncssh = asyncssh
        self._settings = settings

    async def put(self, name: str, data: bytes) -> None:
        ssh, settings = self._asyncssh, self._settings
        known = () if settings.known_hosts is None else str(settings.known_hosts)
        path = str(PurePosixPath(settings.folder) / name)
        try:
            async with asyncio.timeout(ATTEMPT_S):
                async with (
                    ssh.connect(
                        settings.host,
                        settings.port,
                        username=settings.username,
                        client_keys=[str(settings.key_file)],
                        known_hosts=known,
                        config=None,
                    ) as connection,
                    connection.start_sftp_client() as files,
                ):
                    with suppress(ssh.SFTPError):
                        await files.makedirs(settings.folder, exist_ok=True)
                    async with files.open(f"{path}.part", "wb") as file:
                        await file.write(data)
                    await files.posix_rename(f"{path}.part", path)
        except ssh.HostKeyNotVerifiable as error:
            raise DeliveryError(
                "{host} is not known: put its key into known_hosts first, by ssh-keyscan or by"
                " logging in once",
                host=settings.host,
            ) from error
        except (ssh.Error, OSError, TimeoutError) as error:
            raise DeliveryError(
                "{host} did not take it ({why})", host=settings.host, why=type(error).__name__
            ) from error


def signed(
    method: str,
    address: str,
    headers: Mapping[str, str],
    data: bytes,
    *,
    access_key: str,
    secret_key: str,
    region: str,
    now: datetime,
) -> dict[str, str]:
    """``headers`` with what signs them, by Signature Version 4 ("Authenticating Requests: Using the
    Authorization Header", Amazon S3 API Reference), which object stores of others take too."""
    place = urllib.parse.urlsplit(address)
    stamp = now.strftime("%Y%m%dT%H%M%SZ")
    digest = hashlib.sha256(data).hexdigest()
    whole = {
        **{name.lower(): value for name, value in headers.items()},
        "host": place.netloc,
        "x-amz-content-sha256": digest,
        "x-amz-date": stamp,
    }
    names = ";".join(sorted(whole))
    canonical = "\n".join(
        (
            method,
            urllib.parse.quote(urllib.parse.unquote(place.path), safe="/-_.~"),
            "",
            *(f"{name}:{whole[name].strip()}" for name in sorted(whole)),
            "",
            names,
            digest,
        )
    )
    scope = f"{stamp[:8]}/{region}/s3/aws4_request"
    asked = hashlib.sha256(canonical.encode()).hexdigest()
    key = f"AWS4{secret_key}".encode()
    for part in scope.split("/"):
        key = hmac.digest(key, part.encode(), hashlib.sha256)
    text = f"AWS4-HMAC-SHA256\n{stamp}\n{scope}\n{asked}"
    signature = hmac.digest(key, text.encode(), hashlib.sha256).hex()
    return {
        **{name: value for name, value in whole.items() if name != "host"},
        "authorization": f"AWS4-HMAC-SHA256 Credential={access_key}/{scope},"
        f"SignedHeaders={names},Signature={signature}",
    }


def _address(what: str, url: str) -> None:
    place = urllib.parse.urlsplit(url)
    if place.scheme not in ("https", "http") or not place.hostname or "@" in place.netloc:
        raise ConfigurationError(f"{what} {url!r} is no address such as https://HOST/FOLDER/")


def _tls(ca_file: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=ca_file)
    except (OSError, ssl.SSLError) as error:
        raise ConfigurationError(
            f"friends: the ca_file {ca_file} can't be used: {error}"
        ) from error


def _client(tls: ssl.SSLContext) -> aiohttp.ClientSession:
    return aiohttp.ClientSession(
        timeout=aiohttp.ClientTimeout(total=ATTEMPT_S), connector=aiohttp.TCPConnector(ssl=tls)
    )


async def _ask(
    client: aiohttp.ClientSession,
    method: str,
    address: str,
    headers: Mapping[str, str],
    data: bytes | None = None,
) -> int:
    try:
        async with client.request(
            method, address, headers=headers, data=data, allow_redirects=False
        ) as answer:
            return answer.status
    except (aiohttp.ClientError, OSError, TimeoutError) as error:
        raise DeliveryError(
            "no answer from the server ({why})", why=type(error).__name__
        ) from error


def _good(status: int) -> None:
    if not 200 <= status < 300:
        raise DeliveryError("the server answered {status}", status=status)


def _type(name: str) -> str:
    return TYPES[PurePosixPath(name).suffix]
