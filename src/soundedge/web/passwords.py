"""Django's own forms and commands ask the same rule as the bench."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from ..basis.errors import Refused
from ..basis.sentences import say
from ..services.people.accounts import PASSWORD_MAX, PASSWORD_MIN, password_good
from .reader import in_words


class LongEnough:
    """12 to 200 characters, not guessable (services/people/accounts.py)."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError with the sentence."""
        try:
            password_good(password, login=getattr(user, "login", ""), name=getattr(user, "name", ""))
        except Refused as fault:
            raise ValidationError(in_words(fault.message)) from None

    def get_help_text(self) -> str:
        """What a password must be, as the form says it."""
        return str(in_words(say("people.password_asked", least=PASSWORD_MIN, most=PASSWORD_MAX)))
