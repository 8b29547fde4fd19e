"""Does every field of the folder's template reach the verdict, a finding or the printed page? Each is changed alone, or added,
on the released cover; what the job says, asks or prints must change with it."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

import soundedge
from soundedge.basis.errors import BenchError
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.report.from_job import certificate_view

from .sheets import blocks, sheet
from .test_gates import ENGINEER, also, at, entry, every, judged
from .test_out_of_limits import read

TEMPLATE = Path(soundedge.__file__).parent / "services" / "folder" / "templates" / "job.toml"
# What the folder reads from these files stands in the sheet as values; tests/services/folder reads the files.
FILES = {("damage", "photo"), ("damage", "outline"), ("damage", "card"), ("air", "readings"), ("heat_log", "readings"),
         ("film", "readings"), ("job", "procedure")}
LATER = datetime(2026, 5, 4, 13, 30, tzinfo=UTC)
CIRCLE = {"x": 0, "y": 0, "d": 30}
SEAL = {"kind": "sealing_face", "shape_mm": [[-50, 0], [-20, 0], [-20, 60], [-50, 60]]}

# section → key → a value that is not the cover's; a tuple's first part is set beside it.
OTHER = {
    "job": {"number": "KBW-X", "at": at("06:30"), "site": "Elsewhere"},
    "part": {"name": "bend", "tag": "B-1", "material": "aluminium", "plate_mm": 5, "lined_area_mm2": 900,
             "service": "immersed", "last_service": "Brine", "decontamination": "Steamed",
             "datum": "12 o'clock at the drain", "bore_d_mm": 400, "ring_inner_r_mm": 10, "ring_outer_r_mm": 400},
    "lining": {"polymer": "pvdf", "thickness_um": 600, "bonded_sheet": "neck N2", "bonded_c_max": 60},
    "person": {"id": "zoe", "name": "Zoe", "role": "inspector", "qualified_until": at("06:00", -9), "qualified_for": ["pvdf"],
               "qualified_plate_mm_min": 90, "qualified_plate_mm_max": 2},
    "instrument": {"id": "G99", "kind": "other", "calibrated_on": at("06:00", 9), "calibration_due": at("06:00", -1),
                   "tol_pct": 40},
    "lot": {"id": "P-1", "kind": "primer", "polymer": "pvdf", "expires": at("06:00", -1)},
    "damage": {"at": at("08:40"), "by": "tobias", "id": "Z", "stage": "as_prepared", "kind": "crack",
               "u_area_mm2": 900, "place": {"clock": "3:30", "radius_mm": 40}, "pit_depth_mm": 5},
    "prepared": {"method": "By hand"},
    "surface": {"profile_um": 20, "salts_mg_m2": 90, "salt_us_cm": 40, "salt_water_ml": 100, "dust_rating": 5, "dust_size": 5},
    "solvent": {"solvent": "isopropanol", "ml": 900, "space_l": 3},
    "vapour": {"lel_pct": 60},
    "permit": {"number": "HW-1", "until": at("08:00"), "residual_hazard": "Gel at hand."},
    "heat_plan": {"gun": {"power_w": 900, "air_c": 400, "outlet_mm": 34, "distance_mm": 90}},
    "layer": {"number": 9, "lot": "P-2"},
    "hot_work_end": {"fire_watch_until": at("10:00"), "watched_by": "tobias"},
    "cooled": {"film_c": 90},
    "gauge_check": {"instrument": "G8", "reference_um": 700, "reading_um": 1500},
    "film": {"instrument": "G8"},
    "holiday": {"instrument": "HD9", "voltage_v": 900, "verified_v": 900, "grounded": False, "coupon_um": 90,
                "coupon_hole_found": False},
    "sign": {"hold_point": "film", "meaning": "Something else."},
    "release": {"meaning": "Something else."},
}
NEW = {  # entries the cover has none of: one, and what changes in it
    "ph": ({"at": at("07:52"), "by": "ines", "edge_ph": 7, "rinse_ph": 7, "weeping": "none_seen"},
           {"edge_ph": 3, "rinse_ph": 9, "weeping": "seen"}),
    "engineer": ({"at": LATER, "by": "amara", "decision": "repair_as_instructed", "because": "Seen.", "number": "KBW-26-40",
                  "instruction": "Grind, then two layers.", "limits": {"bare_area_mm2_max": 940}},
                 {"decision": "scrap", "because": "Read.", "number": "KBW-26-41", "instruction": "Two stages.",
                  "limits": {"bare_area_mm2_max": 950}, "old_film_um_min": 900}),
    "took_in": ({"at": LATER, "by": "ines", "into": "A", "took": ["B"], "because": "It grew."},
                {"into": "B", "took": ["A"], "because": "It was ground into it."}),
    "split": ({"at": LATER, "by": "ines", "of": "A", "into": ["B", "C"], "because": "Two spots."},
              {"of": "B", "into": ["C", "D"], "because": "Sound lining between."}),
    "breach": ({"at": LATER, "by": "amara", "of": "layer-5", "report": "BR-1", "because": "Asked.", "closed_by": "S. Berg"},
               {"of": "layer-1", "report": "BR-2", "because": "Site safety asked.", "closed_by": "J. Pell"}),
    "correction": ({"at": LATER, "by": "ines", "entry": "air-1", "field": "rh_pct", "old": 52, "new": 53, "because": "Typed."},
                   {"entry": "air-2", "field": "air_c", "old": 51, "new": 99, "because": "Smudged."}),
}


# What such an entry, or a field, needs beside it to say anything.
BESIDE = {
    "breach": every(ENGINEER, entry("permit", 0, until=at("09:20"))),
    "took_in": also("damage", at=at("06:58"), by="ines", id="B", stage="as_found", circle_mm=CIRCLE),
    "split": also("damage", at=at("06:58"), by="ines", id="B", stage="as_found", circle_mm=CIRCLE),
    "engineer": every(ENGINEER, read(900, 901, where="parent", name="P4")),
    "permit": also("decontaminated", at=at("06:35"), by="ines", number="DC-1", tag="MC-7", stated_on=at("00:00", -3),
                   residual_hazard="Acid in pores."),
}
# A cut that does not reach the steel: what is beside it, and what changes in it.
SHALLOW = {"through": False, "kind": "cut", "pit_depth_mm": 0}
CUT = {
    "through": ({}, True), "film_left_um": ({"film_left_um": 900}, 300), "u_film_um": ({"film_left_um": 1050}, 200),
    "smooth": ({"film_left_um": 1240, "u_film_um": 5}, True),
    "beside_um": ({"beside_um": [1200] * 3, "depth_mm": [0.1] * 3}, [1100] * 3),
    "depth_mm": ({"beside_um": [1200] * 3, "depth_mm": [0.1] * 3}, [0.5] * 3),
    "u_depth_mm": ({"beside_um": [1200] * 3, "depth_mm": [0.1] * 3}, 0.3),
}


def template() -> set[tuple[str, str]]:
    """Every section and key of the template, whether commented out or not."""
    section, found = "", set()
    for line in TEMPLATE.read_text(encoding="utf-8").splitlines():
        named = re.match(r"#?\s*\[\[?([a-z_.]+)\]\]?", line)
        section = named[1] if named else section
        if section:
            found |= {(section, key) for key in re.findall(r"\b([a-z_0-9]+) = ", re.sub(r"\{[^}]*\}", "{}", line))}
    return found


def said(typed):
    """All a job says: verdict, what holds it, what was asked and answered, and the printed page; or why it is refused."""
    try:
        outcome = judge_job(events_of(typed), estimates=False)
    except BenchError as refused:
        return refused.message
    return repr(outcome.as_plain()) + repr([step.asked for step in outcome.steps.values()]) + repr(
        certificate_view(outcome, issued_at=LATER, record_digest="0" * 64))


def test_every_field_of_the_template_is_tried():
    tried = {(section, key) for section, keys in OTHER.items() for key in keys}
    tried |= {(section, key) for section, (_, keys) in NEW.items() for key in keys}
    tried |= {("damage", key) for key in CUT} | {("damage", "circle_mm"), ("lot", "stage"), ("instrument", "foot_mm")}
    tried |= {("part.keep_out", key) for key in KEEP_OUT}

    assert template() - FILES - tried == set()


@pytest.fixture(scope="module")
def plain():
    return said(sheet())


@pytest.mark.parametrize("section, key", [(section, key) for section, keys in OTHER.items() for key in keys])
def test_a_field_of_the_template_reaches_verdict_finding_or_page(plain, section, key):
    typed = sheet()
    if section in BESIDE:
        BESIDE[section](typed)
        plain = said(typed)
    place = typed[section][0] if isinstance(typed[section], list) else typed[section]
    place[key] = OTHER[section][key]

    assert said(typed) != plain


@pytest.mark.parametrize("section, key", [(section, key) for section, (_, keys) in NEW.items() for key in keys])
def test_a_field_of_an_entry_the_cover_has_not_reaches_it_too(section, key):
    first, second = sheet(), sheet()
    for typed in (first, second):
        BESIDE.get(section, lambda typed: None)(typed)
    body, other = NEW[section]
    first[section], second[section] = [body], [body | {key: other[key]}]

    assert said(first) != said(second)


@pytest.mark.parametrize("key", CUT)
def test_what_is_said_of_a_shallow_cut_reaches_it_too(key):
    beside, other = CUT[key]
    first, second = sheet(), sheet()
    first["damage"][1] |= SHALLOW | beside
    second["damage"][1] |= SHALLOW | beside | {key: other}

    assert said(first) != said(second)


def test_the_foot_of_a_gauge_counts_where_a_cut_is_narrow():
    first, second = sheet(), sheet()
    for typed in (first, second):
        typed["damage"][1] |= SHALLOW | {"ellipse_mm": {"x": -60, "y": 35, "a": 30, "b": 9, "angle_deg": 0}}
        typed["damage"][1].pop("outline_mm", None)
        typed.pop("layer")
    second["instrument"][0]["foot_mm"] = 4

    assert said(first) != said(second)


def test_a_circle_of_damage_counts(plain):
    typed = sheet()
    typed["damage"].append({"at": at("06:58"), "by": "ines", "id": "Q", "stage": "as_found", "kind": "chip",
                            "circle_mm": CIRCLE})

    assert said(typed) != plain


# The prepared spot lies round (-60, 35), 35 by 25 mm; these lie on it or round it.
KEEP_OUT = {
    "kind": {"kind": "weld", "shape_mm": SEAL["shape_mm"]},
    "shape_mm": {"kind": "sealing_face", "shape_mm": [[-60, -10], [-60, 80]]},
    "circle_mm": {"kind": "sealing_face", "circle_mm": {"x": -60, "y": 35, "d": 90}},
    "drawn_as": {"kind": "sealing_face", "circle_mm": {"x": -60, "y": 35, "d": 90}, "drawn_as": "line"},
    "holes_mm": {"kind": "sealing_face", "circle_mm": {"x": -60, "y": 35, "d": 600},
                 "holes_mm": [[[-360, 35], [-60, 300], [240, 35], [-60, -200]]]},
}


def gap_mm(**keep_out):
    outcome = judged(entry("part", keep_out=[{"kind": "sealing_face"} | keep_out]))
    return outcome.steps["disposition"].answers[0]["repairs"][-1]["min_keep_out_bare_mm"]


def test_lines_rings_and_circles_are_kept_out_of_as_areas_are():
    """By geometry: the prepared spot is an ellipse of 35 by 25 mm round (-60, 35), at most 17.5 mm from its middle."""
    assert gap_mm(**KEEP_OUT["shape_mm"]) == 0  # a line of two points through it
    assert gap_mm(circle_mm={"x": -60, "y": 35, "d": 90}) == 0  # inside the disc
    round_it = gap_mm(circle_mm={"x": -60, "y": 35, "d": 90}, drawn_as="line")
    assert round_it == pytest.approx(45 - 17.5, abs=0.3)  # inside the ring line
    disc = {"x": -60, "y": 35, "d": 600}
    hole = [[-60 + 200 * x, 35 + 200 * y] for x, y in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
    assert gap_mm(circle_mm=disc) == 0 and gap_mm(circle_mm=disc, holes_mm=[hole]) > 150  # a seat with an open middle


# ISO 8502-9: 15 ml on 1250 mm² is 6 mg/m² for each µS/cm; the procedure allows 20 mg/m².
@pytest.mark.parametrize("values, held", [
    ({"salts_mg_m2": 90}, True),  # the result alone, bad
    ({"salts_mg_m2": 9}, True),  # the result alone: five times 9 is above 20, the water is not known
    ({"salts_mg_m2": 3}, False),  # the result alone, low enough whatever the water was
    ({"salt_us_cm": 9.0, "salt_water_ml": 15}, True),  # 54 mg/m²
    ({"salt_us_cm": 1.6, "salt_water_ml": 15}, False),  # 9.6 mg/m²
])
def test_salts_are_judged_however_they_were_written_down(values, held):
    outcome = judged(entry("surface", 0, **({"salts_mg_m2": None, "salt_us_cm": None, "salt_water_ml": None} | values)))

    assert ("soluble_salts" in blocks(outcome)) is held
    assert outcome.verdict == ("held" if held else "released")


@pytest.mark.parametrize("half", ["salt_us_cm", "salt_water_ml"])
def test_half_a_salt_test_is_said_not_dropped(half):
    outcome = judged(entry("surface", 0, salts_mg_m2=None, **{half: None}))

    assert "salts_incomplete" in blocks(outcome) and outcome.verdict == "held"


@pytest.mark.parametrize("correction, words", [
    ({"kind": "none"}, "no correction made"),
    ({"kind": "profile", "value_um": 25, "u_um": 5}, "after correction (profile, 25 µm)"),
])
def test_the_page_says_after_correction_only_when_one_was_made(correction, words):
    outcome = judged(entry("film", 0, correction=correction))
    page = repr(certificate_view(outcome, issued_at=LATER, record_digest="0" * 64))

    assert words in page and ("after correction" in page) is (correction["kind"] != "none")
