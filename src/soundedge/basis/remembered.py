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

from collections.abc import Callable, Hashable
from contextlib import suppress
from functools import wraps
from threading import Lock
from typing import Any, ParamSpec, TypeVar

from cachetools import LRUCache

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")
_everything: list[LRUCache[Any, Any]] = []


def remembered(
    most: int, *, key: Callable[_Given, Hashable], weigh: Callable[[Any], int] = lambda asked: 1,
) -> Callable[[Callable[_Given, _Result]], Callable[_Given, _Result]]:
    """Keep the last results of a pure function by ``key`` of what it was given; nobody may change a result.

    ``most``: how many, or how much all of them may weigh by their keys.
    """

    def keeping(work: Callable[_Given, _Result]) -> Callable[_Given, _Result]:
        kept: LRUCache[Hashable, tuple[int, _Result]] = LRUCache(most, getsizeof=lambda weighed: weighed[0])
        _everything.append(kept)
        lock = Lock()

        @wraps(work)
        def answered(*args: _Given.args, **named: _Given.kwargs) -> _Result:
            asked = key(*args, **named)
            with lock:
                if asked in kept:
                    return kept[asked][1]
            result = work(*args, **named)
            with lock, suppress(ValueError):  # one that weighs more than all may is not kept
                kept[asked] = weigh(asked), result
            return result

        return answered

    return keeping


def forget() -> None:
    """Forget all results: for whoever measures how long the work takes."""
    for kept in _everything:
        kept.clear()
