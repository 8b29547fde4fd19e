"""What does the ledger look like in PostgreSQL, and what can the program that uses it not do there?

The same one table as in a file (schema.py), for many shops: every row carries its ``tenant``, a random name that the shop's
data folder knows. Two roles:

    the owner     makes tables and guards (``prepare``), and is used for nothing else
    the program   may SELECT and INSERT in the ledger, and nothing else there: no UPDATE, DELETE, TRUNCATE, ALTER, DROP

What holds the program, and every other client that uses its role:

    rights        it has no right to change or take away a row, nor to switch a guard off
    guards        triggers refuse that all the same, and every insert that is not the next row with its own true digests; they
                  fire ALWAYS, so that no session setting skips them
    rows          Row Level Security, forced: a transaction sees the rows of the one tenant it has named, and can write no
                  other's; one that names none sees nothing
    duties        no judgement "released" over the release of somebody who repaired or decided on that job

Guards stop mistakes and buggy programs, and here also whoever has only the program's password. The owner and the database's
administrator can drop them; the chain and the witness are for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import psycopg
from psycopg import sql

from ..basis.errors import RecordBroken, Refused, Unreadable
from ..basis.sentences import say
from .postgres_files import FILES_HELD, make_files
from .projections import PROJECTIONS, Projection, Table
from .schema import OWN_WORK, REPAIR_STEPS, moment

VERSION = 1
TENANT = "soundedge.tenant"
_MINE = f"tenant = current_setting('{TENANT}', true)"
_STEPS = ", ".join(f"'{kind}'" for kind in REPAIR_STEPS)

LEDGER = """
CREATE TABLE soundedge.ledger (
  tenant text NOT NULL,
  seq bigint NOT NULL,
  job text NOT NULL,
  no bigint NOT NULL,
  id text NOT NULL,
  entry bytea NOT NULL,
  leaf bytea NOT NULL,
  link bytea NOT NULL,
  PRIMARY KEY (tenant, seq),
  UNIQUE (tenant, job, no),
  UNIQUE (tenant, job, id)
)
"""
TENANTS = ("CREATE TABLE soundedge.tenants (tenant text PRIMARY KEY CHECK (tenant ~ '^[0-9a-f]{32}$'), "
           "made_at timestamptz NOT NULL)")
DERIVED = "CREATE TABLE soundedge.derived (tenant text NOT NULL, name text NOT NULL, PRIMARY KEY (tenant, name))"
FORMAT = "CREATE TABLE soundedge.format (version integer NOT NULL)"

# what must be found again at opening: columns and constraints of the ledger as the database itself writes them
COLUMNS = (
    ("tenant", "text"), ("seq", "bigint"), ("job", "text"), ("no", "bigint"), ("id", "text"), ("entry", "bytea"),
    ("leaf", "bytea"), ("link", "bytea"),
)
CONSTRAINTS = {"PRIMARY KEY (tenant, seq)", "UNIQUE (tenant, job, no)", "UNIQUE (tenant, job, id)"}

# function → its body. They read only the rows of the tenant that the transaction has named, as whoever calls them.
FUNCTIONS = {
    "only_added_to": """
BEGIN
  RAISE EXCEPTION 'the ledger is only added to';
END
""",
    "only_next": """
DECLARE
  before record;
  own_last record;
  says json;
BEGIN
  SELECT seq, link INTO before FROM soundedge.ledger WHERE tenant = NEW.tenant ORDER BY seq DESC LIMIT 1;
  SELECT no, entry INTO own_last FROM soundedge.ledger WHERE tenant = NEW.tenant AND job = NEW.job ORDER BY no DESC LIMIT 1;
  says := convert_from(NEW.entry, 'UTF8')::json;
  IF NEW.seq IS DISTINCT FROM coalesce(before.seq, 0) + 1
    OR NEW.no IS DISTINCT FROM coalesce(own_last.no, 0) + 1
    OR NEW.leaf IS DISTINCT FROM sha256('\\x00'::bytea || NEW.entry)
    OR NEW.link IS DISTINCT FROM sha256(coalesce(before.link, decode(repeat('00', 32), 'hex')) || NEW.leaf)
    OR says ->> 'job' IS DISTINCT FROM NEW.job OR says ->> 'id' IS DISTINCT FROM NEW.id
    OR says ->> 'no' IS DISTINCT FROM NEW.no::text
    OR says ->> 'prev' IS DISTINCT FROM coalesce(encode(sha256(own_last.entry), 'hex'), repeat('0', 64))
  THEN
    RAISE EXCEPTION 'the ledger takes only the next entry';
  END IF;
  RETURN NEW;
END
""",
    "own_work": f"""
DECLARE
  says json := convert_from(NEW.entry, 'UTF8')::json;
  releaser text;
BEGIN
  IF says ->> 'kind' IS DISTINCT FROM 'job.judged' OR says -> 'body' ->> 'verdict' IS DISTINCT FROM 'released' THEN
    RETURN NEW;
  END IF;
  WITH said AS MATERIALIZED (
    SELECT no, id, read ->> 'kind' AS kind, read ->> 'by' AS person, read ->> 'at' AS at, read #>> '{{body,entry}}' AS about
    FROM (SELECT no, id, convert_from(entry, 'UTF8')::json AS read FROM soundedge.ledger
          WHERE tenant = NEW.tenant AND job = NEW.job) AS every
  ), release AS (
    SELECT person FROM said AS r
    WHERE kind = 'release.signed'
      AND NOT EXISTS (SELECT 1 FROM said AS v WHERE v.no > r.no AND v.kind = 'entry.voided' AND v.about = r.id)
    ORDER BY {moment('at')} COLLATE "C" DESC, no DESC LIMIT 1
  )
  SELECT release.person INTO releaser FROM release
  WHERE EXISTS (
    SELECT 1 FROM said AS w WHERE w.person = release.person
      AND (w.kind IN ({_STEPS})
        OR w.kind = 'escalation.decided' AND NOT EXISTS (
          SELECT 1 FROM said AS v
          WHERE v.no > w.no AND v.kind = 'entry.voided' AND v.about = w.id AND v.person <> w.person)));
  IF FOUND THEN
    RAISE EXCEPTION '{OWN_WORK}';
  END IF;
  RETURN NEW;
END
""",
}

# trigger → (function, when it fires in PostgreSQL's own words)
TRIGGERS = {
    "a_ledger_only_next": ("only_next", "BEFORE INSERT ON soundedge.ledger FOR EACH ROW"),
    "b_ledger_own_work": ("own_work", "BEFORE INSERT ON soundedge.ledger FOR EACH ROW"),
    "ledger_no_delete": ("only_added_to", "BEFORE DELETE ON soundedge.ledger FOR EACH STATEMENT"),
    "ledger_no_truncate": ("only_added_to", "BEFORE TRUNCATE ON soundedge.ledger FOR EACH STATEMENT"),
    "ledger_no_update": ("only_added_to", "BEFORE UPDATE ON soundedge.ledger FOR EACH STATEMENT"),
}
POLICY = "own_shop"
WALLED = ("ledger", "tenants", "derived", "files", "shared")  # the last two are not there before this version's ``prepare``


def prepare(owner_url: str, app_role: str, *, password: str = "", projections: Sequence[Projection] = PROJECTIONS) -> str:
    """Make schema, tables, guards and the program's role; what is there already stays as it is.

    Parameters
    ----------
    owner_url : str
        Address of the database with the owner's role: one that may make a schema there (and roles, when the program's is not
        there yet). Not the program's.
    app_role : str
        Name of the program's role, letters, digits and underscores.
    password : str
        Given to the role when it is made here; without one it has none.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    Refused
        The program's role is the owner's, or more than the program may be.
    RecordBroken
        A ledger is there whose guards are not what they were made.
    Unreadable
        Not a name; a newer version's; or the database does not let the owner do it.
    """
    if not app_role.replace("_", "a").isalnum() or not app_role.isascii() or len(app_role) > 60:
        raise Unreadable("role", say("store.role_name_form", role=app_role[:40]))
    try:
        with psycopg.connect(owner_url, connect_timeout=10) as db:
            return _prepared(db, app_role, password, projections)
    except psycopg.errors.InsufficientPrivilege as error:
        raise Unreadable("owner", say("store.owner_lacks_rights", why=_said(error))) from None
    except psycopg.Error as error:
        raise Unreadable("database", say("store.database_not_prepared", why=_said(error))) from None


def _prepared(db: psycopg.Connection[Any], app_role: str, password: str, projections: Sequence[Projection]) -> str:
    role = sql.Identifier(app_role)
    db.execute("SELECT pg_advisory_xact_lock(hashtextextended('soundedge prepare', 0))")
    if app_role == _one(db, "SELECT current_user"):
        raise Refused("role", say("store.role_is_owner", role=app_role))
    if not _one(db, "SELECT count(*) FROM pg_roles WHERE rolname = %s", app_role):
        db.execute(sql.SQL("CREATE ROLE {} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS").format(role))
        if password:
            db.execute(sql.SQL("ALTER ROLE {} PASSWORD {}").format(role, sql.Literal(password)))
    new = not _one(db, "SELECT count(*) FROM pg_namespace WHERE nspname = 'soundedge'")
    if new:
        _made(db)
    else:
        check_format(db)
        check_shape(db)
    db.execute(sql.SQL("GRANT USAGE ON SCHEMA soundedge TO {}").format(role))
    db.execute(sql.SQL("GRANT SELECT, INSERT ON soundedge.ledger, soundedge.tenants, soundedge.derived TO {}").format(role))
    db.execute(sql.SQL("GRANT SELECT ON soundedge.format TO {}").format(role))
    for name in make_files(db, role):
        _own_rows_only(db, name)
    for projection in projections:
        for name, table in projection.tables.items():
            _derived(db, name, table)
            db.execute(sql.SQL("GRANT SELECT, INSERT, UPDATE, DELETE ON soundedge.{} TO {}").format(sql.Identifier(name), role))
    check_shape(db)
    check_role(db, app_role)
    return (f"The ledger's tables and guards {'were made' if new else 'are there, as they were made'}; role '{app_role}' may "
            "read and add, and nothing else.")


def _made(db: psycopg.Connection[Any]) -> None:
    db.execute("CREATE SCHEMA soundedge")
    for text in (LEDGER, TENANTS, DERIVED, FORMAT):
        db.execute(text)
    db.execute("INSERT INTO soundedge.format VALUES (%s)", (VERSION,))
    for name, body in FUNCTIONS.items():
        db.execute(sql.SQL("CREATE FUNCTION soundedge.{}() RETURNS trigger LANGUAGE plpgsql "
                           "SET search_path = pg_catalog, pg_temp AS {}").format(sql.Identifier(name), sql.Literal(body)))
    for name, (function, when) in TRIGGERS.items():
        db.execute(f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION soundedge.{function}()")  # type: ignore[call-overload]
        db.execute(f"ALTER TABLE soundedge.ledger ENABLE ALWAYS TRIGGER {name}")  # type: ignore[call-overload]
    for table in ("ledger", "tenants", "derived"):
        _own_rows_only(db, table)


def _derived(db: psycopg.Connection[Any], name: str, table: Table) -> None:
    if _one(db, "SELECT count(*) FROM pg_tables WHERE schemaname = 'soundedge' AND tablename = %s", name):
        return
    columns = ", ".join(f"{column} {kind} NOT NULL" for column, kind in table.columns.items())
    text = (f"CREATE TABLE soundedge.{name} (tenant text NOT NULL DEFAULT current_setting('{TENANT}'), {columns}, "
            f"PRIMARY KEY (tenant, {', '.join(table.key)}))")
    db.execute(text)  # type: ignore[call-overload]
    _own_rows_only(db, name)


def _own_rows_only(db: psycopg.Connection[Any], table: str) -> None:
    db.execute(f"ALTER TABLE soundedge.{table} ENABLE ROW LEVEL SECURITY")  # type: ignore[call-overload]
    db.execute(f"ALTER TABLE soundedge.{table} FORCE ROW LEVEL SECURITY")  # type: ignore[call-overload]
    policy = f"CREATE POLICY {POLICY} ON soundedge.{table} USING ({_MINE}) WITH CHECK ({_MINE})"
    db.execute(policy)  # type: ignore[call-overload]


# ---------------------------------------------------------------------------- looked at again


def check_format(db: psycopg.Connection[Any]) -> None:
    """Is there a ledger in this database that this version knows?

    Raises
    ------
    Unreadable
        None was prepared, this role cannot see it, or it is a newer version's.
    """
    if not _one(db, "SELECT coalesce(has_schema_privilege(oid, 'USAGE'), false) FROM pg_namespace WHERE nspname = 'soundedge'"):
        raise Unreadable("database", say("store.database_not_ready"))
    version = _one(db, "SELECT max(version) FROM soundedge.format")
    if version != VERSION:
        raise Unreadable("database", say("store.database_format_newer", found=version, known=VERSION))


def check_shape(db: psycopg.Connection[Any]) -> None:
    """Table, guards and row security are what they were made; else RecordBroken names what is not."""
    found = db.execute(
        "SELECT relkind::text, relpersistence::text, relrowsecurity, relforcerowsecurity, "
        "EXISTS (SELECT 1 FROM pg_rewrite WHERE ev_class = c.oid), "
        "EXISTS (SELECT 1 FROM pg_inherits WHERE c.oid IN (inhparent, inhrelid)), oid "
        "FROM pg_class c WHERE oid = to_regclass('soundedge.ledger')"
    ).fetchone()
    if not found:
        raise RecordBroken("ledger", say("store.table_missing"))
    columns = tuple(db.execute("SELECT attname::text, format_type(atttypid, atttypmod) FROM pg_attribute WHERE attrelid = %s "
                               "AND attnum > 0 AND NOT attisdropped AND attnotnull ORDER BY attnum", (found[6],)).fetchall())
    held = {row[0] for row in db.execute("SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = %s AND "
                                         "contype <> 'n'", (found[6],))}
    if found[:2] != ("r", "p") or found[4] or found[5] or columns != COLUMNS or held != CONSTRAINTS:
        raise RecordBroken("ledger", say("store.table_changed"))
    walled = [row[0] for row in db.execute("SELECT relname::text FROM pg_class WHERE relnamespace = 'soundedge'::regnamespace "
                                           "AND relname = ANY(%s)", (list(WALLED),))]
    policies = db.execute("SELECT tablename::text, policyname::text, permissive, cmd, roles::text, qual, with_check "
                          "FROM pg_policies WHERE schemaname = 'soundedge' AND tablename = ANY(%s)", (list(WALLED),))
    mine = f"({_MINE.replace(f'{TENANT!r}', f'{TENANT!r}::text')})"
    due = {(table, POLICY, "PERMISSIVE", "ALL", "{public}", mine, mine) for table in {*WALLED[:3], *walled}}
    if not (found[2] and found[3]) or set(policies.fetchall()) != due or not _forced(db):
        raise RecordBroken("ledger", say("store.row_security_changed"))
    if "files" in walled and not _one(db, FILES_HELD):
        raise RecordBroken("ledger", say("store.table_changed"))
    guards = {row[0]: row[1:] for row in db.execute(
        "SELECT tgname::text, tgenabled::text, pg_get_triggerdef(t.oid), prosrc, prosecdef, proconfig, lanname::text "
        "FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid JOIN pg_language l ON l.oid = prolang "
        "WHERE tgrelid = %s AND NOT tgisinternal", (found[6],))}
    for name, (function, when) in TRIGGERS.items():
        wanted = ("A", f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION soundedge.{function}()", FUNCTIONS[function], False,
                  ["search_path=pg_catalog, pg_temp"], "plpgsql")
        if guards.pop(name, None) != wanted:
            raise RecordBroken("ledger", say("store.guard_changed", guard=name))
    if guards:
        raise RecordBroken("ledger", say("store.trigger_foreign", trigger=sorted(guards)[0][:60]))


def _forced(db: psycopg.Connection[Any]) -> bool:
    return bool(_one(db, "SELECT bool_and(relrowsecurity AND relforcerowsecurity) FROM pg_class WHERE relnamespace = "
                         "'soundedge'::regnamespace AND relname = ANY(%s)", list(WALLED)))


def check_role(db: psycopg.Connection[Any], role: str) -> None:
    """The role cannot change or take away what was written; else Refused says why."""
    why = _too_much(db, role)
    if why:
        raise Refused("database", say("store.role_too_powerful", role=role, why=why))


def _too_much(db: psycopg.Connection[Any], role: str) -> str:
    found = db.execute("SELECT rolsuper, rolbypassrls, rolcreaterole FROM pg_roles WHERE rolname = %s", (role,)).fetchone()
    superuser, bypasses, makes_roles = found or (True, True, True)
    if superuser:
        return "is the database's administrator"
    if bypasses:
        return "passes the wall between the shops (BYPASSRLS)"
    if makes_roles:
        return "may make roles"
    for what, owner in (("the ledger's table", "SELECT relowner FROM pg_class WHERE oid = 'soundedge.ledger'::regclass"),
                        ("the ledger's schema", "SELECT nspowner FROM pg_namespace WHERE nspname = 'soundedge'"),
                        ("the database", "SELECT datdba FROM pg_database WHERE datname = current_database()"),
                        ("a guard", "SELECT proowner FROM pg_proc WHERE pronamespace = 'soundedge'::regnamespace LIMIT 1")):
        if _one(db, f"SELECT pg_has_role(%s, ({owner}), 'MEMBER')", role):
            return f"owns {what}"
    for right in ("UPDATE", "DELETE", "TRUNCATE", "TRIGGER", "REFERENCES"):
        if _one(db, "SELECT has_table_privilege(%s, 'soundedge.ledger', %s)", role, right):
            return f"may {right} in the ledger"
        by_column = right in ("UPDATE", "REFERENCES")
        if by_column and _one(db, "SELECT has_any_column_privilege(%s, 'soundedge.ledger', %s)", role, right):
            return f"may {right} in the ledger"
    for right in ("UPDATE", "DELETE", "TRUNCATE", "TRIGGER"):
        if _one(db, "SELECT has_table_privilege(%s, to_regclass('soundedge.files'), %s)", role, right):
            return f"may {right} in the ledger"
    if _one(db, "SELECT has_schema_privilege(%s, 'soundedge', 'CREATE')", role):
        return "may make things in the ledger's schema"
    return ""


def _one(db: psycopg.Connection[Any], question: str, *values: Any) -> Any:
    row = db.execute(question, values).fetchone()  # type: ignore[call-overload]
    return row[0] if row else None


def _said(error: psycopg.Error) -> str:
    """What the database said, on one line."""
    text = error.diag.message_primary or str(error)
    return " ".join(text.split())[:200].rstrip(".")
