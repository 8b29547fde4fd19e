"""Where this installation lies, and what was set for it. The one place that reads the environment for the bench.

SOUNDEDGE_ROOT          the installation's folder: bench.sqlite3 (accounts), shops/<slug>/ (ledger, files)
SOUNDEDGE_KEYS          where keys lie (evidence/key_files.py); the bench's own secret lies there too, never in the data
SOUNDEDGE_DATABASE_URL  PostgreSQL instead of the files (evidence/ledger_place.py)
SOUNDEDGE_LANGUAGE      en or de: what the command line says to people; else LC_ALL, LC_MESSAGES or LANG
SOUNDEDGE_UNITS         metric or us: the units it says it in
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from ...basis.errors import Missing, Unreadable
from ...basis.sentences import LANGUAGES, say
from ..evidence import key_files
from ..files import read_text

if TYPE_CHECKING:
    from ...store.accounts.models import Shop

SECRET = "web.secret"


def reader() -> tuple[str, str]:
    """Language and units of whoever sits at the terminal; English and metric where none is set that is held."""
    names = ("SOUNDEDGE_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    language = next((os.environ[name] for name in names if os.environ.get(name)), "")[:2].lower()
    units = os.environ.get("SOUNDEDGE_UNITS", "").lower()
    return language if language in LANGUAGES else "en", units if units in ("metric", "us") else "metric"


def root() -> Path:
    """The installation's folder.

    Raises
    ------
    Missing
        Nothing is set.
    """
    given = os.environ.get("SOUNDEDGE_ROOT")
    if not given:
        raise Missing("root", say("people.installation_unnamed"))
    return Path(given)


def web_secret() -> str:
    """The secret that signs cookies and forms: made once, 0600, beside the keys and never in the data folder."""
    folder = key_files.key_folder()
    file = folder / SECRET
    if not file.exists():
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise Unreadable("keys", say("people.keys_folder_not_made", folder=folder, reason=error.strerror)) from None
        key_files.write_private(file, (secrets.token_urlsafe(48) + "\n").encode())
    text = read_text(file, what="The bench's secret", field="keys").strip()
    if len(text) < 43:
        raise Unreadable("keys", say("people.secret_too_short", file=file))
    return text


def database() -> dict[str, Any]:
    """Django's setting for the accounts' tables: SQLite with every commit synced, or PostgreSQL.

    Raises
    ------
    Unreadable
        An address that is not one of PostgreSQL.
    """
    url = os.environ.get("SOUNDEDGE_DATABASE_URL", "")
    if not url:
        return {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": root() / "bench.sqlite3",
            "OPTIONS": {
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;",
            },
        }
    parts = urlsplit(url)
    if parts.scheme not in ("postgresql", "postgres") or not parts.path.strip("/"):
        raise Unreadable("database", say("people.database_url"))
    options = dict(pair.split("=", 1) for pair in parts.query.split("&") if "=" in pair)
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": unquote(parts.path.lstrip("/")),
        "USER": unquote(options.pop("user", parts.username or "")),
        "PASSWORD": unquote(options.pop("password", parts.password or "")),
        "HOST": unquote(options.pop("host", parts.hostname or "")),
        "PORT": str(parts.port or ""),
        "CONN_MAX_AGE": 60,
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {key: unquote(value) for key, value in options.items()},
    }


def people_changed() -> Path:
    """The file that grows whenever somebody's way in has changed (store/accounts/memory.py)."""
    return root() / "people.changed"


def data_of(shop: Shop) -> Path:
    """The shop's data folder in this installation."""
    from ..desk.shop_place import shop_data

    return shop_data(root(), shop.slug)
