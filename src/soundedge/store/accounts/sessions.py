"""Sessions kept in a table that knows whose they are: the table, and what reads and writes it (``SESSION_ENGINE``)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.sessions.backends.db import SessionStore as Kept
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from .memory import lets_nobody_out, recalled


class SessionStore(Kept):
    """As Django's own database sessions, with the account beside the data."""

    @classmethod
    def get_model_class(cls) -> Any:
        """The table."""
        return SignedIn

    def __init__(self, session_key: str | None = None) -> None:
        super().__init__(session_key)
        self.seen_at: datetime | None = None  # when the session was last used, as its row said when it was loaded
        self.known: dict[str, Any] = {}  # what all requests of this browser share

    def seen(self, now: datetime) -> None:
        """It was used just now. Only its row is told, and never backwards: a slower request of the same browser takes
        nothing back."""
        with lets_nobody_out():
            self.get_model_class().objects.filter(session_key=self.session_key, seen_at__lt=now).update(seen_at=now)
        self.seen_at = self.known["seen_at"] = now

    def load(self) -> dict[str, Any]:
        """What is in it: as its row says, or said a moment ago (memory.py)."""
        found = recalled(("session", self.session_key), self._read)
        if found is None:
            return {}
        self.known, self.seen_at = found, found["seen_at"]
        return dict(found["data"])

    def _read(self) -> dict[str, Any] | None:
        row = self._get_session_from_db()
        return {"data": self.decode(row.session_data), "seen_at": row.seen_at} if row else None

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
