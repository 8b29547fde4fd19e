"""One act each at an ordinary hard moment: what is answered, by which rule, with which one move, and what must not be said.

All on the ECTFE cover: 1250 µm on 12 mm steel, low-melting class. Numbers beside a case say where they come from.
"""

from datetime import timedelta

import pytest

from soundedge.job.acts.before import before
from soundedge.job.typed import events_of

from .sheets import sheet
from .test_gates import also, at, entry, every, limit_new, logged, procedure, without

ENCLOSED = entry("permit", 0, place="enclosed")
GAS_15 = limit_new("gas_age_min_max", 15, "min")


def asked(act, clock, *changes, **how):
    typed = sheet()
    every(*changes)(typed)
    return before(events_of(typed), act, at=at(clock), **how)


def said(found):
    return " ".join(f"{point.because} {point.what}" for point in found.points if point.weight != "informs").lower()


def test_a_part_never_in_service_close_to_the_seal_face_may_be_ground_with_a_warning():
    """38 mm to the face, 15 of feather, 20 kept out: 3 mm are left, and less after twice the doubt of the outline."""
    def near(typed):
        typed["part"] |= {"service": "never", "service_stated_by": "Jonas Pell, dosing hall"}
        typed["part"].pop("decontamination"), typed["part"].pop("last_service")
        typed["damage"] = [one for one in typed["damage"] if one["stage"] == "as_found"]
        typed["damage"][0] |= {"circle_mm": {"x": 167, "y": 0, "d": 30}, "u_area_mm2": 10}
        for key in ("ellipse_mm", "outline_mm", "survey", "photo", "photo_sha256", "measured"):
            typed["damage"][0].pop(key, None)

    found = asked("grind", "07:30", near, limit_new("stop_line_mm_min", 5, "mm"))
    point = found.first

    assert (found.answer, point.rule, point.fact) == ("go_with_warnings", "A2.6", "keep_out_gap")
    assert 1 < point.value < 3
    assert "decontamination" not in said(found)


@pytest.mark.parametrize(("given", "lining", "answer", "rule", "verb"), [
    ({"solvent": "acetone", "ml": 3, "space_l": 50}, "ectfe", "no", "A3.2", "correct"),
    ({"solvent": "acetone", "ml": 4, "space_l": 4000, "air_changes_per_h": 6}, "ectfe", "go", None, None),
    ({"solvent": "acetone", "ml": 4, "space_l": 4000, "air_changes_per_h": 6}, "pvdf", "no", "A3.3", "correct"),
])
def test_a_wipe_is_too_much_enough_or_the_wrong_solvent(given, lining, answer, rule, verb):
    """Acetone: 2.5 % by volume is its lower limit (NFPA 325); 3 ml in 50 l are about three quarters of it."""
    def of(typed):
        typed["lining"] |= {"polymer": lining, "melt_class": None}
        typed["lining"].pop("melt_class")
        typed["job"]["procedure"]["polymers"] = [lining]

    found = asked("wipe", "08:12", of, without("vapour"), given=given)

    assert found.answer == answer
    if rule:
        assert (found.first.rule, found.first.verb) == (rule, verb)
    if rule == "A3.3":
        assert "ventilate" not in said(found)


def test_a_wipe_says_beforehand_that_the_gas_reading_dies_with_the_first_drop():
    found = asked("wipe", "08:40", given={"solvent": "acetone", "ml": 4, "space_l": 4000, "air_changes_per_h": 6})

    assert found.answer == "go"
    assert [point.state for point in found.points if point.fact == "gas"] == ["dead"]


def test_in_an_enclosed_place_heat_may_go_on_until_the_gas_reading_is_fifteen_minutes_old():
    found = asked("heat_on", "08:47", ENCLOSED, GAS_15, entry("vapour", 0, at=at("08:40")))

    assert found.answer == "go" and found.until.at == at("08:55")
    assert asked("heat_on", "08:56", ENCLOSED, GAS_15, entry("vapour", 0, at=at("08:40"))).first.verb == "read_again"


def test_what_a_methane_meter_shows_is_corrected_for_the_solvent_that_is_there():
    """4 % displayed, factor 2.6 for isopropanol on a methane meter: 10.4 % against 10 % (29 CFR 1915.13)."""
    found = asked("heat_on", "08:47", entry("vapour", 0, lel_pct=4, factor=2.6))

    assert (found.answer, found.first.rule, found.first.verb) == ("no", "A4.3", "correct")
    assert found.first.value == pytest.approx(10.4) and "ventilate" in said(found)


def test_a_meter_that_was_not_tried_that_day_is_tried_and_read_and_nobody_is_sent_to_ventilate():
    needed = sheet()["job"]["procedure"]["required"] + ["meter_bump"]
    found = asked("heat_on", "08:47", procedure("required", needed))
    tried = asked("heat_on", "08:47", procedure("required", needed),
                  also("bump", at=at("07:10"), by="tobias", instrument="V1", given_pct=50, shown_pct=49))

    assert (found.answer, found.first.fact, found.first.verb) == ("no", "meter_bump", "measure")
    assert "ventilate" not in said(found)
    assert tried.answer == "go"


@pytest.mark.parametrize(("start", "answer"), [(180, "go"), (195, "go"), (196, "no"), (220, "no")])
def test_a_whole_part_is_heated_to_twenty_kelvin_below_its_linings_melting(start, answer):
    """ECTFE of the low-melting class begins at 215 °C; 20 K below is the procedure's."""
    found = asked("heat_on", "08:47", entry("heat_plan", 0, part_start_c=start), limit_new("preheat_below_melt_k", 20, "K"))

    assert found.answer == answer
    if answer == "no":
        assert (found.first.rule, found.first.verb) == ("A4.8", "ask_engineer")


@pytest.mark.parametrize(("said", "start", "answer"), [
    ({"bonded_sheet": "neck N2, PVDF, glue unknown"}, 140, "no"), ({"bonded_sheet": "neck N2, PVDF, glue unknown"}, 110, "go"),
    ({"bonded_sheet": "neck N2, PVDF", "bonded_c_max": 150}, 140, "go"),
    ({"bonded_sheet": "neck N2, PVDF", "bonded_c_max": 80}, 110, "no"), ({}, 140, "go")])
def test_sheet_glued_on_the_part_sets_how_far_it_is_heated_as_a_whole(said, start, answer):
    """Glue nobody named: 110 °C, common practice, no source."""
    found = asked("heat_on", "08:47", entry("lining", 0, **said), entry("heat_plan", 0, part_start_c=start))
    assert found.answer == answer
    if answer == "no":
        assert (found.first.rule, found.first.verb, found.first.by) == ("A4.8", "ask_engineer", "engineer")
        assert "neck N2" in found.first.because and "shield" in found.first.what and "lower" not in found.first.what


def test_a_shaving_that_melts_elsewhere_stops_the_heat():
    """PVDF melts at 165 to 175 °C; powder on the bench decides nothing."""
    melted = also("polymer", at=at("08:00"), by="tobias", how="melting", melt_from_c=168, melt_to_c=173)
    found = asked("heat_on", "08:47", melted)

    assert (found.answer, found.first.verb, found.first.fact) == ("no", "stop", "polymer_known")


def test_a_layer_short_of_its_dwell_waits_for_the_missing_seconds():
    """22 s of 30 in one stretch: hold the heat 8 s more, and nobody grinds."""
    rows = [{"time_s": second, "reading_c": 247 if second >= 8 else 235, "aimed_at": "painted_dot", "emissivity_set": 0.95}
            for second in range(0, 31, 2)]
    typed = sheet()
    typed["layer"] = typed["layer"][:2]
    typed["heat_log"] = [{"at": at("09:14"), "by": "ines", "readings": rows, "instrument": "IR4", "heated_from": "front",
                          "started_at": at("09:14") - timedelta(seconds=30)}]
    found = before(events_of(typed), "next_layer", at=at("09:14"))
    point = next((one for one in found.points if one.fact == "log"), None)

    assert found.answer == "no" and point is not None
    assert (point.rule, point.verb, point.value) == ("A6.1", "wait_until", pytest.approx(22, abs=1))
    assert "8 s" in point.what and "grind" not in said(found)


def test_a_layer_that_fused_and_was_looked_at_may_be_covered():
    found = asked("next_layer", "09:25", logged("09:05", "09:14", "09:22"),
                  also("look", at=at("09:23"), by="ines", stage="layer", layer=3, accepted=True), given={"bond_c": 251})

    assert found.answer == "go"


def test_an_overlap_from_thin_to_thick_has_no_single_voltage_and_is_split_on_the_map():
    """640 to 1900 µm: the lowest voltage over the thickest film lies above what the thinnest bears."""
    def wide(typed):
        overlap = [spot for spot in typed["film"][0]["spots"] if spot["where"] == "overlap"]
        for spot, value in zip(overlap, [640, 1900] * len(overlap), strict=False):
            spot["readings_um"] = [value] * len(spot["readings_um"])
        typed["job"]["procedure"]["limits"]["film_um_min"]["value"] = 600
        typed["job"]["procedure"]["limits"]["film_um_max"]["value"] = 2000

    found = asked("spark_on", "12:04", wide, zone="overlap")
    window = next(point for point in found.points if point.rule == "A11.6")

    assert (found.answer, window.verb) == ("no", "correct") and "split" in window.what.lower()
