"""How is a piece of a page that was drawn before not drawn again?

{% kept row %}<tr>…</tr>{% endkept %}          drawn once for each content of ``row``, language and units
{% kept actor.name actor.role %}…{% endkept %}

What stands inside may depend on nothing but the values named, the language and the units; so a piece is found by its whole
content and can't be old. tests/web/test_kept_pieces.py draws every page of a job with and without. Bounded in bytes.
"""

from __future__ import annotations

import itertools
import json
import threading
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

from cachetools import LRUCache
from django import template
from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

register = template.Library()

HELD_BYTES = 12_000_000
_numbers = itertools.count()
_lock = threading.Lock()
_held: LRUCache[tuple[Any, ...], str] = LRUCache(
    HELD_BYTES, getsizeof=lambda text: 400 + 3 * len(text))  # the text, its values, and the place in the table


def piece(name: str, values: Any, draw: Callable[[], str]) -> SafeString:
    """A piece of HTML by its name and all that it depends on beside the language; ``draw`` is called when it is not there.

    ``values``: plain values, times, words to be translated, and dataclasses of such, in lists and dicts.
    """
    key = name, get_language(), json.dumps(values, default=_plain)
    with _lock:
        found = _held.get(key)
    if found is None:
        found = draw()
        if 400 + 3 * len(found) < HELD_BYTES // 10:
            with _lock:
                _held[key] = found
    return mark_safe(found)  # a template drew it, and escaped what it was given


def forget() -> None:
    """Draw everything anew."""
    with _lock:
        _held.clear()


class Kept(template.Node):
    """A part of a template that is drawn once for the values it names."""

    def __init__(self, values: list[Any], nodelist: template.NodeList) -> None:
        self.name, self.values, self.nodelist = f"kept {next(_numbers)}", values, nodelist

    def render(self, context: Any) -> SafeString:
        """What was drawn before of the same values, or is drawn now."""
        values = [one.resolve(context) for one in self.values]
        return piece(self.name, [context.get("units", "metric"), *values], lambda: self.nodelist.render(context))


@register.tag
def kept(parser: Any, token: Any) -> Kept:
    """``{% kept value … %}`` to ``{% endkept %}``."""
    values = [parser.compile_filter(one) for one in token.split_contents()[1:]]
    nodelist = parser.parse(("endkept",))
    parser.delete_first_token()
    return Kept(values, nodelist)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, Promise):
        return str(value)
    if is_dataclass(value):
        return {one.name: getattr(value, one.name) for one in fields(value)}
    raise TypeError(f"kept: {type(value).__name__} is no plain value")
