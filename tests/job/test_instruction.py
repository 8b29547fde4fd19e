"""What the engineer writes governs, what he only says lifts nothing, and what the procedure forbids nobody lifts in the job."""

import json
import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, OutOfRange, Unknown, Unreadable
from soundedge.basis.procedure import LIMITS
from soundedge.job.acts.before import before
from soundedge.job.judge import judge_job
from soundedge.job.kinds import body_of
from soundedge.job.typed import events_of
from soundedge.services.folder.job import may_folder

from .sheets import EXAMPLES, blocks, sheet
from .test_gates import ENGINEER, MELTS, at, decides, entry, every, instructs, judged, limit, procedure

# 60 cm² in the procedure, a spot of 565 cm² on the part: 400 mm x 180 mm is an ellipse of 565.5 cm².
WIDE = every(limit("bare_area_mm2_max", 6000), entry("damage", 1, ellipse_mm={"x": -60, "y": 35, "a": 400, "b": 180}),
             entry("part", lined_area_mm2=9e6), procedure("hold_points", []), limit("footprint_area_mm2_max", 9e4))
OK = "ok"


def rules(change):
    """The rules that hold the disposition after a change, and the verdict."""
    outcome = judged(every(ENGINEER, change))
    return outcome.verdict, [block.rule for block in outcome.steps["disposition"].blocks]


@pytest.mark.parametrize("said", [
    {}, {"instruction": OK}, {"number": "KBW-26-41"}, {"number": "KBW-26-41", "instruction": OK},
    {"number": "by phone", "instruction": "Go ahead, two stages."}, {"limits": {"bare_area_mm2_max": 60000}}])
def test_a_spoken_ok_for_565_cm2_against_60_lifts_nothing_and_asks_which_number_and_which_step(said):
    outcome = judged(every(ENGINEER, WIDE, decides("repair_as_instructed", "08:00", **said)))
    first = outcome.steps["disposition"].blocks[0]

    assert (outcome.verdict, first.rule) == ("engineering_review", "engineer_instructs")
    assert first.next_move.startswith("Which number and which step?")
    assert "bare_area" in blocks(outcome)


def test_a_written_instruction_with_its_limit_governs_and_is_the_source_of_every_later_comparison():
    typed = sheet()
    every(ENGINEER, WIDE, instructs("08:00", bare_area_mm2_max=60000))(typed)
    outcome = judge_job(events_of(typed), estimates=False)
    area = next(f for f in outcome.steps["disposition"].findings if f.rule == "bare_area")

    assert outcome.steps["disposition"].blocks == []
    assert (area.verdict, area.limit) == ("conforms", 60000) and area.source.startswith("instruction KBW-26-41, Amara Okoye")
    assert outcome.case.printed.value("bare_area_mm2_max") == 6000


def test_a_limit_that_the_instruction_does_not_name_stays_the_procedures():
    verdict, held = rules(every(WIDE, limit("footprint_area_mm2_max", 4500), instructs("08:00", bare_area_mm2_max=60000)))

    assert verdict == "engineering_review" and held == ["engineer_instructs", "footprint_area"]


def test_a_spot_that_outgrows_the_instruction_is_asked_again():
    assert rules(every(WIDE, instructs("08:00", bare_area_mm2_max=50000))) == (
        "engineering_review", ["engineer_instructs", "bare_area"])


def test_an_ok_after_the_written_instruction_takes_nothing_from_it():
    assert rules(every(WIDE, instructs("08:00", bare_area_mm2_max=60000), decides("repair_as_instructed", "08:05")))[1] == []


def test_a_plain_ok_where_the_procedure_allows_the_repair_holds_nothing():
    assert rules(decides("repair_as_instructed", "08:00")) == ("released", [])


def test_a_replaced_film_limit_judges_the_readings():
    low = entry("film", 0, spots=[{"id": f"R{n}", "where": "repair", "x": -60, "y": 35, "readings_um": [940, 945, 950]}
                                  for n in range(1, 4)])
    outcome = judged(every(ENGINEER, low, instructs("11:28", film_um_min=800)))
    film = outcome.steps["thickness"]

    assert film.verdict == "conforms" and film.asked[0]["limits"]["min_um"] == 800
    assert outcome.case.procedure.cite("film_um_min").startswith("instruction KBW-26-41")


def test_an_instruction_ends_when_it_says_so():
    runs = instructs("08:00", bare_area_mm2_max=60000)
    ends = every(WIDE, runs, lambda typed: typed["engineer"][0].update(expires=at("09:20")))

    assert rules(ends) == ("engineering_review", ["instruction_expired"])  # layers until 09:40
    typed = sheet()
    every(ENGINEER, ends)(typed)
    found = before(events_of(typed), "next_layer", at=at("09:21"))
    assert [p.verb for p in found.points if p.fact == "written_instruction"] == ["ask_engineer"]
    earlier = before(events_of(typed), "heat_on", at=at("08:47"))
    assert "written_instruction" not in [point.fact for point in earlier.points]


def test_an_instruction_that_ended_after_the_work_does_not_hold_the_release():
    assert rules(every(WIDE, instructs("08:00", bare_area_mm2_max=60000),
                       lambda typed: typed["engineer"][0].update(expires=at("10:00"))))[1] == []


def test_without_a_written_instruction_nothing_is_cut_or_heated():
    typed = sheet()
    every(ENGINEER, WIDE, decides("repair_as_instructed", "07:56"))(typed)
    for act in ("grind", "heat_on", "first_layer"):
        point = before(events_of(typed), act, at=at("08:47")).first
        assert (point.fact, point.verb) == ("engineer_instructs", "ask_engineer"), act
        assert point.what.startswith("Which number and which step?")


# ------------------------------------------------------------------ the whole part baked again

REBAKE = entry("heat_plan", 0, part_start_c=MELTS)


@pytest.mark.parametrize("said,lifted", [
    (decides("repair_as_instructed", "08:36"), False),
    (decides("repair_as_instructed", "08:40"), False),
    (decides("repair_as_instructed", "08:36", instruction="Bake the whole part.", number="KBW-26-42"), False),  # to what?
    (instructs("08:36", bare_area_mm2_max=1000), False),  # another matter
    (instructs("08:40", bare_area_mm2_max=1000), False),  # another matter, even with the plan in sight
    (instructs("08:36", part_start_c_max=MELTS + 5), True),
    (instructs("08:36", part_start_c_max=MELTS - 5), False),
])
def test_only_a_written_instruction_lets_the_whole_lining_be_baked_again(said, lifted):
    typed = sheet()
    every(ENGINEER, REBAKE, said)(typed)
    held = "rebake" in [block.rule for block in judge_job(events_of(typed), estimates=False).steps["heat"].blocks]
    asked = "part_start" in [point.fact for point in before(events_of(typed), "heat_on", at=at("08:47")).points]

    assert (held, asked) == (not lifted, not lifted)


# Case 12: bonded sheet, adhesive unknown, 110 °C; the procedure says so, the plan starts at 140 °C.
def test_a_part_that_the_procedure_heats_to_110_is_not_planned_at_140():
    typed = sheet()
    typed["job"]["procedure"]["limits"]["part_start_c_max"] = {"value": 110, "unit": "°C", "source": "KBW-LP-04, clause 7.8"}
    typed["heat_plan"][0]["part_start_c"] = 140
    point = next(p for p in before(events_of(typed), "heat_on", at=at("08:47")).points if p.fact == "part_start")

    assert (point.rule, point.verb, point.limit) == ("A4.8", "ask_engineer", 110)
    assert "rebake" in [block.rule for block in judge_job(events_of(typed), estimates=False).steps["heat"].blocks]


def test_the_thickest_plate_of_the_procedure_binds_the_plan_of_what_is_built_without_a_repair():
    typed = sheet()
    for damage in typed["damage"]:
        damage |= {"through": False, "film_left_um": 1200, "pit_depth_mm": 0}
    typed["job"]["procedure"]["limits"]["plate_mm_max"]["value"] = 8
    outcome = judge_job(events_of(typed), estimates=False)

    assert outcome.steps["disposition"].verdict == "dress_only"
    assert "plan_plate" in [block.rule for block in outcome.steps["heat"].blocks]
    assert "plate" in [point.fact for point in before(events_of(typed), "heat_on", at=at("08:47")).points]


# ------------------------------------------------------------------ what the procedure forbids

def forbids(**clause):
    """A change: one clause of the procedure that forbids."""
    return procedure("prohibited", [{"what": "spot repair", "clause": "clause 5.10"} | clause])


WRITTEN = instructs("08:00", bare_area_mm2_max=60000)
APPLIES = {
    "any repair": {}, "its damage": {"what": "repair of chips"}, "its polymer": {"what": "ECTFE film"},
    "its part": {"where": "covers"}, "everywhere": {"where": "anywhere"},
    "what it held": {"service": "hydrochloric acid"},
    "all of it": {"what": "chip", "where": "MC-7", "service": "hydrochloric acid"},
}
DOES_NOT = {
    "another damage": {"what": "repair of blisters"}, "another polymer": {"what": "PVDF film"},
    "another part": {"where": "nozzle"},
    "another product": {"service": "hydrofluoric acid"}, "a seal face it keeps away from": {"where": "sealing face"},
}


@pytest.mark.parametrize("name", APPLIES)
def test_nobody_lifts_a_prohibition_in_the_job(name):
    typed = sheet()
    every(ENGINEER, forbids(**APPLIES[name]), WRITTEN)(typed)
    outcome = judge_job(events_of(typed), estimates=False)
    block = outcome.blocked_by[0]

    assert (outcome.verdict, block.rule, block.source) == ("rejected", "prohibited", "KBW-LP-04, clause 5.10")
    assert "strip and reline, scrap, or back to the owner" in block.next_move
    point = before(events_of(typed), "next_layer", at=at("09:21")).first
    assert (point.fact, point.verb) == ("prohibited", "stop")


@pytest.mark.parametrize("name", DOES_NOT)
def test_a_prohibition_of_something_else_holds_nothing(name):
    assert rules(forbids(**DOES_NOT[name])) == ("released", [])


@pytest.mark.parametrize("override,said,held", [
    ("engineer", WRITTEN, []),
    ("engineer", decides("repair_as_instructed", "08:00"), ["prohibited"]),
    ("engineer", lambda typed: None, ["prohibited"]),
    ("engineer_and_owner", WRITTEN, ["prohibited"]),
    ("engineer_and_owner", every(WRITTEN, lambda typed: typed["engineer"][0].update(accepted_by="J. Hale, letter KB-88")), []),
])
def test_a_prohibition_is_lifted_by_whom_it_names_and_only_in_writing(override, said, held):
    assert rules(every(forbids(override=override), said)) == ("engineering_review" if held else "released", held)


def test_a_service_that_nobody_stated_is_asked_and_not_taken_for_another():
    unknown = every(forbids(service="hydrofluoric acid"), entry("part", last_service=None, decontamination=None))

    assert rules(unknown)[0] == "held" and "prohibited_service" in rules(unknown)[1]
    assert rules(every(unknown, entry("part", service="never", service_stated_by="J. Hale")))[1] == []


@pytest.mark.parametrize("given,fault", [
    ("spot repair", Unreadable), ([{"where": "nozzle"}], Unreadable), ([{"what": 5}], Unreadable),
    ([{"what": "repair", "who": "nobody"}], Unknown), ([{"what": "repair", "override": "manager"}], Unknown)])
def test_a_prohibition_that_cannot_be_read_is_refused(given, fault):
    with pytest.raises(fault):
        judged(procedure("prohibited", given))


@pytest.mark.parametrize("word", ["return_to_owner", "strip_and_reline", "scrap"])
def test_the_engineer_may_always_send_it_away(word):
    assert judged(every(ENGINEER, forbids(), decides(word, "08:00"))).verdict == "rejected"


# ------------------------------------------------------------------ the instruction itself

@pytest.mark.parametrize("limits,fault", [
    ({"bare_area_cm2_max": 600}, Unknown), ({"bare_area_mm2_max": -4}, OutOfRange), ({"film_um_min": 0.9}, OutOfRange),
    ({"bare_area_mm2_max": {"value": 600, "unit": "cm2"}}, OutOfRange)])
def test_a_replaced_limit_has_a_known_name_its_unit_and_its_fence(limits, fault):
    with pytest.raises(fault):
        body_of("escalation.decided", {"decision": "repair_as_instructed", "because": "Seen.", "limits": limits})


@given(st.dictionaries(st.sampled_from(sorted(LIMITS)), st.floats(-10, 1e6, allow_nan=False), max_size=4))
def test_an_instruction_is_read_back_from_a_record_as_it_was_written(limits):
    raw = {"decision": "repair_as_instructed", "because": "Seen.", "number": "KBW-26-41", "instruction": "Two stages.",
           "limits": limits}
    try:
        body = body_of("escalation.decided", raw)
    except BenchError:
        return
    record = json.loads(json.dumps(raw | {"limits": {key: repr(value) for key, value in body.limits.items()}}))

    assert body_of("escalation.decided", record, from_record=True).limits == body.limits
    assert all(LIMITS[key].read(value, decimal_strings=False) == value for key, value in body.limits.items())


WRITTEN_DOWN = """number = "KBW-26-41"
instruction = "Two stages, cooled between."
limits = { bare_area_mm2_max = 1500, footprint_area_mm2_max = { value = 5000, unit = "mm2" } }
expires = 2026-05-05T12:00:00Z
"""


@pytest.mark.parametrize("said,refused", [("", True), (WRITTEN_DOWN, False)])
def test_the_folder_asks_the_same(tmp_path, said, refused):
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    shutil.copytree(EXAMPLES / "mixer-cover", tmp_path / "job")
    text = (tmp_path / "job" / "job.toml").read_text(encoding="utf-8").replace("a = 35, b = 25", "a = 45, b = 35")
    photo = 'photo = "as-found.jpg"\noutline = "as-found.clicks.json"\ncard = "card.json"\nx = -60\ny = 35\n'
    assert photo in text
    engineer = """
[[person]]
id = "amara"
name = "Amara Okoye"
role = "engineer"

[[engineer]]
at = 2026-05-04T08:00:00Z
by = "amara"
decision = "repair_as_instructed"
because = "The plate carries it."
"""
    (tmp_path / "job" / "job.toml").write_text(
        text.replace(photo, "circle_mm = { x = -60, y = 35, d = 20 }\n") + engineer + said, encoding="utf-8")
    act = may_folder(tmp_path / "job", at="2026-05-04T08:47:00Z", act="heat_on").as_plain()["acts"][0]

    against = [point for point in act["points"] if point["weight"] == "blocks"]

    assert (act["answer"] == "no") is refused
    assert bool(against) is refused
    if refused:
        assert against[0]["what"].startswith("Which number and which step?")
