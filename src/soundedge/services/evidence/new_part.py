"""A part is known by its tag: a tag that is new to the ledger must differ from those there by more than capitals."""

from __future__ import annotations

from ...basis.file_names import check_new_name
from ...store.ledger import Ledger


def check_new_part(ledger: Ledger, tag: str) -> None:
    """Before a job on a part is opened; a tag that stands in the ledger already is taken as it is.

    Raises
    ------
    Unreadable, Contradiction
        See ``basis.file_names.check_new_name``: with two spellings the part's earlier repairs would not be counted together.
    """
    check_new_name("tag", "the part's tag", tag,
                   dict.fromkeys(str(one.body.get("tag")) for one in ledger.firsts("part.identified")))
