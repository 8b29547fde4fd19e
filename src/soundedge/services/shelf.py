"""Where does what was read or thought out once wait for the next who asks? In memory, while there is room."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Any


class Shelf:
    """A bounded store, the one not asked for longest first out. Each process and each kind of thing has its own.

    >>> held = Shelf(2)
    >>> for name in ("a", "b"): held.put(name, name.upper())
    >>> held.get("a"); held.put("c", "C"); held.get("b")
    'A'
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self.held: OrderedDict[Any, Any] = OrderedDict()
        self.lock = threading.Lock()

    def get(self, key: Any) -> Any:
        """What was put there under this key, or None."""
        with self.lock:
            if key in self.held:
                self.held.move_to_end(key)
                return self.held[key]
        return None

    def put(self, key: Any, value: Any) -> None:
        """Keep it; what was there under the key goes."""
        with self.lock:
            self.held[key] = value
            self.held.move_to_end(key)
            while len(self.held) > self.most:
                self.held.popitem(last=False)
