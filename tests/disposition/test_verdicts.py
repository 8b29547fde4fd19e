"""The disposition as a whole: every verdict, both stages, missing facts, and what must never get milder."""

import copy
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Contradiction, NotEnough, OutOfRange, Unreadable
from soundedge.basis.question import answer
from soundedge.basis.sources import cite
from soundedge.disposition.ask import FORMS
from soundedge.disposition.table import MILDEST_FIRST, TABLE, decide

from ..tries import tries

# Invented figures for the invented Kelderbeck Basin Works; nobody's approved limits.
LIMITS = {
    "bare_area_mm2_max": 900, "footprint_area_mm2_max": 4000, "repairs_per_part_max": 3, "same_spot_repairs_max": 1,
    "same_spot_radius_mm": 25, "feather_mm": 15, "keep_out_mm": 20, "merge_gap_factor": 2, "pit_depth_mm_max": 1,
    "plate_mm_max": 16,
}
FACE = {"kind": "sealing_face", "shape_mm": [[100, -100], [120, -100], [120, 100], [100, 100]]}


def request(*, d=30.0, limits=None, decision=None, part=None, history=(), **defect):
    procedure = {"limits": LIMITS if limits is None else limits}
    if decision:
        procedure["decision"] = decision
    return {
        "procedure": procedure, "part": {"keep_out": [FACE]} | (part or {}),
        "defects": [{"id": "A", "circle_mm": {"x": 0, "y": 0, "d": d}} | defect], "history": list(history),
    }


def asked(raw):
    return answer(FORMS, raw)


def earlier(x=0.0, y=0.0, job="KBW-1", d=40.0):
    return {"job": job, "x": x, "y": y, "d": d, "months_ago": 7}


def grave(word):
    return MILDEST_FIRST.index(word)


def test_a_spot_within_every_limit_is_repaired_by_procedure():
    said = asked(request())

    assert said.verdict == "repair_by_procedure"
    assert {f.verdict for f in said.findings} == {"conforms"}
    assert said.repairs[0].min_keep_out_mm == pytest.approx(70.0, abs=1e-9)
    assert said.repairs[0].min_keep_out_bare_mm == pytest.approx(85.0, abs=1e-9)


@pytest.mark.parametrize(
    "change, rule",
    [
        ({"d": 34.0}, "bare_area_over"),
        ({"d": 33.0, "limits": LIMITS | {"footprint_area_mm2_max": 3000}}, "footprint_area_over"),
        ({"circle_mm": {"x": 60, "y": 0, "d": 30}}, "keep_out_under"),
        ({"circle_mm": {"x": 90, "y": 0, "d": 30}}, "keep_out_under"),
        ({"pit_depth_mm": 1.2}, "pit_depth_over"),
        ({"part": {"plate_mm": 20}}, "plate_over"),
        ({"history": [earlier(200), earlier(220), earlier(240)]}, "repairs_per_part_over"),
        ({"history": [earlier(3), earlier(4, 5)]}, "same_spot_over"),
        ({"part": {"lined_area_mm2": 30_000}, "limits": LIMITS | {"repaired_share_pct_max": 5}}, "repaired_share_over"),
        ({"kind": "swelling"}, "attacked_lining"),
        ({"circle_mm": {"x": 105, "y": 0, "d": 4}, "through": False}, "on_keep_out"),
        ({"limits": {"feather_mm": 15}}, "no_area_limit"),
        ({"limits": {"footprint_area_mm2_max": 4000}}, "no_feather"),
        ({"limits": {"bare_area_mm2_max": 900}, "pit_depth_mm": 0.1}, "no_pit_limit"),
        ({"limits": {"bare_area_mm2_max": 900, "feather_mm": 90}}, "no_keep_out_limit"),
        ({"limits": {"bare_area_mm2_max": 900}, "history": [earlier()]}, "no_same_spot_limit"),
    ],
)
def test_what_goes_to_the_engineer_and_by_which_rule(change, rule):
    said = asked(request(**change))

    assert said.verdict == "engineering_review"
    assert rule in [row.rule for row in said.decided_by]


def test_a_third_repair_at_one_place_beyond_the_limit_is_the_end_of_spot_repair():
    """Common practice, no source: first again by procedure, second to the engineer, third strip."""
    words = [asked(request(history=[earlier(i, 0, f"J{i}") for i in range(n)],
                           limits=LIMITS | {"repairs_per_part_max": 9})).verdict for n in range(5)]

    assert words == ["repair_by_procedure", "repair_by_procedure", "engineering_review", "strip_and_reline",
                     "strip_and_reline"]


def test_the_place_of_an_earlier_repair_counts_within_the_radius_only():
    said = asked(request(history=[earlier(25.0, 0.0, "on the radius"), earlier(25.01, 0.0, "beyond")]))

    assert said.repairs[0].same_spot_repairs == 1
    assert said.repairs[0].same_spot_jobs == ["on the radius"]
    assert said.repair_count == 3


@pytest.mark.parametrize(
    "change, word",
    [
        ({}, "dress_only"),
        ({"smooth": True}, "dress_only"),
        ({"film_left_um": 700, "smooth": True}, "use_as_is"),
        ({"film_left_um": 700, "smooth": False}, "dress_only"),
        ({"film_left_um": 500, "smooth": True}, "repair_by_procedure"),
        ({"film_left_um": None}, "indeterminate"),
        ({"kind": "blister"}, "repair_by_procedure"),
        ({"kind": "blister", "film_left_um": 700, "smooth": True}, "repair_by_procedure"),
    ],
)
def test_damage_that_does_not_reach_the_steel(change, word):
    said = asked(request(through=False, limits=LIMITS | {"film_um_min": 600}, **change))

    assert said.verdict == word


@pytest.mark.parametrize("change", [{"pit_depth_mm": None}, {"through": None}, {"part": {"plate_mm": None}}])
def test_not_measured_is_not_zero(change):
    assert asked(request(**change)).verdict == "indeterminate"


def test_an_unmeasured_pit_does_not_hide_one_that_is_too_deep():
    raw = request(pit_depth_mm=1.5)
    raw["defects"].append({"id": "B", "circle_mm": {"x": 20, "y": 0, "d": 2}, "pit_depth_mm": None})

    assert asked(raw).verdict == "engineering_review"


def test_a_limit_the_procedure_does_not_set_is_named():
    said = asked(request(limits={"bare_area_mm2_max": 900, "feather_mm": 15}, part={"keep_out": []}))

    text = " ".join(said.not_judged)
    assert said.verdict == "repair_by_procedure"
    for key in ("footprint_area_mm2_max", "repairs_per_part_max", "keep_out_mm", "pit_depth_mm_max"):
        assert key in text


def test_a_plate_nobody_asked_about_is_named_and_does_not_hold():
    said = asked(request())

    assert said.verdict == "repair_by_procedure"
    assert any("plate_mm" in line for line in said.not_judged)


GUARDED = {"rule": "guarded", "probability": 0.95}


@pytest.mark.parametrize(
    "d, u, word",
    [
        # 900 mm² limit: 706.9 ± 50 passes at 3.9 u; 855.3 ± 50 is 0.9 u away; 1075 ± 50 fails at 3.5 u
        (30.0, 50.0, "repair_by_procedure"), (33.0, 50.0, "indeterminate"), (37.0, 50.0, "engineering_review"),
        (33.0, 0.0, "repair_by_procedure"), (33.0, None, "indeterminate"),
    ],
)
def test_the_uncertainty_enters_a_guarded_decision(d, u, word):
    said = asked(request(d=d, u_area_mm2=u, decision=GUARDED, limits=LIMITS | {"footprint_area_mm2_max": 9000}))

    assert said.verdict == word


def test_a_decision_may_stand_beside_bare_limits_but_not_against_a_procedure():
    raw = request(d=33.0, u_area_mm2=50.0) | {"decision": GUARDED}
    assert asked(raw).verdict == "indeterminate"

    raw["procedure"]["procedure"] = {"id": "KBW-LP-04"}
    with pytest.raises(Contradiction, match="KBW-LP-04 decides by 'simple'"):
        asked(raw)


def test_merged_defects_share_the_hull_and_the_verdict_is_about_it():
    """Two spots that pass alone and fail together."""
    raw = request()
    raw["defects"].append({"id": "B", "circle_mm": {"x": 45, "y": 0, "d": 20}})
    raw["part"] = {}

    said = asked(raw)

    assert [r.members for r in said.repairs] == [["A", "B"]]
    assert said.repairs[0].bare_area_mm2 > 900
    assert said.verdict == "engineering_review"
    assert said.repair_count == 1


def test_both_stages_are_judged_and_the_prepared_one_governs():
    """The common false economy: 28 mm as found passes, 40 mm after grinding does not."""
    raw = request(d=28.0)
    raw["defects"].append({"id": "A", "stage": "as_prepared", "circle_mm": {"x": 0, "y": 0, "d": 40}})

    said = asked(raw)

    assert said.verdict == "engineering_review"
    assert [(s.stage, s.governs, s.verdict) for s in said.stages] == [
        ("as_found", False, "repair_by_procedure"), ("as_prepared", True, "engineering_review")]
    assert said.growth[0].factor == pytest.approx((40 / 28) ** 2, abs=1e-3)
    assert said.repairs[0].stage == "as_prepared" and said.repair_count == 1


def test_a_spot_that_shrank_under_the_grinder_is_not_believed():
    raw = request(d=40.0)
    raw["defects"].append({"id": "A", "stage": "as_prepared", "circle_mm": {"x": 0, "y": 0, "d": 30}})

    said = asked(raw)

    assert said.verdict == "indeterminate"
    assert "smaller" in said.because


def both_stages(found, prepared):
    raw = request(part={"keep_out": []})
    raw["defects"] = [{"id": "A", "stage": "as_found"} | found, {"id": "A", "stage": "as_prepared"} | prepared]
    return raw


def test_steel_once_seen_is_not_unseen():
    said = asked(both_stages({"circle_mm": {"d": 20}}, {"circle_mm": {"d": 25}, "through": False}))

    assert said.verdict == "indeterminate"
    assert "not unseen" in said.because and "steel_unseen" in said.repairs[0].decided_by
    assert asked(both_stages({"circle_mm": {"d": 20}, "through": None},
                             {"circle_mm": {"d": 25}, "through": False})).verdict == "dress_only"


@pytest.mark.parametrize("x, u, verdict", [
    (0, 0, "repair_by_procedure"), (12.4, 0, "repair_by_procedure"), (12.6, 0, "indeterminate"), (1000, 0, "indeterminate"),
    (13.0, 15.0, "repair_by_procedure"),  # 15 mm² on such a spot move its edge by 0.2 mm
])
def test_a_prepared_spot_lies_over_the_damage_that_was_found(x, u, verdict):
    said = asked(both_stages({"circle_mm": {"x": x, "d": 20}, "u_area_mm2": u},
                             {"circle_mm": {"d": 25}, "u_area_mm2": u}))

    assert said.verdict == verdict
    assert (verdict == "indeterminate") == ("mark again" in said.next_move.lower())


def test_a_crescent_found_lies_under_the_same_crescent_prepared():
    outer = [[30 * math.cos(t / 10), 30 * math.sin(t / 10)] for t in range(25)]
    inner = [[25 * math.cos(t / 10), 25 * math.sin(t / 10)] for t in reversed(range(25))]
    crescent = {"outline_mm": outer + inner}

    assert asked(both_stages(crescent, crescent)).verdict == "repair_by_procedure"


def test_repairs_whose_shared_hulls_run_into_each_other_go_to_the_engineer():
    """An angle of three spots bridged by their feathers, and a fourth inside the corner it spans."""
    spots = [(0, 0), (38, 0), (76, 0), (114, 0), (0, 38), (0, 76), (0, 114), (47, 47)]
    raw = request(limits={"bare_area_mm2_max": 1e5, "feather_mm": 15}, part={"keep_out": []})
    raw["defects"] = [{"id": f"{i}", "circle_mm": {"x": x, "y": y, "d": 10}} for i, (x, y) in enumerate(spots)]

    said = asked(raw)

    assert len(said.repairs) == 2
    assert said.verdict == "engineering_review"
    assert {row.rule for row in said.decided_by} == {"footprints_overlap"}


def test_a_keep_out_may_be_a_line_a_circle_or_a_ring():
    rim = {"kind": "edge", "circle_mm": {"x": 0, "y": 0, "d": 300}, "drawn_as": "line"}
    weld = {"kind": "weld", "shape_mm": [[-50, 60], [50, 60]]}
    gasket = {"kind": "sealing_face", "circle_mm": {"x": 0, "y": 0, "d": 280},
              "holes_mm": [[[-90, -90], [90, -90], [90, 90], [-90, 90]]]}

    apart = [asked(request(part={"keep_out": [k]})).repairs[0].min_keep_out_mm for k in (rim, weld, gasket)]

    assert apart == [pytest.approx(120.0, abs=0.02), pytest.approx(30.0, abs=1e-9), pytest.approx(60.0, abs=1e-9)]


def test_an_outline_that_crosses_itself_is_refused_by_name():
    bow_tie = [[0, 0], [20, 20], [20, 0], [0, 25]]

    with pytest.raises(Unreadable, match=r"outline of defect A crosses .* near x = 11\.1 mm.*Mark its points again"):
        asked(request(circle_mm=None, outline_mm=bow_tie))


def test_the_other_refusals_name_the_thing_and_the_next_move():
    twice = request()
    twice["defects"] *= 2
    small = request(part={"lined_area_mm2": 500})
    for raw, kind, words in [
        (request() | {"procedure": "kbw.toml"}, Unreadable, "kbw.toml"),
        (request() | {"defects": []}, NotEnough, "Mark at least one"),
        (twice, Contradiction, "marked twice"),
        (small, Contradiction, "Check both units"),
        (request(through=False, pit_depth_mm=0.3), Contradiction, "pit of 0.3 mm"),
        (request(ellipse_mm={"a": 3, "b": 2}), Contradiction, "exactly one"),
        (request(d=1e-5), OutOfRange, "nobody can mark"),
        (request(limits={"bare_area_mm2_max": -1}), OutOfRange, "Largest bare area"),
    ]:
        with pytest.raises(kind, match=words):
            asked(raw)


def test_the_table_runs_from_grave_to_mild_and_every_row_has_a_held_source():
    order = [grave(row.then) for row in TABLE]

    assert order == sorted(order, reverse=True)
    assert len({row.fact for row in TABLE}) == len(TABLE)
    assert all(cite(row.source) and row.because.endswith(".") and row.next_move.endswith(".") for row in TABLE)
    assert decide([]) == []


@given(st.floats(1, 80), st.floats(1.0, 3.0), st.integers(0, 4), st.floats(0, 60), st.sampled_from([None, GUARDED]),
       st.floats(0, 2), st.booleans())
@tries(120)
def test_a_larger_spot_never_gets_a_milder_verdict(d, factor, before, u, decision, pit, through):
    shared = {"history": [earlier(i, 0, f"J{i}") for i in range(before)], "u_area_mm2": u, "decision": decision,
              "pit_depth_mm": pit if through else 0.0, "through": through}

    small, large = asked(request(d=d, **shared)), asked(request(d=d * factor, **shared))

    # a guarded failure needs certainty; with the same u a larger spot is the surer failure
    assert grave(large.verdict) >= grave(small.verdict)


@given(st.floats(20, 60), st.floats(0, 200), st.floats(0, 200))
@tries(80)
def test_more_uncertainty_never_turns_a_failure_into_a_pass(d, u, more):
    first = asked(request(d=d, u_area_mm2=u, decision=GUARDED))
    second = asked(request(d=d, u_area_mm2=u + more, decision=GUARDED))

    if first.verdict != "repair_by_procedure":
        assert second.verdict != "repair_by_procedure"


@given(st.integers(0, 5), st.randoms(use_true_random=False))
@tries(25)
def test_the_order_of_the_defects_changes_no_verdict(extra, rnd):
    raw = request()
    raw["defects"] += [{"id": f"x{i}", "circle_mm": {"x": rnd.uniform(-200, 60), "y": rnd.uniform(-200, 200), "d": 8}}
                       for i in range(extra)]
    turned = copy.deepcopy(raw)
    rnd.shuffle(turned["defects"])

    one, two = asked(raw), asked(turned)

    assert one.verdict == two.verdict
    assert sorted(sorted(r.members) for r in one.repairs) == sorted(sorted(r.members) for r in two.repairs)


HOSTILE = st.one_of(st.none(), st.booleans(), st.text(max_size=8), st.floats(), st.integers(), st.just([]), st.just({}),
                    st.just([[0, 0], [1, 1]]), st.just([[0, 0], [5, 5], [5, 0], [0, 5]]), st.just(float("nan")))
PLACES = [("procedure",), ("procedure", "limits", "feather_mm"), ("part",), ("part", "keep_out"), ("part", "plate_mm"),
          ("part", "lined_area_mm2"), ("defects",), ("defects", 0), ("defects", 0, "id"), ("defects", 0, "circle_mm"),
          ("defects", 0, "circle_mm", "d"), ("defects", 0, "u_area_mm2"), ("defects", 0, "stage"),
          ("defects", 0, "through"), ("defects", 0, "kind"), ("defects", 0, "outline_mm"), ("history",),
          ("part", "keep_out", 0, "shape_mm"), ("part", "keep_out", 0, "kind"), ("unknown",)]


@given(st.sampled_from(PLACES), HOSTILE)
@tries(300)
def test_nothing_typed_wrong_ever_becomes_a_traceback(place, value):
    raw = copy.deepcopy(request())
    spot = raw
    for step in place[:-1]:
        spot = spot[step]
    spot[place[-1]] = value

    try:
        said = asked(raw)
    except BenchError as refused:
        assert refused.message
    else:
        assert said.verdict in MILDEST_FIRST
        said.model_dump_json()


def test_numbers_in_a_record_stand_as_decimal_strings():
    raw = {"procedure": {"limits": {"bare_area_mm2_max": "900", "feather_mm": "15"}},
           "defects": [{"id": "A", "outline_mm": [["0", "0"], ["20.5", "0"], ["0", "20"]], "u_area_mm2": "1.5"}]}

    assert answer(FORMS, raw, from_record=True).repairs[0].bare_area_mm2 == 205.0


def test_a_tangle_nobody_could_mark_is_refused():
    tangle = [[(60 if i % 2 else 30) * math.cos(math.pi * i / 2500), (60 if i % 2 else 30) * math.sin(math.pi * i / 2500)]
              for i in range(5000)]

    with pytest.raises(OutOfRange, match=r"outline of defect A has .* smooth it"):
        asked(request(circle_mm=None, outline_mm=tangle))


def test_the_nearest_keep_out_is_found_among_many_and_in_any_order():
    """Boxes sorted by distance and cut short, against a look at every shape."""
    welds = [{"kind": "weld", "shape_mm": [[60 + 7 * i, -40 + 11 * i], [90 + 5 * i, 30 - 13 * i]]} for i in range(20)]

    alone = min(asked(request(part={"keep_out": [weld]})).repairs[0].min_keep_out_mm for weld in welds)

    for order in (welds, welds[::-1]):
        assert asked(request(part={"keep_out": order})).repairs[0].min_keep_out_mm == alone


def test_a_pit_as_deep_as_the_plate_is_refused():
    with pytest.raises(Contradiction, match="12 mm") as refused:
        asked(request(part={"plate_mm": 12}, pit_depth_mm=15, limits=LIMITS | {"pit_depth_mm_max": 20}))

    assert refused.value.field == "defects[0].pit_depth_mm"
    assert asked(request(part={"plate_mm": 12}, pit_depth_mm=0.5)).verdict == "repair_by_procedure"


def test_defects_that_are_larger_together_than_the_lining_are_refused():
    raw = request(d=20.0, part={"lined_area_mm2": 400, "keep_out": []})
    raw["defects"].append({"id": "B", "circle_mm": {"x": 60, "d": 20}})
    with pytest.raises(Contradiction, match="together"):
        asked(raw)

    raw["defects"][1]["circle_mm"]["x"] = 1.0  # the same damage marked twice covers it once
    assert asked(raw).verdict


def test_a_share_above_the_whole_is_said():
    said = asked(request(d=20.0, part={"lined_area_mm2": 400, "keep_out": []}))

    assert said.repaired_share_pct > 100
    assert any("more than there is" in caution for caution in said.cautions)


def test_an_uncertainty_larger_than_its_area_is_said():
    said = asked(request(d=20.0, u_area_mm2=1e6))

    assert any("larger than the area itself" in caution for caution in said.cautions)
    assert not any("larger than the area" in caution for caution in asked(request(d=20.0, u_area_mm2=10)).cautions)


def test_a_shrunk_spot_behind_a_large_uncertainty_is_said():
    said = asked(both_stages({"circle_mm": {"d": 20}, "u_area_mm2": 10}, {"circle_mm": {"d": 19.5}, "u_area_mm2": 200}))

    assert any("only the stated uncertainty" in caution for caution in said.cautions)


def test_an_earlier_repair_imported_twice_counts_once_and_is_said():
    said = asked(request(history=[earlier(), earlier()]))

    assert said.repairs[0].same_spot_repairs == 1 and said.verdict == "repair_by_procedure"
    assert said.repair_count == 2
    assert any("counted once" in caution for caution in said.cautions)
    assert asked(request(history=[earlier(), earlier(job="KBW-2")])).repairs[0].same_spot_repairs == 2


@pytest.mark.parametrize("through", [{}, {"through": True}])
def test_film_left_where_the_steel_is_reached_is_refused(through):
    with pytest.raises(Contradiction, match="film left"):
        asked(request(film_left_um=800, **through))

    assert asked(request(film_left_um=0, **through)).verdict == "repair_by_procedure"


def test_the_points_of_all_keep_outs_are_counted_before_they_are_read():
    face = {"kind": "edge", "shape_mm": [["not", "read"]] * 5000}
    with pytest.raises(OutOfRange, match="1000000 points") as refused:
        asked(request(part={"keep_out": [face] * 200}))

    assert refused.value.field == "part.keep_out"


def test_ids_that_differ_by_a_blank_are_one_defect():
    raw = request()
    raw["defects"].append({"id": "A ", "circle_mm": {"x": 200, "d": 10}})
    with pytest.raises(Contradiction, match="twice"):
        asked(raw)


@pytest.mark.parametrize("d_mm, u_mm2, verdict", [
    (28.0, 0, "repair_by_procedure"), (29.0, 0, "engineering_review"), (28.6, 0, "repair_by_procedure"),
    (28.6, 10, "indeterminate"),
])
def test_a_square_inch_by_the_technician_is_a_limit_of_the_procedure_and_proves_little_near_it(d_mm, u_mm2, verdict):
    """*Up to 1 in² by the technician, larger to an engineer* (common practice, no source): 645.16 mm², a spot of 28.66 mm.
    It is held as any limit, guarded by how well the area is known: 28.6 mm measured to 10 mm² is nobody's to decide yet. It
    says nothing of what the spot becomes by grinding, which is measured again."""
    raw = request(d=d_mm, limits=LIMITS | {"bare_area_mm2_max": 645.16}, u_area_mm2=u_mm2,
                  decision={"rule": "guarded", "probability": 0.95})

    assert asked(raw).verdict == verdict
