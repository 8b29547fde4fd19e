"""Verdicts under each rule, by hand and by the published examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.finding import Decision
from soundedge.basis.question import answer
from soundedge.basis.sources import MARKS, source
from soundedge.thickness.ask import FORMS
from soundedge.thickness.plan import iso_counts, pa2_counts
from soundedge.thickness.rule_book import may_be_beyond, rules
from soundedge.thickness.rules import Film, Spot, judge_rule

from ..tries import tries


def film(*spots, **limits):
    return Film([Spot(str(i), tuple(map(float, values))) for i, values in enumerate(spots, 1)], **limits)


# SSPC-PA 2, appendix 1: 2.5, 3.0, 2.1, 3.0, 2.3 mil against 2.5 mil (memory). Three readings at each spot's mean.
MIL = 25.4
APPENDIX_1 = film(*[(s * MIL,) * 3 for s in (2.5, 3.0, 2.1, 3.0, 2.3)], min_um=2.5 * MIL)


def test_the_worked_example_of_pa_2_passes_at_level_3():
    found = judge_rule("sspc_pa_2", APPENDIX_1)

    assert found.simple == "conforms"
    values = {f.rule: (f.value / MIL, f.limit / MIL) for f in found.findings}
    assert values["lowest_area"][0] == pytest.approx(2.58) and values["lowest_spot"] == pytest.approx((2.1, 2.0))


def test_the_same_film_fails_where_no_spot_may_be_beyond():
    found = judge_rule("sspc_pa_2", Film(APPENDIX_1.spots, min_um=2.5 * MIL, level=1))

    assert found.simple == "does_not_conform" and found.spots_failing == ("3", "5")


def test_the_spot_limits_of_level_3_and_4_are_those_of_the_lecture():
    """8 to 12 mil: spots from 6.4 to 14.4 mil at level 3, up to 18.0 at level 4 (second hand; level 4 memory)."""
    limits = {}
    for level in (3, 4):
        found = judge_rule("sspc_pa_2", film((250, 250, 250), min_um=8 * MIL, max_um=12 * MIL, level=level))
        limits[level] = {f.rule: f.limit / MIL for f in found.findings}

    assert limits[3] == pytest.approx({"lowest_spot": 6.4, "highest_spot": 14.4, "lowest_area": 8, "highest_area": 12})
    assert limits[4]["highest_spot"] == pytest.approx(18.0)


def test_a_looser_level_never_turns_a_pass_into_a_fail():
    for spots in ([(850,) * 3, (1200,) * 3], [(1000,) * 3], [(2300,) * 3, (900,) * 3]):
        verdicts = [judge_rule("sspc_pa_2", film(*spots, min_um=1000, max_um=1800, level=n)).simple for n in (1, 2, 3, 4, 5)]
        order = [v == "conforms" for v in verdicts]
        assert order == sorted(order)


def test_a_spot_of_two_readings_is_no_spot():
    found = judge_rule("sspc_pa_2", film((1200, 1210), min_um=1000))

    assert found.verdict == "not_measured" and "at least 3" in found.because


@pytest.mark.parametrize("readings, verdict", [
    ((210, 205, 198, 220, 240, 202, 215, 230, 208, 201), "conforms"),
    ((210, 205, 198, 180, 240, 202, 215, 230, 208, 201), "does_not_conform"),   # 2 of 10 is not less than 20 %
    ((159, 230, 240, 250, 260), "does_not_conform"),                            # below 160
    ((170, 230, 240, 250, 260), "does_not_conform"),                            # 1 of 5 is not less than 20 %
    ((205,) * 9 + (700,), "does_not_conform"),                                  # above the maximum
    ((205,) * 10, "conforms"),
    ((190,) + (205,) * 9, "conforms"),
    ((199,) * 10, "does_not_conform"),
])
def test_iso_19840_on_films_of_200_to_600(readings, verdict):
    """Acceptance clauses partly second hand (R. Francis, JPCL 2009, by a trade page), constructed readings."""
    assert judge_rule("iso_19840", film(*[(r,) for r in readings], nominal_um=200, max_um=600)).simple == verdict


def test_iso_19840_may_be_read_with_up_to_20_percent():
    readings = [(r,) for r in (210, 205, 198, 180, 240, 202, 215, 230, 208, 201)]

    assert judge_rule("iso_19840", film(*readings, nominal_um=200, share_strict=False)).simple == "conforms"


def test_iso_19840_wants_five_readings_and_only_so_many_repeats():
    assert judge_rule("iso_19840", film((220,) * 4, nominal_um=200)).verdict == "not_measured"
    repeated = Film([Spot("1", (220.0,) * 5, superseded=2)], nominal_um=200)
    assert judge_rule("iso_19840", repeated).verdict == "not_measured"
    once = Film([Spot("1", (220.0,) * 5, superseded=1)], nominal_um=200)
    assert judge_rule("iso_19840", once).verdict == "conforms"


def test_ninety_ten_counts_one_in_ten():
    assert judge_rule("ninety_ten", film((181,) + (200,) * 9, nominal_um=200)).simple == "conforms"
    assert judge_rule("ninety_ten", film((181, 190) + (200,) * 8, nominal_um=200)).simple == "does_not_conform"
    assert judge_rule("ninety_ten", film((179,) + (200,) * 9, nominal_um=200)).simple == "does_not_conform"


@pytest.mark.parametrize("n, share, strict, may", [(5, 20, True, 0), (6, 20, True, 1), (10, 20, True, 1), (10, 20, False, 2),
                                                   (9, 10, False, 0), (10, 10, False, 1), (1, 20, True, 0)])
def test_the_number_that_may_be_below_is_counted_exactly(n, share, strict, may):
    assert may_be_beyond(n, share, strict) == may


def test_the_counts_of_pa_2():
    """12 500 ft² and 500 m² second hand (W. Corbett; R. Francis, JPCL 2009); the others from the same rule."""
    assert pa2_counts(12_500, "ft2") == (15, 75, 225)
    assert pa2_counts(500) == (7, 35, 105)
    assert pa2_counts(250, "ft2") == (3, 15, 45)
    assert pa2_counts(1000, "ft2").areas == 3 and pa2_counts(1001, "ft2").areas == 4
    assert pa2_counts(0.01).areas == 1


def test_the_counts_of_iso_19840():
    """500 m² → 70 second hand (R. Francis, JPCL 2009); the table from memory."""
    assert [iso_counts(a).readings for a in (0.5, 1, 2, 10, 25, 100, 101, 500)] == [5, 5, 10, 15, 20, 30, 40, 70]
    assert [iso_counts(a).repeats for a in (1, 3, 10, 30, 100, 500)] == [1, 2, 3, 4, 6, 14]


def test_a_small_repair_is_read_in_three_places():
    repair = Spot("1", (1200.0,) * 6)
    overlap, parent = Spot("2", (1100.0,) * 4, "overlap"), Spot("3", (980.0,) * 3, "parent")

    assert judge_rule("small_repair", Film([repair, parent], min_um=1000)).verdict == "not_measured"
    whole = judge_rule("small_repair", Film([repair, overlap, parent], min_um=1000))
    assert whole.verdict == "conforms" and any("no fault of the repair" in note for note in whole.notes)
    thin = Film([repair, Spot("2", (1100.0, 990.0, 1100.0, 1100.0), "overlap"), parent], min_um=1000)
    assert judge_rule("small_repair", thin).spots_failing == ("2",)


def test_the_limit_itself_conforms_even_after_a_correction_or_a_conversion():
    found = answer(FORMS, {"spots": [{"id": "1", "readings_um": [1012.3] * 3}], "limits": {"min_um": 1000, "nominal_um": 1000},
                           "correction": {"kind": "base_metal_reading", "value_um": 12.3}})

    assert found.min_um == 1000.0 and {r.simple for k, r in found.by_rule.items() if k != "iso_19840"} == {"conforms"}


def test_a_guarded_verdict_stands_beside_the_simple_one():
    near = film((1010, 1200, 1200), min_um=1000)
    near = Film(near.spots, min_um=1000, u_reading_um=lambda f: 17.0, u_shared_um=lambda f: 17.0)

    found = judge_rule("every_reading", near, Decision("guarded", 0.95))

    assert (found.simple, found.guarded, found.verdict) == ("conforms", "indeterminate", "indeterminate")
    assert found.p_conforms == pytest.approx(0.7218, abs=1e-4)    # Φ(10/17)


def test_every_cell_of_the_rules_says_where_it_comes_from():
    for held in rules().values():
        assert held.title and held.edition and held.read in MARKS
        assert source(held.source).title
    assert all(cell.read for cell in rules()["sspc_pa_2"].level.values())


readings = st.lists(st.lists(st.integers(300, 2500), min_size=3, max_size=6), min_size=2, max_size=5)


@tries(60)
@given(readings, st.integers(1, 5))
def test_thicker_film_never_fails_a_minimum_it_met(spots, level):
    """Direction: with no maximum, adding film to every reading cannot make a rule fail."""
    for rule in ("every_reading", "sspc_pa_2", "iso_19840", "ninety_ten"):
        before = judge_rule(rule, film(*spots, min_um=1000, nominal_um=1100, level=level))
        after = judge_rule(rule, film(*[[v + 50 for v in s] for s in spots], min_um=1000, nominal_um=1100, level=level))
        assert not (before.simple == "conforms" and after.simple != "conforms")
        assert after.p_conforms >= before.p_conforms


@tries(40)
@given(readings, st.randoms())
def test_the_order_of_the_readings_does_not_matter(spots, dice):
    mixed = [list(s) for s in spots]
    for s in mixed:
        dice.shuffle(s)
    for rule in rules():
        a = judge_rule(rule, film(*spots, min_um=1000, max_um=1800, nominal_um=1100))
        b = judge_rule(rule, film(*mixed, min_um=1000, max_um=1800, nominal_um=1100))
        assert (a.simple, a.guarded) == (b.simple, b.guarded) and a.p_conforms == pytest.approx(b.p_conforms, abs=1e-9)


def test_an_unknown_rule_is_refused_by_name():
    with pytest.raises(BenchError, match=r"There is no thickness rule 'gut_feeling'\. Known: every_reading, iso_19840"):
        answer(FORMS, {"spots": [{"id": "1", "readings_um": [1200]}], "limits": {"min_um": 1000}, "rules": ["gut_feeling"]})
