"""What film is left under damage that does not reach the steel, and when does a gauge not see it?"""

import pytest

from soundedge.basis.errors import Contradiction, NotEnough
from soundedge.disposition.cut import bridges, film_under, width_mm

from .sheets import blocks
from .test_gates import dressed, entry, every, judged

BESIDE, PIN = [1210, 1214, 1208], [0.42, 0.40, 0.39]


def cut(width, **said):
    """The damage as a cut of this width that does not reach the steel, with the gauge's readings in it; nothing is fused."""
    def change(typed):
        dressed(through=False, a=30)(typed)
        for one in typed["damage"]:
            one |= {"kind": "cut", "ellipse_mm": {"x": -60, "y": 35, "a": 30, "b": width, "angle_deg": 0}} | said

    return change


def test_film_under_a_cut_is_the_film_beside_it_less_its_depth():
    """Standard uncertainties add in squares (JCGM 100:2008, 5.1.2): 20 and 30 µm are 36.1."""
    assert film_under([1210, 1210, 1210], [0.42] * 3, u_beside_um=20, u_depth_mm=0.03) == (790, 36.1)
    assert film_under(BESIDE, PIN) == (790, None)
    assert film_under([300] * 3, [0.5] * 3)[0] == 0


@pytest.mark.parametrize("width, foot, over", [(2, 8, True), (15.9, 8, True), (16, 8, False), (2, None, True), (9, 4, False)])
def test_a_foot_stands_over_what_is_narrower_than_two_of_it(width, foot, over):
    assert bridges(width, foot) is over


def test_a_bent_scratch_is_as_wide_as_the_largest_circle_in_it():
    bent = [(0, 0), (40, 0), (40, 40), (37, 40), (37, 3), (0, 3)]
    assert 3 < width_mm(bent) < 4.5


def test_a_gauge_that_bridges_a_cut_proves_nothing_and_its_depth_does():
    plain = judged(cut(2))
    assert "gouge_measured" in blocks(plain) and "8 mm" in plain.steps["thickness"].blocks[0].because

    stated = judged(cut(2, film_left_um=1190))  # typed beside the reading, as the gauge showed it
    assert "gouge_measured" in blocks(stated)

    deep = judged(cut(2, beside_um=BESIDE, depth_mm=PIN, u_depth_mm=0.03))
    assert deep.steps["disposition"].verdict == "repair_by_procedure"
    assert [f.value for f in deep.steps["disposition"].findings if f.rule == "film_left"] == [790]
    assert deep.verdict != "released"


def test_a_shallow_cut_is_left_when_its_film_conforms_by_the_rule_of_decision():
    enough = judged(cut(2, beside_um=BESIDE, depth_mm=[0.05] * 3, u_depth_mm=0.01, u_film_um=10, smooth=True))
    assert (enough.steps["disposition"].verdict, "gouge_measured" in blocks(enough)) == ("use_as_is", False)
    assert enough.verdict == "released", blocks(enough)

    close = judged(cut(2, beside_um=BESIDE, depth_mm=[0.2] * 3, u_depth_mm=0.05, smooth=True))  # 1008 ± 50, 1000 asked
    assert (close.steps["disposition"].verdict, close.verdict) == ("indeterminate", "held")


def test_a_gauge_with_a_small_foot_reads_in_the_cut():
    small = every(cut(9), entry("instrument", 0, foot_mm=4))
    assert "gouge_measured" not in blocks(judged(small))


def test_film_that_is_too_thin_by_its_own_outline_is_not_dressed_and_left():
    thin = judged(every(dressed(through=False, a=22), lambda typed: [one.update(film_left_um=300) for one in typed["damage"]]))

    assert thin.steps["disposition"].verdict == "repair_by_procedure" and thin.verdict != "released"


def test_the_voltage_spares_the_film_under_a_cut():
    """The window's upper end is that of the film left, 1100 µm, though every reading in the zone is thicker."""
    def high(outcome):
        (zone,) = [zone for zone in outcome.steps["holiday"].asked[0]["zones"] if zone["id"] == "repair"]
        return zone["film_um"]["min"]

    left = judged(cut(2, beside_um=BESIDE, depth_mm=[0.108] * 3, u_depth_mm=0.01, u_film_um=10, smooth=True))
    assert high(left) == 1100 < high(judged(cut(30)))


def test_what_cannot_be_true_of_a_cut_is_refused():
    with pytest.raises(Contradiction, match="Give one"):
        judged(cut(2, beside_um=BESIDE, depth_mm=PIN, film_left_um=790))
    with pytest.raises(Contradiction, match="each place needs both"):
        judged(cut(2, beside_um=BESIDE[:2], depth_mm=PIN))
    with pytest.raises(NotEnough, match="at least 3"):
        judged(cut(2, beside_um=BESIDE[:2], depth_mm=PIN[:2]))
    with pytest.raises(Contradiction, match="reach the steel"):
        judged(every(cut(2), lambda typed: [one.update(through=True, beside_um=BESIDE, depth_mm=PIN)
                                            for one in typed["damage"]]))


def test_a_cut_that_was_filled_is_read_on_its_new_film():
    """Under the gauge's foot of 8 mm a cut 9 mm wide is bridged, unless layers were fused over it."""
    narrow = {"through": False, "kind": "cut", "pit_depth_mm": 0, "film_left_um": 300,
              "ellipse_mm": {"x": -60, "y": 35, "a": 30, "b": 9, "angle_deg": 0}}

    def filled(typed):
        for one in typed["damage"]:
            one.pop("outline_mm", None)
            one.update(narrow)

    assert "gouge_measured" not in blocks(judged(filled))
    assert "gouge_measured" in blocks(judged(cut(9)))


def left_in_place(**said):
    """The cover with its repair, and beside it a shallow cut that is left; only then were both looked at."""
    def change(typed):
        for one in typed["damage"][:2]:
            typed["damage"].append({
                "at": one["at"], "by": one["by"], "id": "B", "stage": one["stage"], "kind": "cut", "through": False,
                "smooth": True, "ellipse_mm": {"x": 100, "y": -150, "a": 30, "b": 2, "angle_deg": 0}} | said)

    return change


def test_the_voltage_spares_the_film_of_a_cut_that_is_left_beside_a_repair():
    beside = {"beside_um": BESIDE, "depth_mm": [0.108] * 3, "u_depth_mm": 0.01, "u_film_um": 10}
    outcome = judged(left_in_place(**beside))
    (zone,) = [zone for zone in outcome.steps["holiday"].asked[0]["zones"] if zone["id"] == "repair"]

    assert [one["to_make"] for one in outcome.steps["disposition"].answers[0]["repairs"]] == [True, False]
    assert zone["film_um"]["min"] == 1100
