"""How much of the spread is the gauge, how much the person, how much the part?

Parts × operators × trials, every operator measuring every part equally often.

>>> rows = [(p, o, float(10 * p + o + t)) for p in (1, 2, 3) for o in (1, 2) for t in (0, 1)]
>>> s = crossed_study([(str(p), str(o), v) for p, o, v in rows])
>>> round(s.repeatability, 4), s.ndc, s.pooled
(0.6124, 15, True)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..basis.errors import Contradiction, NotEnough
from ..basis.sentences import say

# d2* of Duncan as used by the range method: K1 = 1/d2(trials), K2 = 1/d2*(operators), K3 = 1/d2*(parts).
# AIAG MSA, 4th edition, appendix C (memory), more than 10 parts or 5 trials are not tabled here.
_D2 = {2: 1.12838, 3: 1.69257, 4: 2.05875, 5: 2.32593}
_D2_STAR = {2: 1.41421, 3: 1.91155, 4: 2.23887, 5: 2.48124, 6: 2.67253, 7: 2.82981, 8: 2.96288, 9: 3.07794, 10: 3.17905}


@dataclass(frozen=True)
class Line:
    """One line of the table of variance. ``f`` is against the term a random model asks for, ``f_vs_error``
    against repeatability alone; ``p`` belongs to ``f``."""

    source: str
    ss: float
    df: int
    ms: float | None = None
    f: float | None = None
    p: float | None = None
    f_vs_error: float | None = None


@dataclass(frozen=True)
class Study:
    """Standard deviations in the unit of the values: equipment, appraiser, both, part, total; and distinct
    categories. ``pooled`` tells that the interaction was counted with repeatability."""

    method: str
    repeatability: float
    reproducibility: float
    interaction: float
    grr: float
    part: float
    total: float
    ndc: int
    pooled: bool
    anova: tuple[Line, ...] = ()


def table(rows: Sequence[tuple[str, str, float]]) -> tuple[list[str], list[str], dict[tuple[str, str], list[float]]]:
    """Parts, operators and the values of each pair, checked to be crossed and balanced.

    Raises
    ------
    NotEnough
        Fewer than 2 parts, operators or trials.
    Contradiction
        A pair of part and operator lacks trials that others have.
    """
    cells: dict[tuple[str, str], list[float]] = {}
    for part, operator, value in rows:
        cells.setdefault((part, operator), []).append(value)
    parts = list(dict.fromkeys(part for part, _ in cells))
    operators = list(dict.fromkeys(operator for _, operator in cells))
    if len(parts) < 2 or len(operators) < 2:
        raise NotEnough("study", say("instruments.study_too_small", parts=len(parts), operators=len(operators)))
    trials = max(len(values) for values in cells.values())
    for part in parts:
        for operator in operators:
            n = len(cells.get((part, operator), []))
            if n != trials:
                raise Contradiction("study", say("instruments.trials_unequal", operator=operator,
                                                 part=part, n=n, trials=trials))
    if trials < 2:
        raise NotEnough("study", say("instruments.one_trial"))
    return parts, operators, cells


def crossed_study(rows: Sequence[tuple[str, str, float]], *, pool_above_p: float = 0.25) -> Study:
    """Repeatability and reproducibility by analysis of variance.

    Parameters
    ----------
    rows : list of (part, operator, value)
    pool_above_p : float
        The interaction joins repeatability when its p-value is above this.

    Returns
    -------
    Study

    Notes
    -----
    Random model, p parts, o operators, r trials:
    σ²_E = MS_E, σ²_PO = (MS_PO − MS_E)/r, σ²_O = (MS_O − MS_PO)/(p·r), σ²_P = (MS_P − MS_PO)/(o·r), negatives
    set to 0; pooled: MS_E' = (SS_PO + SS_E)/(their df) stands for MS_PO and MS_E. The values are taken from
    their grand mean first, so that a large offset costs no digits. AIAG MSA, 4th edition (memory).
    """
    parts, operators, cells = table(rows)
    p, o, r = len(parts), len(operators), len(next(iter(cells.values())))
    everything = [v for values in cells.values() for v in values]
    grand = math.fsum(everything) / len(everything)
    gap = {pair: [v - grand for v in values] for pair, values in cells.items()}
    rest = math.fsum(v for values in gap.values() for v in values) / len(everything)
    gap = {pair: [v - rest for v in values] for pair, values in gap.items()}
    cell_mean = {pair: math.fsum(values) / r for pair, values in gap.items()}
    part_mean = {a: math.fsum(cell_mean[a, b] for b in operators) / o for a in parts}
    operator_mean = {b: math.fsum(cell_mean[a, b] for a in parts) / p for b in operators}
    ss_p = o * r * math.fsum(m * m for m in part_mean.values())
    ss_o = p * r * math.fsum(m * m for m in operator_mean.values())
    ss_po = r * math.fsum((cell_mean[a, b] - part_mean[a] - operator_mean[b]) ** 2 for a in parts for b in operators)
    ss_e = math.fsum((v - cell_mean[pair]) ** 2 for pair, values in gap.items() for v in values)
    ss_t = math.fsum(v * v for values in gap.values() for v in values)
    df_p, df_o, df_po, df_e = p - 1, o - 1, (p - 1) * (o - 1), p * o * (r - 1)
    ms_p, ms_o, ms_po, ms_e = ss_p / df_p, ss_o / df_o, ss_po / df_po, ss_e / df_e
    f_po, p_po = _f(ms_po, ms_e, df_po, df_e)
    pooled = p_po is None or p_po > pool_above_p
    if pooled:
        base, df_base = (ss_po + ss_e) / (df_po + df_e), df_po + df_e
        var_e, var_po = base, 0.0
    else:
        base, df_base = ms_po, df_po
        var_e, var_po = ms_e, max(0.0, (ms_po - ms_e) / r)
    var_o, var_p = max(0.0, (ms_o - base) / (p * r)), max(0.0, (ms_p - base) / (o * r))
    (f_o, p_o), (f_p, p_p) = _f(ms_o, base, df_o, df_base), _f(ms_p, base, df_p, df_base)
    lines = (
        Line("operator", ss_o, df_o, ms_o, f_o, p_o, _f(ms_o, ms_e, df_o, df_e)[0]),
        Line("part", ss_p, df_p, ms_p, f_p, p_p, _f(ms_p, ms_e, df_p, df_e)[0]),
        Line("operator_by_part", ss_po, df_po, ms_po, f_po, p_po, f_po),
        Line("repeatability", ss_e, df_e, ms_e),
        Line("total", ss_t, p * o * r - 1),
    )
    return _study("anova", math.sqrt(var_e), math.sqrt(var_o + var_po), math.sqrt(var_po), math.sqrt(var_p), pooled, lines)


def range_study(rows: Sequence[tuple[str, str, float]]) -> Study:
    """Repeatability and reproducibility by averages and ranges (no interaction).

    EV = R̄·K1; AV = √((x̄_diff·K2)² − EV²/(p·r)), 0 when that is negative; PV = R_p·K3. At most 10 parts,
    10 operators and 5 trials. AIAG MSA, 4th edition (memory).

    Raises
    ------
    NotEnough
        As ``table``, or more parts, operators or trials than the factors are tabled for.
    """
    parts, operators, cells = table(rows)
    p, o, r = len(parts), len(operators), len(next(iter(cells.values())))
    if r not in _D2 or o not in _D2_STAR or p not in _D2_STAR:
        raise NotEnough("study", say("instruments.range_method_too_large", parts=p, operators=o, trials=r))
    r_bar = math.fsum(max(v) - min(v) for v in cells.values()) / (p * o)
    by_operator = [math.fsum(v for a in parts for v in cells[a, b]) / (p * r) for b in operators]
    by_part = [math.fsum(v for b in operators for v in cells[a, b]) / (o * r) for a in parts]
    ev = r_bar / _D2[r]
    av = math.sqrt(max(0.0, ((max(by_operator) - min(by_operator)) / _D2_STAR[o]) ** 2 - ev * ev / (p * r)))
    pv = (max(by_part) - min(by_part)) / _D2_STAR[p]
    return _study("average_and_range", ev, av, 0.0, pv, True, ())


def _study(method: str, ev: float, av: float, interaction: float, pv: float, pooled: bool, lines: tuple[Line, ...]) -> Study:
    grr = math.hypot(ev, av)
    ndc = int(1.41 * pv / grr) if grr > 0 else (0 if pv == 0 else 1_000_000)
    return Study(method, ev, av, interaction, grr, pv, math.hypot(grr, pv), ndc, pooled, lines)


def _f(above: float, below: float, df_above: int, df_below: int) -> tuple[float | None, float | None]:
    """F and its p-value; None when there is nothing below the line."""
    if below <= 0:
        return None, None
    from scipy.special import fdtrc

    ratio = above / below
    return ratio, float(fdtrc(df_above, df_below, ratio))
