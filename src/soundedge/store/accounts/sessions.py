"""Sessions kept in a table that knows whose they are (``SESSION_ENGINE``)."""

from __future__ import annotations

from typing import Any

from django.contrib.sessions.backends.db import SessionStore as Kept
from django.utils import timezone


class SessionStore(Kept):
    """As Django's own database sessions, with the account beside the data."""

    @classmethod
    def get_model_class(cls) -> Any:
        """The table."""
        from .models import SignedIn

        return SignedIn

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        """The row: whose session, on which device, since when."""
        row = super().create_model_instance(data)
        row.account_id = int(data["_auth_user_id"]) if data.get("_auth_user_id") else None
        row.device_label = str(data.get("device_label", ""))[:120]
        row.began_at = timezone.datetime.fromisoformat(data["began_at"]) if data.get("began_at") else None
        return row
