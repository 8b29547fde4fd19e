"""Makes an installation's tables: Django set up once, every migration applied."""

from __future__ import annotations

import os
import subprocess
import sys

from ...basis.errors import Missing, Unreadable
from ...basis.sentences import say
from ..evidence.ledger_place import postgres_store
from .setting import root


def ready() -> None:
    """Django set up for this process; needed before accounts are asked for anything."""
    import django
    from django.apps import apps

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "soundedge.web.settings")
    if not apps.ready:
        django.setup()


def migrate() -> None:
    """Every table as this version needs it; nothing is done when it is so already.

    Raises
    ------
    Missing
        The accounts lie in PostgreSQL, and its owner has not made the tables yet: the bench's own role may not.
    """
    root().mkdir(parents=True, exist_ok=True)
    ready()
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    if connection.vendor == "sqlite":
        call_command("migrate", verbosity=0, interactive=False)
        return
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise Missing("database", say("people.tables_not_ready"))


def prepare_database(owner_url: str, role: str, *, password: str = "") -> str:
    """Make the database ready for ledgers and accounts, as its owner; what is there already stays as it is.

    Parameters
    ----------
    owner_url : str
        Address with a role that may make schemas, tables and roles there. The bench itself never uses it.
    role : str
        The bench's own role; made when it is not there.
    password : str
        For a role that is made here.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    Refused, Unreadable, RecordBroken
        See ``store.postgres_schema.prepare`` and ``prepare_accounts``.
    """
    postgres_store()  # says what to install when it is not there
    from ...store.postgres import prepare as ledgers

    said = ledgers(owner_url, role, password=password)
    prepare_accounts(owner_url, role)
    return f"{said} The accounts' tables are those of this version."


def prepare_accounts(owner_url: str, app_role: str) -> None:
    """The accounts' tables in PostgreSQL, made by the owner; the bench's role may read and write them, not change them.

    Runs in a process of its own, as Django holds one database for good. Two at once wait for each other.

    Raises
    ------
    Unreadable
        The owner's address does not work; the database's own words are given.
    """
    done = subprocess.run(
        [sys.executable, "-c", f"from soundedge.services.people.installation import _as_owner; _as_owner({app_role!r})"],
        env=os.environ | {"SOUNDEDGE_DATABASE_URL": owner_url, "DJANGO_SETTINGS_MODULE": "soundedge.web.settings",
                          "SOUNDEDGE_ROOT": os.environ.get("SOUNDEDGE_ROOT", ".")},
        capture_output=True, text=True, check=False,
    )
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no reason was given"])[-1]
        raise Unreadable("database", say("people.tables_not_made", reason=last[:300]))


def _as_owner(app_role: str) -> None:
    ready()
    from django.core.management import call_command
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(725033)")
        try:
            call_command("migrate", verbosity=0, interactive=False)
            role = connection.ops.quote_name(app_role)
            cursor.execute(f"GRANT USAGE ON SCHEMA public TO {role}")
            cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}")
            cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {role}")
        finally:
            cursor.execute("SELECT pg_advisory_unlock(725033)")
