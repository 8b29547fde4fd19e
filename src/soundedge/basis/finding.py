"""Does a measured value meet a limit, and how sure is that?

One comparison is one ``Finding``. It keeps the rule as written (the plain value against the plain
limit), the probability that the true value conforms, and the verdict under the decision rule the
lining procedure names. A guard band is never added silently.

>>> margin = judge("dew_margin", 3.4, limit=3.0, sense="at_least", u=0.4, unit="K",
...                decision=Decision("guarded", 0.95), next_move="Warm the steel.", source="example")
>>> margin.as_written, round(margin.p_conforms, 3), margin.verdict
('conforms', 0.841, 'indeterminate')
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict

from .quantity import Quantity, shown
from .unit_table import printed

Verdict = Literal["conforms", "does_not_conform", "indeterminate", "not_measured"]
Sense = Literal["at_least", "at_most"]
Scope = Literal["all", "each"]

# what a guarded decision asks its probability of, in the words of a page
SCOPES = {"all": "all readings together", "each": "each place by itself"}

_WORST_FIRST: tuple[Verdict, ...] = ("does_not_conform", "not_measured", "indeterminate", "conforms")


class Finding(BaseModel):
    """One comparison of one value with one limit, with its reason and the next move.

    ``value`` and ``limit`` are in ``unit``; ``u`` is the standard uncertainty of ``value`` (None when
    nobody stated one). ``as_written`` is the verdict on the plain value; ``p_conforms`` is the
    conformance probability of JCGM 106:2012, 7.2; ``verdict`` follows the procedure's decision rule.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    rule: str
    value: float | None
    u: float | None = None
    limit: float | None
    sense: Sense
    unit: str = ""
    as_written: Verdict
    p_conforms: float | None = None
    verdict: Verdict
    because: str
    next_move: str
    source: str


@dataclass(frozen=True)
class Decision:
    """How a procedure turns a value with uncertainty into a verdict.

    ``simple``: the plain value decides (JCGM 106:2012, 8.2, simple acceptance).
    ``guarded``: it conforms when the conformance probability is at least ``probability``, fails when
    the probability of *not* conforming is at least that, and is indeterminate between
    (JCGM 106:2012, 8.3, guarded acceptance and guarded rejection together).
    ``scope``: whether that probability is asked of all places together or of each by itself, where there are several.
    """

    rule: Literal["simple", "guarded"] = "simple"
    probability: float = 0.95
    scope: Scope = "all"

    def asked(self) -> dict[str, Any]:
        """As it stands in a request or a procedure; the usual scope is left out, as older records have it."""
        plain: dict[str, Any] = {"rule": self.rule, "probability": self.probability}
        return plain if self.scope == "all" else plain | {"scope": self.scope}


class DecisionRequest(BaseModel):
    """A decision rule as it stands in a request: ``{"rule": "guarded", "probability": 0.95}``."""

    model_config = ConfigDict(extra="forbid")

    rule: Literal["simple", "guarded"] = "simple"
    probability: Annotated[
        float, Quantity("Probability of a right decision", above=0.5, below=1, next_move="0.95 is usual.")
    ] = 0.95
    scope: Scope = "all"

    def plain(self) -> Decision:
        """The same as a plain value."""
        return Decision(self.rule, self.probability, self.scope)


SIMPLE = Decision("simple")


def conformance_probability(value: float, u: float, limit: float, sense: Sense) -> float:
    """Probability that the true value meets the limit, for a normal state of knowledge.

    Parameters
    ----------
    value, limit : float
        In one and the same unit.
    u : float
        Standard uncertainty of ``value``, same unit, at least 0.
    sense : "at_least" or "at_most"

    Returns
    -------
    float
        0 to 1. With ``u`` = 0 it is 1 when the plain value meets the limit, else 0.

    Notes
    -----
    p = Φ((y − T_L)/u) for a lower limit, Φ((T_U − y)/u) for an upper one:
    JCGM 106:2012, 7.3.2 and 7.3.3.
    """
    gap = value - limit if sense == "at_least" else limit - value
    if u == 0:
        return 1.0 if gap >= 0 else 0.0
    return 0.5 * math.erfc(-gap / u / math.sqrt(2.0))


def judge(
    rule: str,
    value: float | None,
    *,
    limit: float,
    sense: Sense,
    source: str,
    next_move: str,
    u: float | None = None,
    unit: str = "",
    decision: Decision = SIMPLE,
    name: str | None = None,
    strict: bool = False,
    p_conforms: float | None = None,
) -> Finding:
    """Compare one value with one limit.

    Parameters
    ----------
    rule : str
        The rule's name, a word a person would say: ``dew_margin``.
    value : float or None
        None when it was not measured: the finding is then ``not_measured``, never zero, and ``next_move`` is to measure it.
    limit, sense
        The limit, in the same unit, and whether the value must be at least or at most that.
    u : float or None
        Standard uncertainty; None when nobody stated one: then no probability is given, the reason says so, and a guarded
        decision is indeterminate. 0 only for what is exact, as a number of repairs.
    strict : bool
        The limit itself does not conform ("less than 20 %").
    unit : str
        The finding keeps it as given; its sentences print it: µm for um, mm² for mm2.
    name : str, optional
        What the value is called in the reason; the rule's name with spaces if left out.
    p_conforms : float, optional
        The probability where it does not follow from a normal curve of width ``u``: few readings, Student's t.

    Returns
    -------
    Finding
    """
    what = name or rule.replace("_", " ").capitalize()
    side = {"at_least": "at least", "at_most": "at most"}[sense]
    if strict:
        side = {"at_least": "above", "at_most": "below"}[sense]
    tail = f" {printed(unit)}" if unit else ""
    if value is None:
        return Finding(
            rule=rule, value=None, u=None, limit=limit, sense=sense, unit=unit,
            as_written="not_measured", p_conforms=None, verdict="not_measured",
            because=f"{what} was not measured; it must be {side} {shown(limit)}{tail}.",
            next_move="Measure it.", source=source,  # nobody washes or grinds because a number is absent
        )
    met = value >= limit if sense == "at_least" else value <= limit
    if strict and value == limit:
        met = False
    as_written: Verdict = "conforms" if met else "does_not_conform"
    p = None if u is None else conformance_probability(value, u, limit, sense) if p_conforms is None else p_conforms
    if strict and u == 0:
        p = 1.0 if met else 0.0
    verdict: Verdict = as_written
    shown_value = f"{shown_to(value, limit)}{tail}"
    because = f"{what} is {shown_value}; it must be {side} {shown(limit)}{tail}."
    if decision.rule == "guarded":
        if p is None:
            verdict = "indeterminate"
            because += " Its uncertainty is not known, so the guarded rule cannot decide."
        elif p >= decision.probability:
            verdict = "conforms"
        elif 1.0 - p >= decision.probability:
            verdict = "does_not_conform"
        else:
            verdict = "indeterminate"
        if p is not None and u:
            because += (
                f" With standard uncertainty {u:.2g}{tail} the probability that it conforms is "
                f"{chance(p)}; the procedure asks for {100 * decision.probability:g} %."
            )
    elif p is None:
        because += " Its uncertainty is not known."
    move = next_move if verdict != "conforms" else "Go on."
    return Finding(
        rule=rule, value=value, u=u, limit=limit, sense=sense, unit=unit, as_written=as_written,
        p_conforms=p, verdict=verdict, because=because, next_move=move, source=source,
    )


def chance(p: float) -> str:
    """A probability on paper: a measured thing is never quite sure, so it never looks so.

    >>> chance(0.23018), chance(0.99999), chance(0.0)
    ('23.0 %', 'above 99.9 %', 'below 0.1 %')
    """
    return "above 99.9 %" if p > 0.9995 else "below 0.1 %" if p < 0.0005 else f"{100 * p:.1f} %"


def shown_to(value: float, limit: float) -> str:
    """A value with enough digits that it never *looks* equal to a limit it differs from.

    >>> shown_to(2.9996, 3.0), shown_to(3.4, 3.0), shown_to(3.0, 3.0)
    ('2.9996', '3.4', '3')
    """
    for digits in (3, 4, 5, 6, 8, 10, 15):
        text = f"{value:.{digits}g}"
        if value == limit or float(text) != limit:
            # keep whole numbers whole, and do not show more than was asked
            return shown(float(text)) if digits <= 6 else text
    return repr(value)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict of several findings together: the first that is found in this order.

    does_not_conform, not_measured, indeterminate, conforms. Of nothing at all: not_measured.

    >>> worst(["conforms", "indeterminate", "conforms"])
    'indeterminate'
    """
    held = set(verdicts)
    for verdict in _WORST_FIRST:
        if verdict in held:
            return verdict
    return "not_measured"
