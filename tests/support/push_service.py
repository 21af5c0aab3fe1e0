"""A stand-in for a push service (RFC 8030) and for the phones behind it, which read what came.

It decrypts by RFC 8291 with the library's own HKDF, and checks the sender by RFC 8292.
"""

import base64
import json
import os
import ssl
import struct
import time
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from urllib.parse import urlsplit

from aiohttp import web
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, utils
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from tests.support.mosquitto import make_certificate


def bytes_of(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def text_of(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def read(body: bytes, key: ec.EllipticCurvePrivateKey, secret: bytes) -> bytes:
    """What the phone reads (RFC 8291 section 3.4, RFC 8188 section 2). Raises for anything else."""
    salt, (size, length) = body[:16], struct.unpack("!IB", body[16:21])
    sender, sealed = body[21 : 21 + length], body[21 + length :]
    assert len(body) <= 4_096 <= size
    own = key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    shared = key.exchange(
        ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
    )

    def derived(salted: bytes, material: bytes, info: bytes, octets: int) -> bytes:
        return HKDF(hashes.SHA256(), octets, salted, info).derive(material)

    material = derived(secret, shared, b"WebPush: info\0" + own + sender, 32)
    opened = AESGCM(derived(salt, material, b"Content-Encoding: aes128gcm\0", 16)).decrypt(
        derived(salt, material, b"Content-Encoding: nonce\0", 12), sealed, None
    )
    text, mark, padding = opened.rpartition(b"\x02")
    assert mark == b"\x02"
    assert not padding.strip(b"\0")
    return text


def sender_of(authorization: str) -> tuple[dict[str, Any], str]:
    """The claims and the key of whoever sends (RFC 8292). Raises where the signature is wrong."""
    scheme, _, rest = authorization.partition(" ")
    assert scheme == "vapid"
    parts = dict(one.strip().split("=", 1) for one in rest.split(","))
    head, claims, signature = parts["t"].split(".")
    assert json.loads(bytes_of(head)) == {"typ": "JWT", "alg": "ES256"}
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), bytes_of(parts["k"]))
    raw = bytes_of(signature)
    r, s = (int.from_bytes(half, "big") for half in (raw[:32], raw[32:]))
    signed = f"{head}.{claims}".encode()
    key.verify(utils.encode_dss_signature(r, s), signed, ec.ECDSA(hashes.SHA256()))
    return json.loads(bytes_of(claims)), parts["k"]


@dataclass(slots=True)
class Handset:
    """A phone: what its browser would give the station, and what it was shown."""

    endpoint: str
    status: int = 201
    key: ec.EllipticCurvePrivateKey = field(
        default_factory=lambda: ec.generate_private_key(ec.SECP256R1())
    )
    secret: bytes = field(default_factory=lambda: os.urandom(16))
    shown: list[dict[str, Any]] = field(default_factory=list)
    headers: list[dict[str, str]] = field(default_factory=list)
    senders: set[str] = field(default_factory=set)

    @property
    def public(self) -> str:
        point = self.key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return text_of(point)

    @property
    def given(self) -> dict[str, str]:
        """As the browser's subscription has it."""
        return {"endpoint": self.endpoint, "key": self.public, "secret": text_of(self.secret)}

    @property
    def titles(self) -> list[str]:
        return [one["title"] for one in self.shown]


class PushService:
    """Listens with TLS, by a certificate that is its own authority (``authority``)."""

    def __init__(self, folder: Path) -> None:
        self.authority = folder / "push-service.pem"
        self._key = folder / "push-service-key.pem"
        self._handsets: dict[str, Handset] = {}
        self._runner: web.AppRunner | None = None
        self.origin = ""

    def handset(self) -> Handset:
        path = f"/for/{len(self._handsets) + 1}"
        made = Handset(f"{self.origin}{path}")
        self._handsets[path] = made
        return made

    async def _take(self, request: web.Request) -> web.Response:
        handset = self._handsets[request.path]
        if handset.status >= 300:
            return web.Response(status=handset.status)
        claims, key = sender_of(request.headers["Authorization"])
        assert claims["aud"] == self.origin
        assert time.time() < claims["exp"] <= time.time() + 86_400.0
        assert urlsplit(claims["sub"]).scheme in ("mailto", "https")
        assert request.headers["Content-Encoding"] == "aes128gcm"
        assert int(request.headers["TTL"]) >= 0
        handset.shown.append(json.loads(read(await request.read(), handset.key, handset.secret)))
        handset.headers.append(dict(request.headers))
        handset.senders.add(key)
        return web.Response(status=201, headers={"Location": f"{self.origin}/message/1"})

    async def __aenter__(self) -> Self:
        make_certificate(self.authority, self._key)
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.authority, self._key)
        app = web.Application()
        app.router.add_post("/for/{who}", self._take)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=1.0)
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0, ssl_context=context).start()
        self.origin = f"https://127.0.0.1:{self._runner.addresses[0][1]}"
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._runner is not None
        await self._runner.cleanup()
