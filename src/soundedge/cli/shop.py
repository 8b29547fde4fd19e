"""``soundedge shop``: the shops of an installation and who may come in, for whoever sits at the machine itself.

    soundedge shop new basin-two "Basin Two" --manager "Mara Lindqvist" --login mara2 --root our-bench
    soundedge shop list --root our-bench
    soundedge shop unlock mara --root our-bench
    soundedge shop reset mara --because "forgot it, no other manager" --root our-bench
"""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

import click

from .flags import answer_options, in_words, tell

ROOT = click.option("--root", type=click.Path(), default="soundedge-bench", show_default=True,
                    help="The installation's folder.")


@click.group("shop")
def command() -> None:
    """The shops of an installation, and who may come in."""


@command.command("new")
@click.argument("slug")
@click.argument("name")
@click.option("--manager", required=True, help="The first manager's name, as it is printed.")
@click.option("--login", required=True, help="That manager's sign-in name.")
@ROOT
@answer_options
def new(slug: str, name: str, manager: str, login: str, root: str, as_json: bool) -> int:
    """Open a shop with its own ledger, files and keys, and a first manager with a one-time password."""
    accounts = _accounts(root)
    account, once = accounts.new_shop_with_manager(slug, name, manager=manager, login=login, now=datetime.now(UTC))
    if as_json:
        tell(json.dumps({"shop": slug, "login": account.login, "one_time_password": once}, ensure_ascii=False))
    else:
        tell(f"Shop '{slug}' is open. Its first manager {account.name} signs in as {account.login} with the one-time password")
        tell(f"    {once}")
        tell("It holds seven days, is shown once, and is changed at the first sign-in.")
    return 0


@command.command("list")
@ROOT
@answer_options
def listed(root: str, as_json: bool) -> int:
    """Every shop with its accounts: name, role, whether it is disabled."""
    rows = _accounts(root).everybody()
    if as_json:
        tell(json.dumps(rows, ensure_ascii=False, indent=1))
        return 0
    for shop in rows:
        tell(f"{shop['slug']}  {shop['name']}")
        for one in shop["accounts"]:
            closed = "" if one["active"] else ", disabled"
            tell(f"    {one['login']:24} {one['name']}, {one['role']}{closed}")
    if not rows:
        tell("There is no shop yet. Start the bench (soundedge serve) and open its first page with the code it prints.")
    return 0


@command.command("unlock")
@click.argument("login")
@ROOT
def unlock(login: str, root: str) -> int:
    """Open an account again that wrong passwords have closed."""
    tell(in_words(_accounts(root).unlock_login(login)))
    return 0


@command.command("reset")
@click.argument("login")
@click.option("--because", required=True, help="Why; it stands in the shop's ledger.")
@ROOT
@answer_options
def reset(login: str, because: str, root: str, as_json: bool) -> int:
    """A new one-time password for somebody whom nobody else can help. The old signing key stops counting."""
    account, once = _accounts(root).reset_here(login, because=because, now=datetime.now(UTC))
    if as_json:
        tell(json.dumps({"login": account.login, "one_time_password": once}, ensure_ascii=False))
        return 0
    tell(f"{account.name} signs in as {account.login} with the one-time password")
    tell(f"    {once}")
    tell("It holds seven days, is shown once, and is changed at the first sign-in. The shop's ledger says that it was given.")
    return 0


def _accounts(root: str):  # type: ignore[no-untyped-def]
    os.environ["SOUNDEDGE_ROOT"] = str(Path(root).resolve())
    from ..services.people import accounts, installation

    installation.migrate()
    return accounts
