"""A small thread-safe LRU cache: what was read or thought out once waits for the next who asks."""

from __future__ import annotations

import threading
from typing import Any

from cachetools import LRUCache


class Cache:
    """The one not asked for longest goes first. Each process and each kind of thing has its own.

    >>> held = Cache(2)
    >>> for name in ("a", "b"): held.put(name, name.upper())
    >>> held.get("a"); held.put("c", "C"); held.get("b")
    'A'
    """

    def __init__(self, most: int) -> None:
        self.held: LRUCache[Any, Any] = LRUCache(most)
        self.lock = threading.Lock()

    def get(self, key: Any) -> Any:
        """What was put there under this key, or None."""
        with self.lock:
            return self.held.get(key)

    def put(self, key: Any, value: Any) -> None:
        """Keep it; what was there under the key goes."""
        with self.lock:
            self.held[key] = value
