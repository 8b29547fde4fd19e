"""The files a job rests on: their own bytes by digest, whichever way they came."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field


@dataclass
class Originals:
    """Files by SHA-256: ``originals`` as they came, the ``names`` they had, and what the page shows of them (``shown``)."""

    originals: dict[str, bytes] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    shown: dict[str, bytes] = field(default_factory=dict)

    def keep(self, name: str, raw: bytes) -> str:
        """Keep a file's own bytes; returns their SHA-256 in hex."""
        digest = hashlib.sha256(raw).hexdigest()
        self.originals[digest] = raw
        self.names[digest] = name
        return digest
