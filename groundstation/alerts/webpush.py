"""Web push: what a phone's browser can read and nobody on the way (RFC 8030, 8188, 8291, 8292).

Functions of bytes; the cryptography is that of the library of this name.
"""

import base64
import hashlib
import hmac
import json
import struct
from typing import Final

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, utils
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

RECORD_BYTES: Final = 4_096
"""One record, and all that a push service must take (RFC 8030 section 7.2)."""

MOST_BYTES: Final = RECORD_BYTES - 86 - 17
"""Of plain text: 86 octets go before it, and a mark and the tag of 16 after it (RFC 8291)."""

SALT_BYTES: Final = 16  # RFC 8188 section 2.1
POINT_BYTES: Final = 65  # an uncompressed point of P-256, SEC 1 section 2.3.3
SECRET_BYTES: Final = 16  # RFC 8291 section 3.2


def encrypted(
    text: bytes,
    phone_key: bytes,
    phone_secret: bytes,
    *,
    sender: ec.EllipticCurvePrivateKey,
    salt: bytes,
) -> bytes:
    """``text`` as the one record of "aes128gcm" that the phone with this key and secret reads.

    ``sender`` and ``salt`` are new for each message. Raises ``ValueError`` for a text of more than
    ``MOST_BYTES``, and for a key that is no point of P-256.
    """
    if len(text) > MOST_BYTES:
        raise ValueError(f"{len(text)} bytes are more than the {MOST_BYTES} of one message")
    own_key = point(sender.public_key())
    shared = sender.exchange(ec.ECDH(), read_point(phone_key))
    # RFC 8291 section 3.4; each HKDF step with an output of one block is two HMACs.
    info = b"WebPush: info\0" + phone_key + own_key
    material = _hmac(_hmac(phone_secret, shared), info + b"\x01")
    mixed = _hmac(salt, material)
    key = _hmac(mixed, b"Content-Encoding: aes128gcm\0\x01")[:16]
    nonce = _hmac(mixed, b"Content-Encoding: nonce\0\x01")[:12]
    head = salt + struct.pack("!IB", RECORD_BYTES, len(own_key)) + own_key
    return head + AESGCM(key).encrypt(nonce, text + b"\x02", None)


def vapid(key: ec.EllipticCurvePrivateKey, origin: str, contact: str, until_utc: float) -> str:
    """The Authorization by which a push service knows who sends (RFC 8292 section 3).

    ``origin`` is that of the phone's endpoint, ``contact`` a mailto: or https: address.
    """
    claims = {"aud": origin, "exp": int(until_utc), "sub": contact}
    signed = ".".join(packed(json.dumps(part).encode()) for part in (_HEAD, claims))
    r, s = utils.decode_dss_signature(key.sign(signed.encode(), ec.ECDSA(hashes.SHA256())))
    signature = packed(r.to_bytes(32, "big") + s.to_bytes(32, "big"))
    return f"vapid t={signed}.{signature}, k={packed(point(key.public_key()))}"


_HEAD: Final = {"typ": "JWT", "alg": "ES256"}


def point(key: ec.EllipticCurvePublicKey) -> bytes:
    """A public key as its uncompressed point."""
    return key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def read_point(data: bytes) -> ec.EllipticCurvePublicKey:
    """Raises ``ValueError`` for what is no uncompressed point of P-256."""
    if len(data) != POINT_BYTES:
        raise ValueError("this is no uncompressed point of P-256")
    return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), data)


def packed(data: bytes) -> str:
    """As base64url without padding, as all of these standards write bytes."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unpacked(text: str) -> bytes:
    """Raises ``ValueError`` for what is not base64url."""
    if set(text) & set("+/"):
        raise ValueError("this is base64, not base64url")
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)


def _hmac(key: bytes, data: bytes) -> bytes:
    return hmac.digest(key, data, hashlib.sha256)
