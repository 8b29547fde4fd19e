"""Sessions kept in a table that knows whose they are: the table, and what reads and writes it (``SESSION_ENGINE``)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.sessions.backends.db import SessionStore as Kept
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models


class SessionStore(Kept):
    """As Django's own database sessions, with the account beside the data."""

    @classmethod
    def get_model_class(cls) -> Any:
        """The table."""
        return SignedIn

    seen_at: datetime | None = None  # when the session was last used, as its row said when it was loaded

    def seen(self, now: datetime) -> None:
        """It was used just now. Only its row is told, and never backwards: a slower request of the same browser takes
        nothing back."""
        self.get_model_class().objects.filter(session_key=self.session_key, seen_at__lt=now).update(seen_at=now)

    def _get_session_from_db(self) -> Any:
        row = super()._get_session_from_db()
        self.seen_at = row.seen_at if row else None
        return row

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        """The row: whose session, on which device, since when."""
        row = super().create_model_instance(data)
        row.account_id = int(data["_auth_user_id"]) if data.get("_auth_user_id") else None
        row.device_label = str(data.get("device_label", ""))[:120]
        row.began_at = datetime.fromisoformat(data["began_at"]) if data.get("began_at") else None
        row.seen_at = self.seen_at or row.began_at
        return row


class SignedIn(AbstractBaseSession):
    """A session, with whose it is, so that people can see and end their own and that ending an account ends all of them."""

    account = models.ForeignKey("accounts.Account", null=True, on_delete=models.CASCADE, related_name="sessions")
    device_label = models.CharField(max_length=120, blank=True)
    began_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)

    @classmethod
    def get_session_store_class(cls) -> Any:
        """The store that reads and writes these rows."""
        return SessionStore
