"""How is a long calculation not done twice when the same is asked again?

A job is judged anew with each entry, and most of what is asked of the rooms has not changed since.

>>> @remembered(8, key=lambda numbers: tuple(numbers))
... def total(numbers: list[float]) -> float:
...     print("adding")
...     return sum(numbers)
>>> total([1.0, 2.0]), total([1.0, 2.0])
adding
(3.0, 3.0)
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import wraps
from threading import Lock
from typing import Any, ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")
_everything: list[OrderedDict[Hashable, Any]] = []


def remembered(
    most: int, *, key: Callable[_Given, Hashable],
) -> Callable[[Callable[_Given, _Result]], Callable[_Given, _Result]]:
    """Keep the last ``most`` results of a pure function by ``key`` of what it was given; nobody may change a result."""

    def keeping(work: Callable[_Given, _Result]) -> Callable[_Given, _Result]:
        kept: OrderedDict[Hashable, _Result] = OrderedDict()
        _everything.append(kept)
        lock = Lock()

        @wraps(work)
        def answered(*args: _Given.args, **named: _Given.kwargs) -> _Result:
            asked = key(*args, **named)
            with lock:
                if asked in kept:
                    kept.move_to_end(asked)
                    return kept[asked]
            result = work(*args, **named)
            with lock:
                kept[asked] = result
                if len(kept) > most:
                    kept.popitem(last=False)
            return result

        return answered

    return keeping


def forget() -> None:
    """Forget all results: for whoever measures how long the work takes."""
    for kept in _everything:
        kept.clear()
