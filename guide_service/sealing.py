"""Phone numbers sealed at rest and found through keyed hashes; carrier ids and sign-in cookies kept as keyed hashes.

One secret, one derived key per purpose (HKDF, RFC 5869), so that a leaked index key opens no number. Some ten thousand
million numbers exist: a plain hash of one is found by trying them all, a keyed one is not. The first secret is in use;
the others only open and find what was written under them, until ``followup.retention`` has sealed it anew.
"""

from __future__ import annotations

import hmac
import os
from collections.abc import Sequence

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

_NONCE_BYTES = 12
"""Random nonce of the size AES-GCM is made for (NIST SP 800-38D, 8.2.2: at most 2**32 sealings per key)."""
_PURPOSES = ("key id", "phone index", "phone seal", "carrier id", "sign-in token", "house code",
             "second factor", "recovery code")  # fmt: skip


class SealingError(Exception):
    """A sealed number cannot be opened: its key is unknown, or it was changed. Never names the number."""


class Sealer:
    def __init__(self, keys: Sequence[str]) -> None:
        if not keys:
            raise ValueError("at least one secret key is needed")
        rings = [_derive(secret) for secret in keys]
        self.key_id = _key_id(rings[0])
        self._phone = [ring["phone index"] for ring in rings]
        self._sid = [ring["carrier id"] for ring in rings]
        self._token = rings[0]["sign-in token"]
        self._code = [ring["house code"] for ring in rings]
        self.old_key_ids = frozenset(map(_key_id, rings)) - {self.key_id}
        self._recovery = [ring["recovery code"] for ring in rings]
        self._ciphers = _ciphers(rings, "phone seal")
        self._factors = _ciphers(rings, "second factor")

    def phone_key(self, number: str) -> str:
        """How a number is found: 64 hex digits."""
        return _hash(self._phone[0], number)

    def phone_keys(self, number: str) -> tuple[str, ...]:
        """The key in use first, then those of older secrets: what to look for while old rows remain."""
        return tuple(_hash(key, number) for key in self._phone)

    def seal(self, number: str) -> tuple[bytes, str]:
        """The sealed number and the id of its key; never twice the same bytes."""
        return _seal(self._ciphers, self.key_id, number)

    def open(self, sealed: bytes, key_id: str) -> str:
        return _open(self._ciphers, key_id, sealed)

    def seal_factor(self, secret: str) -> tuple[bytes, str]:
        """Likewise the secret of an authenticator app, under a key of its own."""
        return _seal(self._factors, self.key_id, secret)

    def open_factor(self, sealed: bytes, key_id: str) -> str:
        return _open(self._factors, key_id, sealed)

    def sid_key(self, sid: str) -> str:
        """A carrier id as a tombstone keeps it."""
        return _hash(self._sid[0], sid)

    def sid_keys(self, sid: str) -> tuple[str, ...]:
        return tuple(_hash(key, sid) for key in self._sid)

    def code_keys(self, code: str) -> tuple[str, ...]:
        """How a household code is found: under the secret in use, then under older ones."""
        return tuple(_hash(key, code) for key in self._code)

    def recovery_keys(self, code: str) -> tuple[str, ...]:
        """How a recovery code is found, likewise."""
        return tuple(_hash(key, code) for key in self._recovery)

    def token_key(self, token: str) -> str:
        """A sign-in cookie as it is stored; a new secret signs everybody out, which is what one wants of it."""
        return _hash(self._token, token)


def _ciphers(rings: Sequence[dict[str, bytes]], purpose: str) -> dict[str, AESGCM]:
    return {_key_id(ring): AESGCM(ring[purpose]) for ring in reversed(rings)}


def _seal(ciphers: dict[str, AESGCM], key_id: str, words: str) -> tuple[bytes, str]:
    nonce = os.urandom(_NONCE_BYTES)
    return nonce + ciphers[key_id].encrypt(nonce, words.encode(), key_id.encode()), key_id


def _open(ciphers: dict[str, AESGCM], key_id: str, sealed: bytes) -> str:
    cipher = ciphers.get(key_id)
    if cipher is None:
        raise SealingError(f"no key {key_id!r} among GUIDE_SECRET_KEY and GUIDE_PREVIOUS_SECRET_KEYS")
    try:
        return cipher.decrypt(sealed[:_NONCE_BYTES], sealed[_NONCE_BYTES:], key_id.encode()).decode()
    except InvalidTag:
        raise SealingError(f"what was sealed with key {key_id!r} was changed") from None


def _derive(secret: str) -> dict[str, bytes]:
    return {purpose: _hkdf(secret, purpose) for purpose in _PURPOSES}


def _hkdf(secret: str, purpose: str) -> bytes:
    hkdf = HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=f"guide-service {purpose}".encode())
    return hkdf.derive(secret.encode())


def _key_id(ring: dict[str, bytes]) -> str:
    return ring["key id"].hex()[:12]


def _hash(key: bytes, text: str) -> str:
    return hmac.digest(key, text.encode("utf-8", "surrogatepass"), "sha256").hex()
