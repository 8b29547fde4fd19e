"""How is a request read so that nothing in it is silently dropped or changed?

Python's own reader takes the last of two equal keys, turns ``1e400`` into infinity and accepts
``NaN`` and lone surrogates. Here each of these is refused by name.

>>> loads('{"air_c": 21.4}')
{'air_c': 21.4}
>>> loads('{"air_c": 21.4, "air_c": 12}')
Traceback (most recent call last):
    ...
soundedge.basis.errors.Unreadable: The key 'air_c' stands twice in one object. Keep one of them.
"""

from __future__ import annotations

import json
import math
from typing import Any

from .errors import Unreadable
from .sentences import say

SIZE_MAX_BYTES = 16_000_000
DEPTH_MAX = 64


def loads(text: str | bytes, *, what: str = "The request", size_max_bytes: int = SIZE_MAX_BYTES) -> Any:
    """Read one JSON value strictly.

    Parameters
    ----------
    text : str or bytes
        UTF-8, at most ``size_max_bytes`` long, nested at most 64 deep.
    what : str
        What is being read, for the error messages.

    Returns
    -------
    object
        dict, list, str, int, float, bool or None.

    Raises
    ------
    Unreadable
        Bad UTF-8, bad JSON, a duplicate key, NaN or infinity, an integer beyond 2**53, a lone
        surrogate, too long or too deep.
    """
    if isinstance(text, str):
        try:
            raw = text.encode("utf-8")
        except UnicodeEncodeError:
            raise Unreadable("", say("basis.half_character", what=what)) from None
    else:
        raw = text
    if len(raw) > size_max_bytes:
        raise Unreadable("", say("basis.too_many_bytes", what=what, n=len(raw), most=size_max_bytes))
    try:
        decoded = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Unreadable("", say("basis.not_utf8", what=what, byte=error.start)) from None
    _check_depth(decoded, what)
    try:
        value = json.loads(
            decoded,
            object_pairs_hook=_one_of_each_key,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_exact_int,
        )
    except json.JSONDecodeError as error:
        raise Unreadable("", say("basis.not_json", what=what, why=error.msg, line=error.lineno, column=error.colno)) from None
    except RecursionError:
        raise Unreadable("", say("basis.nested_too_deep_to_read", what=what, most=DEPTH_MAX)) from None
    if "\\ud" in decoded or "\\uD" in decoded:
        _whole(value)
    return value


def _check_depth(text: str, what: str) -> None:
    depth = 0
    in_string = False
    escaped = False
    if text.count("[") + text.count("{") <= DEPTH_MAX:
        return
    for c in text:
        if in_string:
            if escaped:
                escaped = False
            elif c == "\\":
                escaped = True
            elif c == '"':
                in_string = False
        elif c == '"':
            in_string = True
        elif c in "[{":
            depth += 1
            if depth > DEPTH_MAX:
                raise Unreadable("", say("basis.nested_deeper_than", what=what, most=DEPTH_MAX))
        elif c in "]}":
            depth -= 1


def _one_of_each_key(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    held: dict[str, Any] = {}
    for key, value in pairs:
        if key in held:
            raise Unreadable(key, say("basis.key_twice", key=key))
        held[key] = value
    return held


def _whole(value: Any) -> None:
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise Unreadable("", say("basis.text_half_character")) from None
    elif isinstance(value, dict):
        for key, item in value.items():
            _whole(key)
            _whole(item)
    elif isinstance(value, list):
        for item in value:
            _whole(item)


def _no_constant(name: str) -> float:
    raise Unreadable("", say("basis.not_a_number", constant=name))


def _finite(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise Unreadable("", say("basis.number_too_large", text=text))
    return value


def _exact_int(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > 2**53 - 1:
        raise Unreadable("", say("basis.whole_number_too_large", text=text[:24]))
    return int(text)
