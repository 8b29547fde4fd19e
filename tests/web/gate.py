"""A gate before the bench that can be shut: what a phone meets between two halls. Bytes go through as they are."""

from __future__ import annotations

import contextlib
import socket
import threading


class Gate:
    """``url`` leads to the bench while ``open`` is True; shut, every connection ends at once."""

    def __init__(self, live) -> None:
        self.open, self.behind, self.held = True, live.server.server_port, set()
        self.door = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.server = live.server
        self.url = f"http://localhost:{self.door.getsockname()[1]}"
        threading.Thread(target=self._watch, daemon=True).start()

    def shut(self) -> None:
        """No network from now on."""
        self.open = False
        for one in list(self.held):
            _end(one)

    def stop(self) -> None:
        """For good."""
        self.shut()
        _end(self.door)

    def _watch(self) -> None:
        while True:
            try:
                near, _ = self.door.accept()
            except OSError:
                return
            if not self.open:
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self.behind))
            self.held |= {near, far}
            for here, there in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(here, there), daemon=True).start()

    def _carry(self, here: socket.socket, there: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while raw := here.recv(65536):
                there.sendall(raw)
        _end(here)
        _end(there)
        self.held -= {here, there}


def _end(one: socket.socket) -> None:
    with contextlib.suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    one.close()
