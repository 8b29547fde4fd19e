"""How is a value written so that it has exactly one form in bytes, on every machine and for thirty years?

RFC 8785 (JSON Canonicalization Scheme), narrowed so that nothing in it can be written two ways:

* no floats: a measured number is a decimal string, so ``19.8`` is written ``"19.8"``;
* whole numbers below 2**53; keys in ASCII, sorted; no spaces; UTF-8; texts in Unicode form NFC;
* no control character except line end and tab; no half characters; at most 32 deep.

For such values the RFC's sorting by UTF-16 and Python's sorting agree, so the fast writer of the
standard library gives the RFC's bytes; the tests hold the two side by side.

>>> canonical({"b": "19.8", "a": [1, True, None]})
b'{"a":[1,true,null],"b":"19.8"}'
>>> plain({"air_c": 19.80, "count": 3, "film_um": 1250.0, "margin_k": 1e-5})
{'air_c': '19.8', 'count': 3, 'film_um': '1250', 'margin_k': '0.00001'}
"""

from __future__ import annotations

import json
import math
import unicodedata
from datetime import datetime
from decimal import Decimal
from json import encoder
from numbers import Integral, Real
from typing import Any

from ..basis.errors import OutOfRange, Unreadable
from ..basis.quantity import instant_text
from ..basis.sentences import say

DEPTH_MAX = 32
WHOLE_MAX = 2**53 - 1
_WRITER = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def canonical(value: Any) -> bytes:
    """The one form of a value in bytes.

    Parameters
    ----------
    value : dict, list, str, int, bool or None
        Already plain: no floats (see ``plain``), ASCII keys, NFC texts.

    Returns
    -------
    bytes
        RFC 8785 form, UTF-8.

    Raises
    ------
    Unreadable
        A float, another type, a key that is not ASCII, a text that is not NFC or holds half a character
        or a control character, nested more than 32 deep.
    OutOfRange
        A whole number beyond 2**53 - 1.

    References
    ----------
    RFC 8785, JSON Canonicalization Scheme (JCS), 2020. Sections 3.2.2 and 3.2.3.
    """
    check(value)
    return _WRITER.encode(value).encode("utf-8")


def plain(value: Any) -> Any:
    """A room's request or answer as the record keeps it.

    Floats become their shortest decimal string that reads back as the same float (``-0.0`` becomes
    ``"0"``); whole numbers stay; moments become UTC text ending in Z; texts become NFC; tuples become
    lists; a model becomes the keys that were given to it.

    Raises
    ------
    OutOfRange
        NaN, infinity, or a whole number beyond 2**53 - 1.
    Unreadable
        A value of another kind, or one that ``canonical`` refuses.
    """
    made = _plain(value, "", 0)
    check(made)
    return made


def decimal_text(number: float) -> str:
    """A finite float as its shortest round-trip decimal text; an exponent only beyond 1e-7 … 1e16.

    >>> decimal_text(620.0), decimal_text(0.1), decimal_text(1e-5), decimal_text(1e22), decimal_text(-0.0)
    ('620', '0.1', '0.00001', '1e+22', '0')
    """
    number = float(number)
    if not math.isfinite(number):
        raise OutOfRange("", say("record.number_not_finite", number=number))
    if number == 0:
        return "0"
    if not 1e-7 <= abs(number) < 1e16:
        return repr(number)
    text = format(Decimal(repr(number)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def check(value: Any) -> None:
    """Raise when a value has no canonical form here; see ``canonical``."""
    _check(value, "", 0)


def _plain(value: Any, where: str, depth: int) -> Any:
    _not_too_deep(depth, where)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return unicodedata.normalize("NFC", str(value))
    if isinstance(value, datetime):
        return instant_text(value)
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise OutOfRange(where, say("record.number_not_keepable", value=value))
        return format(value, "f") if -20 < value.adjusted() < 20 else str(value)
    if isinstance(value, Real):
        try:
            return decimal_text(float(value))
        except OutOfRange as fault:
            raise OutOfRange(where, fault.message) from None
    if isinstance(value, dict):
        return {key: _plain(item, _under(where, key), depth + 1) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item, f"{where}[{n}]", depth + 1) for n, item in enumerate(value)]
    if hasattr(value, "model_dump"):
        return _plain(value.model_dump(mode="python", exclude_unset=True), where, depth)
    raise Unreadable(where, say("record.value_not_keepable", kind=type(value).__name__))


def _check(value: Any, where: str, depth: int) -> None:
    _not_too_deep(depth, where)
    if isinstance(value, str):
        _check_text(value, where)
    elif value is None or isinstance(value, bool):
        return
    elif type(value) is int:
        if abs(value) > WHOLE_MAX:
            raise OutOfRange(where, say("record.whole_number_too_large", value=value))
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise Unreadable(where, say("record.body_key_not_ascii", key=str(key)[:40]))
            _check_text(key, where)
            _check(item, _under(where, key), depth + 1)
    elif isinstance(value, list):
        for n, item in enumerate(value):
            _check(item, f"{where}[{n}]", depth + 1)
    elif isinstance(value, float):
        raise Unreadable(where, say("record.number_is_float", value=value))
    else:
        raise Unreadable(where, say("record.value_without_form", kind=type(value).__name__))


def _check_text(text: str, where: str) -> None:
    if text.isascii():
        if text.isprintable():
            return
    elif not unicodedata.is_normalized("NFC", text):
        raise Unreadable(where, say("record.text_not_nfc", text=text[:40]))
    for c in text:
        if (c < " " and c not in "\n\t") or "\ud800" <= c <= "\udfff" or "\x7f" <= c <= "\x9f":
            raise Unreadable(where, say("record.character_not_keepable", code=ord(c)))


def _not_too_deep(depth: int, where: str) -> None:
    if depth > DEPTH_MAX:
        raise Unreadable(where[:60], say("record.value_nested_too_deep", most=DEPTH_MAX))


def _under(where: str, key: Any) -> str:
    return f"{where}.{key}" if where else str(key)


def _fast_writer() -> Any:
    """The standard library's C writer without its per-call set-up: a function value → str."""
    make, quote = getattr(encoder, "c_make_encoder", None), getattr(encoder, "c_encode_basestring", None)
    if make is None or quote is None:  # another Python: slower, same bytes
        return _WRITER.encode
    write = make(None, _WRITER.default, quote, None, ":", ",", True, False, False)
    return lambda value: "".join(write(value, 0))


quoted: Any = encoder.encode_basestring
"""Canonical text of one text, with its quotes. TypeError for anything else."""

fast_text = _fast_writer()
"""Canonical text of a value that came out of JSON; nothing is checked. For the verifier's comparison."""
