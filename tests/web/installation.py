"""An installation for tests: one root and one set of tables per process, a fresh shop with its own people for every test.

Shops see nothing of each other, so tests need no cleaning up between them; a leak would show as a failing test.
"""

from __future__ import annotations

import itertools
import os
import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

PASSWORDS = {role: f"{role}s quiet harbour 7" for role in ("technician", "inspector", "engineer", "manager", "auditor")}
NAMES = {
    "technician": "Tove Brandt",
    "inspector": "Ines Okafor",
    "engineer": "Emil Sato",
    "manager": "Mara Lindqvist",
    "auditor": "Aron Vega",
}
_number = itertools.count(1)


def now() -> datetime:
    """The clock, as the bench reads it."""
    return datetime.now(UTC)


def set_up(root: Path) -> None:
    """Django with its tables under ``root``; once per process."""
    os.environ["SOUNDEDGE_ROOT"] = str(root / "installation")
    os.environ["SOUNDEDGE_KEYS"] = str(root / "keys")
    os.environ["DJANGO_SETTINGS_MODULE"] = "soundedge.web.settings"
    (root / "installation").mkdir(parents=True, exist_ok=True)
    from soundedge.services.people.installation import migrate, prepare_accounts

    if os.environ.get("SOUNDEDGE_TEST_OWNER_URL"):  # the cluster of tests/postgres.py
        prepare_accounts(os.environ["SOUNDEDGE_TEST_OWNER_URL"], "soundedge_app")
    migrate()
    quick()


def quick() -> None:
    """Passwords cost next to nothing here: thousands are made in tests. What they cost in use is in test_passwords.py."""
    from django.conf import settings

    from soundedge.services.evidence import person_keys

    settings.PASSWORD_HASHERS = ["tests.web.quick.QuickArgon2", *settings.PASSWORD_HASHERS]
    person_keys._SCRYPT_N = 2**8


@dataclass
class TestShop:
    """A shop with one person of each role, all with passwords of their own, and one enrolled device."""

    __test__ = False
    slug: str
    row: Any
    accounts: dict[str, Any] = field(default_factory=dict)
    token: str = ""
    device: Any = None

    @property
    def data(self) -> Path:
        """Its data folder."""
        from soundedge.services.people.setting import data_of

        return data_of(self.row)

    def actor(self, role: str) -> Any:
        """A person of the shop at its device."""
        from soundedge.services.people.accounts import actor_of

        return actor_of(self.accounts[role], self.device)

    def client(self, role: str | None, *, device: bool = True) -> Any:
        """A browser without a screen, signed in as this role."""
        client = browser()
        if device:
            client.cookies["__Host-device"] = self.token
        if role:
            answer = client.post("/sign-in/", {"login": self.login(role), "password": PASSWORDS[role]})
            assert answer.status_code == 302, answer.content.decode()[-600:]
        return client

    def login(self, role: str) -> str:
        """The sign-in name of a role."""
        return f"{role}.{self.slug}"


def browser(**more: Any) -> Any:
    """A browser without a screen that speaks TLS to bench.local."""
    from django.test import Client

    class Browser(Client):
        def __init__(self, enforce_csrf_checks: bool = False, **more: Any) -> None:
            super().__init__(enforce_csrf_checks, **more)
            self.handler = _bench(enforce_csrf_checks)

        def generic(self, method: str, path: str, data: Any = "", content_type: str = "application/octet-stream",
                    secure: bool = True, **extra: Any) -> Any:
            return super().generic(method, path, data, content_type, True, **extra)

    return Browser(HTTP_HOST="bench.local", **more)


@cache
def _bench(enforce_csrf_checks: bool) -> Any:
    """The one that answers all of them: it looks up every static file when it is made."""
    from django.test.client import ClientHandler

    handler = ClientHandler(enforce_csrf_checks)
    handler.load_middleware()
    return handler


@cache
def _certificates_key() -> Any:
    """The one that signs the pages of every shop here: to find its primes takes longer than all else of a shop."""
    from cryptography.hazmat.primitives.asymmetric import rsa

    return rsa.generate_private_key(public_exponent=65537, key_size=3072)


def new_shop(roles: tuple[str, ...] = tuple(PASSWORDS)) -> TestShop:
    """A fresh shop; all its keys are its own but the one of its certificate."""
    from soundedge.services.people import accounts, devices

    slug = f"shop-{os.getpid()}-{next(_number)}"
    with patch("cryptography.hazmat.primitives.asymmetric.rsa.generate_private_key", return_value=_certificates_key()):
        row = accounts.open_shop(slug, f"Kelderbeck Basin Works, {slug}", now=now())
    shop = TestShop(slug, row)
    manager = None
    for role in ("manager", *(role for role in roles if role != "manager")):
        person: dict[str, Any] = {"id": role[:4], "name": NAMES[role], "role": role}
        if role in ("technician", "inspector"):
            person |= {
                "qualified_until": "2036-01-01T00:00:00Z",
                "qualified_for": ["ectfe", "etfe"],
                "certificate": f"C-{role}",
            }
        account, one_time = accounts.add_person(row, person, login=shop.login(role), by=manager, now=now())
        accounts.change_password(account, one_time, PASSWORDS[role], now=now())
        shop.accounts[role] = account
        if manager is None:
            manager = accounts.actor_of(account)
    shop.device, shop.token = devices.enrol_device(row, "tablet at bench 1", by=manager, now=now())
    return shop


class Live:
    """The bench on a free port of this machine, for a real browser. ``url`` is http://localhost:PORT."""

    def __init__(self) -> None:
        from socketserver import ThreadingMixIn
        from wsgiref.simple_server import WSGIRequestHandler, WSGIServer

        from django.db import connections

        from soundedge.web.wsgi import application

        class Quiet(WSGIRequestHandler):
            def log_message(self, *args: Any) -> None:
                pass

        class Server(ThreadingMixIn, WSGIServer):
            daemon_threads = True
            request_queue_size = 64

            def process_request_thread(self, *request: Any) -> None:
                try:
                    super().process_request_thread(*request)
                finally:
                    connections.close_all()  # this thread's; it answers nothing more

        self.server = Server(("127.0.0.1", 0), Quiet)
        self.server.set_app(application)
        self.url = f"http://localhost:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        """Close the port."""
        self.server.shutdown()
        self.server.server_close()
