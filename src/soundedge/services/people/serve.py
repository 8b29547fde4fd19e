"""What must be ready before the bench opens for tablets, and what is then told to whoever started it.

In this order, so that a wrong start changes nothing: the address is taken, the folder is looked at, the tables are
brought up to this version, every shop's ledger is held against its witnesses, the certificate is made, the heat estimates are
compiled (once for good, where set-up has not done it). Only then the web is started, by its name (``soundedge.web.server``):
nothing here imports it.

The bench has its own port and its own certificate; it believes nothing a proxy writes into headers.
"""

from __future__ import annotations

import errno
import io
import logging
import os
import socket
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Missing, OutOfRange, Unreadable
from ...basis.sentences import say
from ...heat import compiled
from ..evidence import key_files
from ..evidence.ledger_place import find_shops
from ..evidence.shared_keys import shared_by
from .accounts import first_start_code
from .machine_names import names_of_this_machine
from .tls import Tls, make_shop_tls

LOG = logging.getLogger("soundedge")
WEB = "soundedge.web.server"
PORT = 8741
WORKERS_MAX, THREADS_MAX = 16, 64


@dataclass(frozen=True)
class Settings:
    """How the bench is to be opened. ``host`` is where it listens, ``names`` are more names the tablets may use."""

    root: Path
    host: str = "127.0.0.1"
    port: int = PORT
    tls: bool = False
    names: tuple[str, ...] = ()
    workers: int = 2
    threads: int = 16
    log: Path | None = None
    new_authority: bool = False


@dataclass(frozen=True)
class ShopStanding:
    """How a shop's ledger stands. ``read_only``: it contradicts what somebody has seen, or is damaged; ``said`` is why."""

    slug: str
    read_only: bool
    said: str


@dataclass(frozen=True)
class Prepared:
    """Everything is ready; ``listening`` is the socket the bench answers on, ``few`` what its database may be short of."""

    settings: Settings
    listening: socket.socket
    shops: tuple[ShopStanding, ...]
    tls: Tls | None
    first_code: str | None
    few: str = ""

    @property
    def port(self) -> int:
        """The port it listens on; another than asked for when that was 0."""
        return int(self.listening.getsockname()[1])

    @property
    def addresses(self) -> list[str]:
        """Addresses of the bench for a browser, the best one for tablets first."""
        if self.tls is None:
            # not "localhost": a browser that once saw the bench there with TLS insists on TLS for that name
            host = self.listening.getsockname()[0]
            return [f"http://{_in_address(host)}:{self.port}/"]
        far = [name for name in self.tls.names if not _loopback(name)]
        names = far if far and not _loopback(self.settings.host) else ["localhost"]
        local = [name for name in names if name.endswith(".local")]
        return [f"https://{_in_address(name)}:{self.port}/" for name in dict.fromkeys([*local, *names])]


def prepare(settings: Settings, *, now: datetime) -> Prepared:
    """Check, bind, bring the tables up, look at the ledgers, make the certificate.

    Raises
    ------
    Missing
        TLS is needed for this host.
    OutOfRange
        A port or a number of workers or threads that cannot be.
    Unreadable
        The port is in use, the address is not this machine's, the folder cannot be written, the checks do not pass.
    Refused
        The keys lie in the installation's folder, or others may read them.
    """
    from django.db import connections

    _look(settings)
    listening = _bind(settings.host, settings.port)
    try:
        root = _folder(settings.root)
        key_files.apart(key_files.key_folder(), root)
        os.environ["SOUNDEDGE_ROOT"] = str(root)
        os.environ["DJANGO_SETTINGS_MODULE"] = "soundedge.web.settings"
        _tables()
        find_shops(root)
        shops = tuple(standing(data) for data in shops_of(root))
        tls = _certificate(settings, now, root) if settings.tls else None
        code = first_start_code(now)
        few = _few_connections(settings)
        compiled.wake()  # here, not beside the first requests; the workers, copies of this process, have it at once
        connections.close_all()  # the workers are copies of this process and open their own
    except BaseException:
        listening.close()
        raise
    return Prepared(settings, listening, shops, tls, code, few)


def said(prepared: Prepared) -> list[str]:
    """What is printed at the start: where it listens, how tablets come in, what is wrong, how to stop."""
    settings, tls = prepared.settings, prepared.tls
    host, *_ = prepared.listening.getsockname()
    out = [f"The bench of {Path(os.environ['SOUNDEDGE_ROOT'])} listens on {host}, port {prepared.port}."]
    if tls is None:
        out.append(f"  open      {prepared.addresses[0]}  (this machine only)")
        out.append("  tablets   need TLS: soundedge serve --tls --host 0.0.0.0 --root ROOT")
    else:
        out += [f"  {'open' if n == 0 else '  or'}      {address}" for n, address in enumerate(prepared.addresses)]
        out.append(f"  authority {prepared.addresses[0]}authority.cer  (install it once on each tablet; or the file "
                   f"{tls.folder / 'authority.pem'})")
        out.append("  compare   " + tls.fingerprint[:39])
        out.append("            " + tls.fingerprint[40:])
        out.append(f"  ends      server {tls.until:%d %b %Y} (made again at a start in its last month), authority "
                   f"{tls.authority_until:%d %b %Y}")
        out += [f"! {note}" for note in tls.notes]
    for shop in prepared.shops:
        out.append(f"{'! ' if shop.read_only else '  '}shop {shop.slug}: {'READ ONLY. ' if shop.read_only else ''}{shop.said}")
    if prepared.few:
        out.append(f"! {prepared.few}")
    if prepared.first_code:
        out.append(f"  first     There is no account yet. Open {prepared.addresses[0]}first-start/ and type this code, once, "
                   "within 24 hours:")
        out.append(f"            {prepared.first_code}")
    out.append(f"  log       {settings.log or 'the lines that follow, on standard error'}")
    out.append("  stop      Ctrl-C. Keep this machine awake and on its charger while the bench is open.")
    return out


def run(prepared: Prepared) -> int:
    """Answer until somebody stops it; 0 when it stopped in order."""
    settings, tls = prepared.settings, prepared.tls
    server = import_module(WEB)
    return int(server.run(
        prepared.listening, workers=settings.workers, threads=settings.threads, log=settings.log,
        certificate=(tls.server_file, tls.key_file) if tls else None,
    ))


# ---------------------------------------------------------------------------- shops


def shops_of(root: Path) -> list[Path]:
    """The data folders of the installation's shops."""
    from ..desk.shop_place import SHOPS

    return sorted(folder for folder in (Path(root) / SHOPS).glob("*") if folder.is_dir())


def standing(data: Path) -> ShopStanding:
    """Hold a shop's ledger against everybody who has seen it; what does not fit is told, not raised."""
    from ..desk.shop_place import shop_key_folder
    from ..evidence import witness

    try:
        return ShopStanding(data.name, False, witness.guard(data, folder=shop_key_folder(data)).said)
    except BenchError as fault:
        return ShopStanding(data.name, True, fault.message)


# ---------------------------------------------------------------------------- in each worker


def wake() -> None:
    """Read every shop's jobs once: who asks first does not wait for it."""
    from ..desk.warm import warm
    from .setting import root

    for data in shops_of(root()):
        try:
            warm(data)
        except BenchError as fault:  # that shop's own pages say it
            LOG.warning("the jobs of shop %s were not read at the start: %s", data.name, fault.message)


def write_lines(file: Path | None) -> None:
    """Send every log line, whoever writes it, as one line of JSON to a file or to standard error. Times are UTC.

    Values of variables are never written, so no password gets in by way of a fault.

    Raises
    ------
    Unreadable
        The file cannot be written.
    """
    import structlog

    first: list[Any] = [
        structlog.stdlib.add_log_level, structlog.stdlib.add_logger_name, structlog.stdlib.PositionalArgumentsFormatter(),
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    formatter = structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=[*first, structlog.stdlib.ExtraAdder(allow=())],
        processors=[structlog.stdlib.ProcessorFormatter.remove_processors_meta, structlog.processors.format_exc_info,
                    structlog.processors.JSONRenderer(ensure_ascii=False)],
    )
    structlog.configure(
        processors=[*first, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(), wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=False,
    )
    try:
        handler = logging.StreamHandler(sys.stderr) if file is None else logging.FileHandler(file, encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("log", say("people.log_not_written", file=file, reason=reason)) from None
    handler.setFormatter(formatter)
    root = logging.getLogger()
    for old in list(root.handlers):
        root.removeHandler(old)
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    logging.captureWarnings(True)


# ---------------------------------------------------------------------------- inside


def _look(settings: Settings) -> None:
    if not 0 <= settings.port <= 65535:
        raise OutOfRange("port", say("people.port_out_of_range", port=settings.port, usual=PORT))
    for name, value, most in (("workers", settings.workers, WORKERS_MAX), ("threads", settings.threads, THREADS_MAX)):
        if not 1 <= value <= most:
            raise OutOfRange(name, say("people.setting_out_of_range", flag=name, value=value, most=most))
    if not settings.tls and not _loopback(settings.host):
        raise Missing("tls", say("people.tls_needed", host=settings.host[:60], port=settings.port, root=settings.root))


def _loopback(host: str) -> bool:
    if host.lower().rstrip(".") == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _in_address(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _bind(host: str, port: int) -> socket.socket:
    shown = host[:60]
    try:
        found = socket.getaddrinfo(host.strip("[]"), port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, kind, protocol, _, address = sorted(found, key=lambda one: one[0] != socket.AF_INET)[0]
    except (OSError, UnicodeError, ValueError):
        raise Unreadable("host", say("people.address_not_here", address=shown, own=_own())) from None
    listening = socket.socket(family, kind, protocol)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(512)
    except OSError as error:
        listening.close()
        said = {
            errno.EADDRINUSE: say("people.port_in_use", port=port, address=shown, other=port + 1 if port < 65535 else PORT),
            errno.EACCES: say("people.port_forbidden", port=port, usual=PORT),
            errno.EADDRNOTAVAIL: say("people.address_not_here", address=shown, own=_own()),
        }.get(error.errno or 0, say("people.port_not_opened", port=port, address=shown, reason=error.strerror, usual=PORT))
        raise Unreadable("host" if error.errno == errno.EADDRNOTAVAIL else "port", said) from None
    return listening


def _own() -> str:
    return ", ".join(["0.0.0.0 (all)", *(name for name in names_of_this_machine() if name.replace(".", "").isdigit())])


def _folder(root: Path) -> Path:
    root = Path(os.path.abspath(root))
    try:
        root.mkdir(mode=0o700, parents=True, exist_ok=True)
        trial = root / ".writable"
        trial.write_bytes(b"")
        trial.unlink()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("root", say("people.folder_not_written", folder=root, reason=reason)) from None
    return root


def _tables() -> None:
    from django.core.management import call_command
    from django.core.management.base import SystemCheckError
    from django.db import Error

    from .installation import migrate

    try:
        migrate()
        call_command("check", stdout=io.StringIO(), stderr=io.StringIO())
    except SystemCheckError as wrong:
        raise Unreadable("root", say("people.web_checks_fail", reason=str(wrong)[:400])) from None
    except Error as wrong:
        raise Unreadable("root", say("people.tables_not_opened", reason=str(wrong)[:200])) from None


def _few_connections(settings: Settings) -> str:
    """A sentence when the database gives fewer connections than the bench can want: one per thread for the accounts, one for
    the ledger, and one for photos and keys where hosts share them, in every worker. Who comes too late is told that nothing
    was kept; better to know before."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return ""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT least(current_setting('max_connections')::int - current_setting('superuser_reserved_connections')::int, "
            "nullif(datconnlimit, -1), nullif(rolconnlimit, -1)) FROM pg_database, pg_roles "
            "WHERE datname = current_database() AND rolname = current_user")
        (given,) = cursor.fetchone()
    wanted = (2 if shared_by(key_files.key_folder()) is None else 3) * settings.workers * settings.threads
    if wanted <= given:
        return ""
    return (f"{settings.workers} workers with {settings.threads} threads each can want {wanted} connections of the database; "
            f"it gives {given}. Take fewer threads, or let the database's administrator allow more.")


def _certificate(settings: Settings, now: datetime, root: Path) -> Tls:
    machine = names_of_this_machine()
    names: Sequence[str] = [*machine, *settings.names]
    if settings.host not in ("0.0.0.0", "::", "localhost") and not _loopback(settings.host):
        names = [settings.host, *names]
    title = f"Sound Edge on {machine[0].partition('.')[0]}"
    return make_shop_tls(None, names, now=now, shop=title, data=root, anew=settings.new_authority)
