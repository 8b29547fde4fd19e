"""Sessions kept in a table that knows whose they are (``SESSION_ENGINE``)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.sessions.backends.db import SessionStore as Kept


class SessionStore(Kept):
    """As Django's own database sessions, with the account beside the data."""

    @classmethod
    def get_model_class(cls) -> Any:
        """The table."""
        from .models import SignedIn

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
