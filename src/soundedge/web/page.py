"""How a page says who may open it. Every page module has ``PAGES``; a view that is in none of them opens to nobody.

    PAGES = (
        Page("jobs/<job:job>/conditions/", conditions, "conditions", READERS),
        Page("people/add/", add, "people_add", MANAGER, methods=("GET", "POST"), device=True),
    )

``roles`` are the roles that may; ``OPEN`` is for pages before sign-in. ``device``: a POST needs an enrolled device
(unless it says False). The matrix in tests/web/matrix.toml holds the same once more, and a test compares them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, path

READERS = frozenset({"technician", "inspector", "engineer", "manager", "auditor"})
WORKERS = READERS - {"auditor"}
MANAGER = frozenset({"manager"})
OPEN = frozenset({"everybody"})


@dataclass(frozen=True)
class Page:
    """One route of the browser."""

    path: str
    view: Callable[..., Any]
    name: str
    roles: frozenset[str]
    methods: tuple[str, ...] = ("GET",)
    device: bool = True
    posts: frozenset[str] | None = None  # who may send, where these are fewer than those who may look
    one_time: bool = False  # may be opened while the password is still the one-time password

    def roles_for(self, method: str | None) -> frozenset[str]:
        """Who may open the page with this method."""
        return self.posts if self.posts is not None and method == "POST" else self.roles

    def pattern(self) -> URLPattern:
        """The route as Django wants it, with the page beside the view for the door to read."""

        def view(request: Any, **kwargs: Any) -> Any:
            return self.view(request, **kwargs)

        view.page = self  # type: ignore[attr-defined]
        return path(self.path, view, name=self.name)
