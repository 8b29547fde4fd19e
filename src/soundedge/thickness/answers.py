"""What is answered about film readings?"""

from __future__ import annotations

from ..basis.finding import Finding, Verdict
from ..basis.question import Answer, AnswerPart
from .rule_book import Where


class RuleAnswer(AnswerPart):
    """One rule: its verdict under the decision rule, the simple and the guarded verdict, and its reasons.

    ``p_each_min``: each place by itself; ``p_all``: all together; ``p_conforms``: the one that decides by the rule's scope.
    """

    verdict: Verdict
    because: str
    next_move: str
    simple: Verdict
    guarded: Verdict
    p_conforms: float | None
    p_each_min: float | None
    p_all: float | None
    findings: list[Finding]
    notes: list[str]
    title: str
    edition: str
    source: str
    read: str


class BudgetLine(AnswerPart):
    """One part of the uncertainty of the mean. ``shared`` parts do not shrink with more readings."""

    name: str
    u_um: float
    df: float | None
    shared: bool
    share_pct: float


class SpotAnswer(AnswerPart):
    """One spot after correction."""

    id: str
    where: Where
    n: int
    mean_um: float | None
    min_um: float | None
    max_um: float | None
    sd_um: float | None
    readings_um: list[float]


class StrataAnswer(AnswerPart):
    """The readings of one kind of place."""

    n: int
    mean_um: float
    min_um: float
    sd_um: float | None


class NoteAnswer(AnswerPart):
    """Something that looks strange."""

    check: str
    spots: list[str]
    because: str
    next_move: str


class SearchAnswer(AnswerPart):
    """Where to read next about a spot that does not conform: one step out, in one direction."""

    about: str
    x: float
    y: float
    direction_deg: float


class FilmAnswer(Answer):
    """What the readings say. All films are after correction, in µm."""

    n: int
    mean_um: float
    min_um: float
    max_um: float
    sd_um: float | None
    u_mean_um: float
    df_effective: float | None
    u_mean_expanded_95_um: float
    budget: list[BudgetLine]
    within_spot_sd_um: float | None
    between_spot_f: float | None
    by_rule: dict[str, RuleAnswer]
    governing: str
    governing_because: str
    rules_disagree: bool
    verdict: Verdict
    thin_readings: int | None
    thin_fraction_upper_95: float | None
    lower_tolerance_95_95_um: float | None
    readings_worth: float
    more_readings: dict[str, int | None]
    proves: list[str]
    remeasure: list[str]
    remeasure_because: dict[str, list[str]]
    search: list[SearchAnswer]
    sanity: list[NoteAnswer]
    spots: list[SpotAnswer]
    strata: dict[str, StrataAnswer]
    superseded: int
    cautions: list[str]
