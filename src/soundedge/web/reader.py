"""Who reads this answer: in which language and units? The door says it once for each request."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.utils.translation import get_language, override

from ..basis.sentences import Sentence, catalogue, told
from ..services.desk.part_picture import Reader

_UNITS: ContextVar[str] = ContextVar("units", default="metric")


@contextmanager
def answering(language: str, units: str) -> Iterator[None]:
    """What is said within is said in this language and these units."""
    token = _UNITS.set(units)
    try:
        with override(language):
            yield
    finally:
        _UNITS.reset(token)


def in_words(answer: Any) -> Any:
    """A sentence, or an answer with sentences in it, as its reader reads it."""
    return told(answer, _language(), _UNITS.get())


def reader(units: str) -> Reader:
    """For whom a drawing is made: in the language of this request, in these units."""
    return Reader(_language(), units)


def language_of(message: str) -> str:
    """The language in which ``in_words`` says a message: English where the reader's own is not held."""
    language = _language()
    return language if isinstance(message, Sentence) and message.id in catalogue(language) else "en"


def _language() -> str:
    return (get_language() or "en").split("-")[0]
