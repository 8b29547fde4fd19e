"""What opens one thing once: a code that is read out and typed, for the first start of an installation or a new device."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ...basis.errors import Refused
from ...basis.sentences import say

if TYPE_CHECKING:
    from ...store.accounts.models import Shop

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is read as another


def code(groups: int = 4, length: int = 4) -> str:
    """A random code as it is read out and typed: ``kx7f-2m9q-…``, nearly 5 bits a letter."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(length)) for _ in range(groups))


def use_code(purpose: str, typed: str, now: datetime, *, shop: Shop | None = None) -> Any:
    """The row of a code that is good now; it is used up with this.

    Raises
    ------
    Refused
        Not a code of this shop, or used already, or too old.
    """
    from ...store.accounts.models import OneTimeCode

    found = (
        OneTimeCode.objects.select_for_update()
        .filter(
            purpose=purpose,
            shop=shop,
            code_sha256=digest_of("".join(typed.split()).casefold()),
            used_at=None,
            until__gt=now,
        )
        .first()
    )
    if found is None:
        raise Refused("code", say("people.code_not_known"))
    found.used_at = now
    found.save(update_fields=["used_at"])
    return found


def digest_of(text: str) -> str:
    """What is kept of a code or a secret."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
