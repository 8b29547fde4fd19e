"""Finds the account of a session, known from a moment ago where it is (memory.py)."""

from __future__ import annotations

from copy import copy
from typing import Any

from django.contrib.auth.backends import ModelBackend

from .memory import recalled


class Accounts(ModelBackend):
    """As Django's own, with the shop beside the account."""

    def get_user(self, user_id: Any) -> Any:
        """The account, each request its own copy; None when there is none, or it was disabled."""
        from .models import Account

        found = recalled(("account", int(user_id)), lambda: Account.objects.select_related("shop").filter(pk=user_id).first())
        return copy(found) if found is not None and self.user_can_authenticate(found) else None
