"""The build-up as a question and an answer, its drawings, and what it refuses."""

import copy
import math
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, OutOfRange, Unreadable
from soundedge.basis.materials import material
from soundedge.basis.question import answer
from soundedge.buildup.ask import FORMS

from ..tries import tries

ASKED = {
    "circle_mm": {"x": 0, "y": 0, "d": 30}, "depth_um": 900, "feather_mm": 15, "target_um": 900, "layer_max_um": 300,
    "overbuild_um": 150, "powder": {"polymer": "ectfe", "density_kg_m3": 1680, "packing": 0.5, "loss_fraction": 0.2},
    "placement_d_mm": 12, "overlap_fraction": 0.2,
}


def asked(raw):
    return answer(FORMS, raw)


def test_the_usual_spot():
    said = asked(ASKED)

    volume = math.pi * 0.9 / 3 * (900 + 450 + 225) + math.pi * 900 * 0.15
    assert (said.layers, said.layer_um, said.removal_um) == (4, 262.5, 150.0)
    assert said.fused_volume_mm3 == pytest.approx(volume, rel=1e-7)
    assert said.powder_g == pytest.approx(volume * 1.68e-3 / 0.8, rel=1e-4)
    assert said.powder_ml_loose == pytest.approx(volume / 1000 / 0.8 / 0.5, rel=1e-4)
    assert said.coverage_pct == 100.0
    assert [p.order for p in said.placements] == list(range(1, len(said.placements) + 1))
    assert {p.r_mm for p in said.placements} == {6.0}
    assert {f.verdict for f in said.findings} == {"conforms"}
    assert sum(layer.powder_g for layer in said.layer_plan) == pytest.approx(said.powder_g, abs=1e-3)
    assert said.layer_plan[-1].top_um == 1050.0


def test_a_spot_far_from_the_origin_is_built_the_same():
    moved = asked(ASKED | {"circle_mm": {"x": 4000, "y": -3000, "d": 30}})

    assert moved.fused_volume_mm3 == asked(ASKED).fused_volume_mm3
    assert moved.coverage_pct == pytest.approx(100.0, abs=1e-9)


def test_the_density_is_looked_up_and_its_source_is_named():
    held = material("ectfe").value("density_kg_m3")
    said = asked(ASKED | {"powder": {"polymer": "ectfe"}})

    assert said.density_kg_m3 == held and said.density_source
    with pytest.raises(BenchError, match="no polymer 'unobtainium'"):
        asked(ASKED | {"powder": {"polymer": "unobtainium"}})


def test_without_powder_no_mass_is_made_up():
    said = asked({key: value for key, value in ASKED.items() if key != "powder"})

    assert said.powder_g is None and said.powder_ml_loose is None
    assert said.layers == 4


def test_the_same_outline_drawn_either_way_round_gives_the_same_repair():
    angle = [[0, 0], [60, 0], [60, 20], [20, 20], [20, 60], [0, 60]]
    one = asked({**ASKED, "circle_mm": None, "outline_mm": angle})
    two = asked({**ASKED, "circle_mm": None, "outline_mm": angle[::-1]})

    assert one.fused_volume_mm3 == pytest.approx(two.fused_volume_mm3, rel=1e-9)
    assert one.coverage_pct == two.coverage_pct == 100.0


def test_a_ring_shaped_spot_is_covered_without_covering_its_middle():
    raw = {**ASKED, "circle_mm": {"x": 0, "y": 0, "d": 150}, "feather_mm": 5,
           "holes_mm": [[[50 * math.cos(t / 20), 50 * math.sin(t / 20)] for t in range(125)]]}

    said = asked(raw)

    assert said.coverage_pct == pytest.approx(100.0, abs=1e-9)
    assert min(math.hypot(p.x, p.y) for p in said.placements) > 40
    assert len(said.footprint_holes_mm) == 1


def test_what_is_refused_names_the_thing():
    for change, kind, words in [
        ({"circle_mm": None, "outline_mm": [[0, 0], [20, 20], [20, 0], [0, 25]]}, Unreadable, "crosses"),
        ({"holes_mm": [[[100, 0], [110, 0], [105, 5]]]}, Unreadable, "hole does not lie inside"),
        ({"circle_mm": {"d": 0.001}}, OutOfRange, "nobody can mark"),
        ({"depth_um": 35}, BenchError, "does not reach the target"),
        ({"depth_um": 0.9}, OutOfRange, "1 mil = 25.4"),
        ({"placement_d_mm": 0.5}, OutOfRange, "Diameter of one placement"),
        ({"powder": {"polymer": "ectfe", "density_kg_m3": 1.68}}, OutOfRange, "1.68 g/cm³ is 1680"),
        ({"overlap_fraction": 20}, OutOfRange, "0.2 is 20 %"),
    ]:
        with pytest.raises(kind, match=words):
            asked({**ASKED, **change})


def drawings(**change):
    said = asked({**ASKED, "drawing": True, **change})
    return said.section_svg, said.plan_svg


@pytest.mark.parametrize("which", [0, 1])
def test_a_drawing_is_well_formed_titled_described_and_needs_no_colour(which):
    svg = drawings(title="Cover <7> & \"nozzle\"")[which]
    root = ET.fromstring(svg)
    space = "{http://www.w3.org/2000/svg}"

    assert root.find(f"{space}title").text == 'Cover <7> & "nozzle"'
    assert len(root.find(f"{space}desc").text) > 40
    assert root.get("role") == "img"
    inks = set(re.findall(r'(?:fill|stroke)[:=]"?([^";}]+)', svg))
    assert inks <= {"none", "#000", "#fff", "#ddd", "#bbb", "url(#steel)", "url(#bare)"}
    assert "<script" not in svg


def test_the_plan_numbers_every_placement_and_the_section_every_layer():
    section, plan = drawings()
    numbers = {e.text for e in ET.fromstring(plan).iter("{http://www.w3.org/2000/svg}text")}

    assert {str(n) for n in range(1, len(asked(ASKED).placements) + 1)} <= numbers
    assert section.count('class="layer"') == 4


def test_a_hostile_title_stays_text():
    section, plan = drawings(title="</title><script>alert(1)</script>")

    assert "<script" not in section + plan


HOSTILE = st.one_of(st.none(), st.booleans(), st.text(max_size=8), st.floats(), st.integers(), st.just([]), st.just({}),
                    st.just([[0, 0], [5, 5], [5, 0], [0, 5]]), st.just(float("inf")))


@given(st.sampled_from([*ASKED, "outline_mm", "holes_mm", "title", "drawing", "x"]), HOSTILE)
@tries(200)
def test_nothing_typed_wrong_ever_becomes_a_traceback(key, value):
    raw = copy.deepcopy(ASKED) | {key: value}

    try:
        said = asked(raw)
    except BenchError as refused:
        assert refused.message
    else:
        assert said.layers >= 1
        said.model_dump_json()


def spikes(points):
    turns = [(60 if i % 2 else 30, 2 * math.pi * i / points) for i in range(points)]
    return [[r * math.cos(t), r * math.sin(t)] for r, t in turns]


def test_a_tangle_nobody_could_mark_is_refused_and_a_jagged_edge_is_built():
    with pytest.raises(OutOfRange, match="Nobody marks such an edge"):
        asked({**ASKED, "circle_mm": None, "outline_mm": spikes(5000)})

    assert asked({**ASKED, "circle_mm": None, "outline_mm": spikes(200)}).coverage_pct == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("film_um", [600, 900, 1500])
def test_a_third_of_the_film_a_layer_is_three_layers_only_without_sanding_allowance(film_um):
    """*Layers of a third of the film* (common practice, no source) fill the hole and leave nothing to sand: what stands proud
    is a fourth layer, or three that are thicker than a third."""
    third = ASKED | {"depth_um": film_um, "target_um": film_um, "layer_max_um": film_um / 3}

    assert asked(third | {"overbuild_um": 0}).layers == 3
    assert asked(third | {"overbuild_um": 150}).layers == 4
    assert asked(third | {"overbuild_um": 150, "layer_max_um": (film_um + 150) / 3}).layers == 3


@pytest.mark.parametrize("placed_mm", [8, 12, 18])
def test_placements_of_8_to_18_mm_cover_from_the_outside_in_and_only_overlap_leaves_no_gap(placed_mm):
    """8 to 18 mm, overlapping, from the outside in (common practice, no source) holds: all is covered, the rim first. That they
    overlap is what does it: of circles that only touch, π/(2√3) = 90.7 % is the most that can be covered (Thue)."""
    said = asked(ASKED | {"placement_d_mm": placed_mm})
    out = [math.hypot(p.x, p.y) for p in sorted(said.placements, key=lambda p: p.order)]
    rings = [p.ring for p in sorted(said.placements, key=lambda p: p.order)]

    assert said.coverage_pct == 100.0
    assert rings == sorted(rings) and out[0] == pytest.approx(max(out), abs=0.01)
    area = math.pi * (15 + 15) ** 2
    assert len(said.placements) * math.pi * (placed_mm / 2) ** 2 > area / 0.907
