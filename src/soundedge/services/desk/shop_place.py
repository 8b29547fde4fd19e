"""Where a shop of this installation keeps its data, and where its keys are.

    <root>/shops/<slug>/       ledger.sqlite3, blobs/
    <keys>/<slug>/             the keys of that shop; <keys> is SOUNDEDGE_KEYS or its default (services/evidence/key_files.py)

A data folder that lies nowhere under ``shops/`` is a shop of its own on this machine; its keys lie in ``<keys>`` itself.
"""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from ...basis.errors import Conflict, Unreadable
from ...basis.file_names import check_new_name
from ...basis.sentences import say
from ..evidence import key_files, keyring, shop_chain
from .book import opened

SHOPS = "shops"
_SLUG = re.compile(r"[a-z0-9-]{2,40}\Z")


def shop_data(root: Path, slug: str) -> Path:
    """The data folder of a shop.

    Raises
    ------
    Unreadable
        The short name is not 2 to 40 small letters, digits and hyphens.
    """
    if not isinstance(slug, str) or not _SLUG.match(slug):
        raise Unreadable("shop", say("desk.shop_slug", slug=str(slug)[:60]))
    return Path(root) / SHOPS / slug


def shop_key_folder(data: Path) -> Path:
    """The folder of the keys of the shop whose data lie in ``data``."""
    folder = Path(data)
    base = key_files.key_folder()
    return base / folder.name if folder.parent.name == SHOPS and _SLUG.match(folder.name) else base


def new_shop(root: Path, slug: str, name: str, now: datetime, *, origin: str = "") -> Path:
    """A new shop: its data folder, its ledger, its keys, and the key's first event.

    Parameters
    ----------
    name : str
        As it stands in the certificate that signs the pages.
    origin : str
        The log's name; ``<slug>.soundedge.invalid/ledger`` when left out.

    Raises
    ------
    Conflict
        There is such a shop already.
    Unreadable
        The short name cannot be one, or some file systems keep it for themselves.
    """
    data = shop_data(root, slug)
    check_new_name("shop", "the shop's short name", slug)
    if data.exists():
        raise Conflict("shop", say("desk.shop_exists", slug=slug))
    where = shop_key_folder(data)
    data.mkdir(parents=True)
    made = keyring.new(origin or f"{slug}.soundedge.invalid/ledger", now=now, shop=name, folder=where, data=data)
    with opened(data, make=True) as ledger:
        shop_chain.enrol(ledger, made, now=now)
    return data
