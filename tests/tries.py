"""How often does a test try something made up? A fifth for a change, all of it before a release, ten times in a night.

    @tries(300)
    @given(…)           60 examples in `make test`, 300 in `make test-all`, 3000 with --hypothesis-profile night

A number in a test is that of a release. tests/conftest.py registers the profiles and chooses one.
"""

from collections.abc import Iterable
from typing import Any

from hypothesis import settings

FULL = 100  # what a test without a number of its own tries before a release
PROFILES = {"change": FULL // 5, "release": FULL, "night": FULL * 10}
FEWEST = 5


def share(of: int) -> int:
    """How many of a number that is meant for a release are tried in this run; a small number stays as it is."""
    return max(of * settings.default.max_examples // FULL, min(of, FEWEST))


def some(cases: Iterable[Any]) -> list[Any]:
    """Of cases that are written down: each for a release, every fifth for a change."""
    return list(cases)[:: max(FULL // settings.default.max_examples, 1)]


def tries(of: int = FULL, **more: Any) -> settings:
    """Hypothesis' settings with so many examples, in proportion to the run."""
    return settings(max_examples=share(of), deadline=None, **more)
