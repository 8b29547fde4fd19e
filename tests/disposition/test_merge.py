"""Which defects are one repair? The rule at its edges, and as a chain."""

import numpy as np
import pytest

from soundedge.disposition.marked import gap_mm, round_mark
from soundedge.disposition.merge import one_repair


def at(x, d=30.0, name=None, y=0.0):
    return round_mark(name or f"{x}", x=float(x), y=y, d=d)


@pytest.mark.parametrize("gap, merged", [(59.9, True), (60.0, False), (60.1, False)])
def test_a_gap_smaller_than_the_factor_times_the_larger_one_merges(gap, merged):
    """Two times 30 mm: smaller merges, equal does not. The factor is common practice, no source."""
    groups, _ = one_repair([at(0), at(30 + gap)], feather_mm=None, merge_gap_factor=2.0)

    assert (len(groups) == 1) is merged


def test_the_larger_one_counts():
    groups, _ = one_repair([at(0, d=30), at(15 + 50 + 2, d=4)], feather_mm=None, merge_gap_factor=2.0)

    assert len(groups) == 1  # 50 mm gap < 2 × 30 mm, though not < 2 × 4 mm


@pytest.mark.parametrize("gap, merged", [(29.9, True), (30.0, True), (30.1, False)])
def test_footprints_that_touch_merge(gap, merged):
    """Two feathers of 15 mm bridge 30 mm: touching is enough."""
    groups, _ = one_repair([at(0), at(30 + gap)], feather_mm=15.0, merge_gap_factor=None)

    assert (len(groups) == 1) is merged


def test_a_chain_is_one_repair_and_says_why():
    groups, why = one_repair([at(0, 10, "A"), at(100, 10, "C"), at(50, 10, "B")], feather_mm=20.0, merge_gap_factor=0.0)

    assert groups == [[0, 1, 2]]
    assert len(why) == 2 and all("bridged" in line for line in why)


def test_groups_are_those_of_a_plain_search_over_all_pairs():
    """Against a flood fill over the full table of gaps, for random spots."""
    for seed in range(20):
        draw = np.random.default_rng(seed)
        marks = [round_mark(f"{i}", x=draw.uniform(0, 400), y=draw.uniform(0, 400), d=draw.uniform(3, 30))
                 for i in range(25)]
        near = [[gap_mm(a, b) < 1.5 * max(a.greatest_mm, b.greatest_mm) or gap_mm(a, b) <= 20 for b in marks] for a in marks]
        seen, expected = set(), []
        for start in range(25):
            if start in seen:
                continue
            pool, group = [start], set()
            while pool:
                i = pool.pop()
                if i not in group:
                    group.add(i)
                    pool += [j for j in range(25) if near[i][j]]
            seen |= group
            expected.append(sorted(group))

        groups, _ = one_repair(marks, feather_mm=10.0, merge_gap_factor=1.5)

        assert sorted(map(sorted, groups)) == sorted(expected)


def test_spots_that_overlap_are_one_even_when_the_procedure_sets_neither_rule():
    groups, _ = one_repair([at(0), at(10), at(200)], feather_mm=None, merge_gap_factor=None)

    assert groups == [[0, 1], [2]]
