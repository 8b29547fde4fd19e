"""How is this room asked? In three forms: one film, several zones, a test session.

>>> from soundedge.basis.question import answer
>>> a = answer(FORMS, {"film_um": {"min": 620, "max": 880}, "strength": [{"kv_mm": 20, "at_um": 750}],
...                    "stated_voltage_v": 3000})
>>> round(a.low_v), round(a.high_v), a.stated.position, a.verdict
(4438, 6200, 'too_low', 'does_not_conform')
"""

from __future__ import annotations

from ..basis.question import Form
from .answers import FilmAnswer, SessionAnswer, ZonesAnswer
from .given import FilmRequest
from .one_film import one_film
from .session import judge_session
from .session_given import SessionRequest, ZonesRequest
from .zones import all_zones

FORMS: tuple[Form, ...] = (
    Form("session", marked_by="session", request=SessionRequest, answer=SessionAnswer, work=judge_session),
    Form("zones", marked_by="zones", request=ZonesRequest, answer=ZonesAnswer, work=all_zones),
    Form("film", request=FilmRequest, answer=FilmAnswer, work=one_film),
)
