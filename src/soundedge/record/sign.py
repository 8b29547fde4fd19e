"""How does a person sign an event so that neither its words nor its place can be changed afterwards?

The signature is Ed25519 over what the author says *and* over ``prev``, the digest of everything before it:

    "soundedge-record-1 signed event\\n" ‖ canonical {at, body, by, id, job, kind, prev}

So the signer signs the job as they saw it; moved onto another job, or onto the same job with one reading
changed before it, the signature fails. ``no`` and ``recorded_at`` are added by the bench and not signed. The
event carries ``sig = {"key": key id, "value": base64}``; the algorithm follows from the key the verifier
trusts, never from the event.

References
----------
RFC 8032, Edwards-Curve Digital Signature Algorithm, 2017.
"""

from __future__ import annotations

import base64
import hashlib
from functools import lru_cache
from typing import Any

from .canonical import fast_text
from .entry import Fact, statement

_PREFIX = b"soundedge-record-1 signed event\n"
_SIGNED = ("at", "body", "by", "id", "job", "kind", "prev")


def key_id(public: bytes) -> str:
    """A person key's name: the first 16 hex digits of the SHA-256 of its 32 bytes."""
    return hashlib.sha256(public).hexdigest()[:16]


def public_of(seed: bytes) -> bytes:
    """The public key, 32 bytes, of a private seed of 32 bytes."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()


def sign_bytes(seed: bytes, message: bytes) -> bytes:
    """Ed25519 signature, 64 bytes."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.from_private_bytes(seed).sign(message)


def bytes_hold(public: bytes, signature: bytes, message: bytes) -> bool:
    """Whether a signature is that of the key over the message."""
    from cryptography.exceptions import InvalidSignature

    try:
        _key(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def sign_event(seed: bytes, job: str, fact: Fact, *, prev: str) -> dict[str, str]:
    """The ``sig`` of an event that is to follow the one with digest ``prev``.

    Raises
    ------
    BenchError
        The fact has no form in a record.
    """
    message = _message(statement(job, fact) | {"prev": prev})
    return {"key": key_id(public_of(seed)), "value": base64.b64encode(sign_bytes(seed, message)).decode()}


def signature_holds(public: bytes, signature: bytes, event: dict[str, Any]) -> bool:
    """Whether an event's signature (64 bytes) is that of the key over this event in this place."""
    return bytes_hold(public, signature, _message(event))


def _message(event: dict[str, Any]) -> bytes:
    text: str = fast_text({name: event[name] for name in _SIGNED})
    return _PREFIX + text.encode("utf-8")


@lru_cache(maxsize=256)
def _key(public: bytes) -> Any:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    return Ed25519PublicKey.from_public_bytes(public)
