"""The one drawing of a part: true millimetres, also across the seam of a bore; told apart without colour, told in words, small.

Numbers here are plane geometry: a circle's circumference is π·d, a right angle on a dial is three hours.
"""

import math
import re
import xml.etree.ElementTree as ET
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from soundedge.basis.question import answer
from soundedge.buildup.ask import FORMS
from soundedge.report.part_drawing import View, close_up, key_line, part_drawing
from soundedge.report.part_frame import Frame, Opening, placing_u_mm
from soundedge.report.part_ink import INKS
from soundedge.report.part_layers import circle, ring_marks
from soundedge.report.part_marks import Mark, area_mm2, lines

from ..tries import tries

SVG = "{http://www.w3.org/2000/svg}"
COVER = Frame("disc", d_mm=520, openings=(Opening(0, 0, 90),))
NOZZLE = Frame("bore", d_mm=120, long_mm=175)
RING = Frame("ring", d_mm=400, inner_mm=220)
FREE = Frame("free", outline_mm=((-100, -80), (120, -70), (90, 90), (-80, 100)))
PLATE = Frame("plate", wide_mm=300, high_mm=200)
FRAMES = (COVER, PLATE, NOZZLE, RING, FREE)


def tree(frame, marks, **view):
    return ET.fromstring(part_drawing(frame, marks, View(**view)))


def of_class(root, name):
    return [one for one in root.iter() if name in (one.get("class") or "").split() and one.tag != f"{SVG}pattern"]


def corners(path):
    """Every point of a closed path that is written by its steps."""
    first, *steps = [tuple(map(float, pair.split(","))) for pair in re.findall(r"-?[\d.]+,-?[\d.]+", path.get("d"))]
    return list(accumulate(steps, lambda at, step: (at[0] + step[0], at[1] + step[1]), initial=first))


def spot_at(frame, x, y, **view):
    dot = next(one for one in of_class(tree(frame, [Mark("spot", "", [[(x, y)]])], **view), "pd-dot"))
    return float(dot.get("cx")), float(dot.get("cy"))


# ------------------------------------------------------------------ places


@tries(300)
@given(turn=st.floats(0, 359.99), mm=st.floats(0.1, 199), frame=st.sampled_from(FRAMES))
def test_a_place_said_by_clock_and_distance_comes_back_from_its_millimetres(turn, mm, frame):
    place = frame.place(*frame.at(turn, mm))
    apart = abs((place.turn_deg - turn + 180) % 360 - 180)
    assert apart * math.radians(1) * mm < 1e-6 and place.mm == pytest.approx(mm, abs=1e-6)


@tries(300)
@given(x=st.floats(-200, 200), y=st.floats(-200, 200), frame=st.sampled_from(FRAMES))
def test_a_place_on_the_part_comes_back_from_the_drawing(x, y, frame):
    back = frame.on_part(*frame.on_sheet(x, y))
    assert frame.apart_mm(back, (x, y)) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("turn", "said"), [
    (0, "12 o'clock"), (90, "3 o'clock"), (300, "10 o'clock"), (105, "3:30"), (359.9, "12 o'clock"), (0.5, "12:01")])
def test_the_way_round_is_said_by_the_dial(turn, said):
    assert COVER.place(*COVER.at(turn, 139)).said == f"{said}, 139 mm from the middle"


def test_a_flange_counts_from_its_edge_and_a_bore_from_its_face():
    assert RING.at(90, 40) == pytest.approx((160, 0))
    assert RING.place(160, 0).said == "3 o'clock, 40 mm from the edge"
    assert NOZZLE.place(85, NOZZLE.around_mm / 2).said == "6 o'clock, 85 mm from the face"


def test_a_finger_is_five_millimetres_sure_on_a_part_of_600_at_tablet_width():
    assert placing_u_mm(600 / 500) == pytest.approx(5.0, abs=0.1)
    assert placing_u_mm(0.2) < 1


# ------------------------------------------------------------------ true millimetres


@pytest.mark.parametrize(("turn", "way"), [(0, (0, -1)), (90, (1, 0)), (180, (0, 1)), (270, (-1, 0))])
def test_on_a_face_twelve_is_up_and_three_is_right_in_true_millimetres(turn, way):
    assert spot_at(COVER, *COVER.at(turn, 139)) == pytest.approx((139 * way[0], 139 * way[1]), abs=0.2)


def test_in_a_bore_the_quarters_follow_each_other_to_the_right_and_depth_goes_down():
    quarter = math.pi * 120 / 4
    for number in range(4):
        assert spot_at(NOZZLE, *NOZZLE.at(90 * number + 1e-9, 60)) == pytest.approx((number * quarter, 60), abs=0.1)
    scale = {one.text: float(one.get("x")) for one in of_class(tree(NOZZLE, []), "pd-scale") if one.text in ("3", "6", "9")}
    assert scale == pytest.approx({"3": quarter, "6": 2 * quarter, "9": 3 * quarter}, abs=0.2)


def test_thirty_degrees_either_side_of_the_seam_are_drawn_twice():
    around = math.pi * 120
    near = tree(NOZZLE, [Mark("spot", "", [[NOZZLE.at(350, 60)]])])
    assert sorted(float(one.get("cx")) for one in of_class(near, "pd-dot")) == pytest.approx(
        [around * 350 / 360 - around, around * 350 / 360], abs=0.2)
    far = tree(NOZZLE, [Mark("spot", "", [[NOZZLE.at(320, 60)]])])
    assert len(of_class(far, "pd-dot")) == 1
    u0, _, wide, _ = map(float, near.get("viewBox").split())
    assert u0 < -around / 12 and u0 + wide > around * 13 / 12


def test_a_distance_across_the_seam_goes_the_short_way_round():
    a, b = NOZZLE.at(355, 60), NOZZLE.at(5, 60)
    assert NOZZLE.apart_mm(a, b) == pytest.approx(math.pi * 120 * 10 / 360)
    assert NOZZLE.apart_mm(b, a) == pytest.approx(NOZZLE.apart_mm(a, b))
    assert COVER.apart_mm((0, 0), (3, 4)) == 5


def test_a_close_up_across_the_seam_shows_both_damages_beside_each_other():
    marks = [Mark("prepared", "A", [circle(60, 4, 12)]), Mark("prepared", "B", [circle(60, NOZZLE.around_mm - 16, 12)])]
    u0, _, u1, _ = close_up(NOZZLE, marks)
    assert u1 - u0 < 80
    drawn = tree(NOZZLE, marks, box=close_up(NOZZLE, marks))
    middles = [Polygon(corners(one)).centroid.x for one in of_class(drawn, "pd-prepared")]
    assert abs(middles[0] - middles[1]) == pytest.approx(20, abs=0.2)


@pytest.mark.parametrize("frame", FRAMES)
def test_an_area_on_the_drawing_is_the_area_on_the_lined_surface(frame):
    ring = circle(60, 70, 50)
    drawn = corners(of_class(tree(frame, [Mark("prepared", "A", [ring])]), "pd-prepared")[0])
    true = Polygon(ring).area
    assert Polygon(drawn).area == pytest.approx(true, rel=0.01)
    assert area_mm2([ring, circle(60, 70, 10)]) == pytest.approx(true - Polygon(circle(60, 70, 10)).area)
    assert f"{true:.0f} mm²" in str(lines(frame, [Mark("prepared", "A", [ring])])[-1])


def test_the_scale_bar_is_as_long_as_it_says():
    bar, said = of_class(tree(COVER, []), "pd-bar")[0], of_class(tree(COVER, []), "pd-scale")[-1]
    long = float(re.search(r"h(-?[\d.]+)", bar.get("d"))[1])
    assert said.text == f"{long:g} mm" and long > 20


def test_inches_are_said_where_the_reader_reads_inches():
    said = of_class(tree(COVER, [], unit="in", unit_mm=25.4), "pd-scale")[-1].text
    assert said.endswith(" in") and float(said[:-3]) * 25.4 < 260


# ------------------------------------------------------------------ rings


def _laid():
    spot = [(17 * math.cos(a), 12 * math.sin(a)) for a in (2 * math.pi * n / 60 for n in range(60))]
    return answer(FORMS, {"outline_mm": spot, "depth_um": 1050, "powder": {"polymer": "ectfe"}, "feather_mm": 15,
                          "layer_max_um": 300, "placement_d_mm": 9, "overlap_fraction": 0.2}).model_dump(mode="json")


def test_every_planned_point_lies_in_the_band_of_its_ring_and_the_bands_fill_the_footprint():
    plan = _laid()
    bands = {mark.label: Polygon(mark.rings[0], mark.rings[1:]) for mark in
             ring_marks(plan["footprint_mm"], plan["footprint_holes_mm"], plan["placements"]) if mark.sort == "ring"}
    assert sum(band.area for band in bands.values()) == pytest.approx(Polygon(plan["footprint_mm"]).area, rel=1e-6)
    for one in plan["placements"]:
        assert bands[str(one["ring"] + 1)].buffer(0.3).covers(Point(one["x"], one["y"])), one


def test_the_ring_in_hand_shows_its_points_and_where_it_begins():
    plan = _laid()
    marks = ring_marks(plan["footprint_mm"], [], plan["placements"], now=2, laid=(1,))
    second = [one for one in plan["placements"] if one["ring"] == 1]
    assert [mark.label for mark in marks if mark.sort == "point"] == [str(n) for n in sorted(one["order"] for one in second)]
    first = min(second, key=lambda one: one["order"])
    assert next(mark for mark in marks if mark.sort == "start").rings[0][0] == (first["x"], first["y"])
    assert [mark.label for mark in marks if mark.sort == "ring_laid"] == ["1"]
    assert "Ring 2 is laid now." in lines(COVER, marks)


# ------------------------------------------------------------------ told apart, told in words


def test_no_two_sorts_look_alike_in_black_and_white():
    seen = {}
    for sort, ink in INKS.items():
        seen.setdefault(ink.in_black_and_white, []).append(sort)
    assert [sorts for sorts in seen.values() if len(sorts) > 1] == []


@pytest.mark.parametrize("sort", INKS)
def test_every_sort_is_drawn_by_its_own_class_and_has_a_piece_for_the_key(sort):
    ring = {"arrow": [(0, 0), (5, 0)], "circle": [(0, 0), (5, 0)]}.get(INKS[sort].shape, circle(0, 0, 40))
    assert of_class(tree(COVER, [Mark(sort, "", [ring], picture="data:image/png;base64,AA==")]), f"pd-{sort}")
    assert of_class(ET.fromstring(key_line(sort, "key")), f"pd-{sort}")


def test_a_sort_without_an_ink_is_refused():
    with pytest.raises(KeyError):
        key_line("wish", "key")


def test_it_has_a_name_and_says_in_words_what_it_shows():
    drawn = tree(COVER, [], name="whole", title="Mixer cover MC-7", desc="Damage A at ten o'clock.")
    named = drawn.get("aria-labelledby").split()
    assert drawn.get("role") == "img" and [drawn.find(f"*[@id='{one}']").text for one in named] == [
        "Mixer cover MC-7", "Damage A at ten o'clock."]


def test_the_list_names_every_thing_on_it_in_both_languages():
    marks = [Mark("no_repair", "sealing face", [circle(0, 0, 520), circle(0, 0, 470)]),
             Mark("earlier", "2033", [circle(80, -140, 55)]),
             Mark("found", "A", [circle(-120, 69.3, 20)]), Mark("spot", "1079", [[(-120, 69)]], value=1079),
             Mark("spot_thinnest", "P2 1031", [[(-166, 66)]], value=1031), Mark("hole", "1", [[(0, 100)]])]
    assert lines(COVER, marks) == [
        "No repair here, sealing face: all round.", "Earlier repair 2033: 5:01, 161 mm from the middle.",
        "Damage A as found: 10 o'clock, 139 mm from the middle, 314 mm².",
        "Hole found by the spark test 1: 12 o'clock, 100 mm from the middle.",
        "Film read at 2 spots; thinnest 1031 µm at 9:43, 179 mm from the middle.",
    ]
    german = [one.text("de", "us") for one in lines(COVER, marks)]
    assert german[0] == "Hier keine Reparatur, Dichtfläche: rundum." and "10 Uhr, 5,46 in von der Mitte" in german[2]


def test_a_part_of_unknown_size_is_drawn_as_far_as_it_must_and_says_so():
    unknown = Frame("disc", stated=False)
    far = tree(unknown, [Mark("found", "A", [circle(900, 0, 20)])])
    west, _, wide, _ = map(float, far.get("viewBox").split())
    assert west + wide > 910
    assert lines(unknown, [])[0].startswith("The size of the part is not written down")
    assert tree(Frame("disc", stated=False), []).get("viewBox")


def test_a_bore_without_a_length_is_drawn_as_deep_as_what_lies_in_it():
    drawn = tree(Frame("bore", d_mm=120, stated=False), [Mark("spot", "", [[(400, 10)]])])
    _, top, _, high = map(float, drawn.get("viewBox").split())
    assert top < 0 and 400 < top + high < 700


# ------------------------------------------------------------------ small, safe to show


@pytest.mark.parametrize("wide_px", [300, 358, 628, 1400])
def test_a_job_of_150_entries_stays_under_60_kb(wide_px):
    plan = _laid()
    marks = [Mark("no_repair", "edge", [circle(0, 0, 520, 2000), circle(0, 0, 470, 2000)])]
    for n in range(10):
        x, y = 180 * math.sin(n), 180 * math.cos(n)
        marks += [Mark("found", f"D{n}", [circle(x, y, 20, 900)]), Mark("prepared", f"D{n}", [circle(x, y, 24, 900)]),
                  Mark("footprint", f"D{n}", [circle(x, y, 54, 900)]), Mark("earlier", "2033", [circle(-x, -y, 30)])]
    marks += [Mark("spot", f"{1000 + n}", [[(200 * math.sin(n), 2 * n - 100)]], value=1000 + n) for n in range(100)]
    marks += ring_marks(plan["footprint_mm"], [], plan["placements"], now=1)
    assert len(marks) >= 150
    assert len(part_drawing(COVER, marks, View(wide_px=wide_px)).encode()) <= 60_000
    assert len(part_drawing(COVER, marks, View(wide_px=wide_px, box=close_up(COVER, marks))).encode()) <= 60_000


def test_hostile_names_stay_names_and_nothing_runs_or_loads():
    drawn = part_drawing(COVER, [Mark("found", "<script>x", [circle(0, 0, 30)], entry='"><script>')],
                         View(title="</title><script>", desc="<img src=x>", words={}))
    assert "<script" not in drawn and "<img" not in drawn and "style=" not in drawn and "http" not in drawn.replace(
        "http://www.w3.org/2000/svg", "")
    assert "<script>x" in [one.text for one in ET.fromstring(drawn).iter(f"{SVG}text")]


def test_ids_begin_with_the_name_so_that_two_drawings_stand_on_one_page():
    marks = [Mark("prepared", "A", [circle(0, 0, 30)])]
    ids = [{one.get("id") for one in tree(COVER, marks, name=name).iter() if one.get("id")} for name in ("one", "two")]
    assert ids[0] and not ids[0] & ids[1]


def test_names_do_not_lie_on_each_other():
    drawn = tree(COVER, [Mark("spot", f"{1040 + n}", [[(30 * (n % 4), 30 * (n // 4))]]) for n in range(12)], wide_px=628,
                 box=(-40, -120, 140, 40))
    k = float(drawn.get("data-mm-per-px"))
    boxes = [(float(one.get("x")), float(one.get("y"))) for group in of_class(drawn, "pd-name") for one in group]
    assert len(boxes) == 12
    assert all(abs(a[1] - b[1]) > 12 * k or abs(a[0] - b[0]) > 30 * k for n, a in enumerate(boxes) for b in boxes[:n])
