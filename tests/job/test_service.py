"""Where the part was, and whether it is clean of it: nothing is cut, heated or released over an open answer.

Hypochlorite, 20 % sulphuric acid, 14 months in hydrochloric acid. pH 6 to 8, and at most 1 from the rinse water, are limits of
the example procedure: own judgement.
"""

import shutil
from pathlib import Path

import pytest

from soundedge.job.acts.before import before
from soundedge.job.asked import Asked
from soundedge.job.case import case_of
from soundedge.job.fold import fold
from soundedge.job.typed import events_of
from soundedge.services.desk import enter, jobs
from soundedge.services.desk.may import may_on
from soundedge.services.folder.job import may_folder

from ..services.desk.bench import INES, NUMBER, ODILE, a_shop, opening, standing
from ..services.desk.bench import at as desk_at
from .sheets import EXAMPLES, blocks, sheet
from .test_gates import ENGINEER, also, at, entry, every, judged, named, procedure

NOTHING = {"last_service": None, "decontamination": None}


def part(**values):
    """A change of the part; None takes a key away."""
    def change(typed):
        for key, value in values.items():
            if value is None:
                typed["part"].pop(key, None)
            else:
                typed["part"][key] = value

    return change


def read(clock, **values):
    return also("ph", at=at(clock), by="ines", **values)


def stated(days, **values):
    return also("decontaminated", **({"at": at("06:50"), "by": "ines", "number": "DC-26-118", "tag": "MC-7",
                                      "stated_on": at("00:00", days)} | values))


def instructed(clock):
    return every(ENGINEER, also("engineer", at=at(clock), by="amara", decision="repair_as_instructed", because="Seen.",
                                number="KBW-WI-7", instruction="Rinse, dry, warm, look; then repair."))


ASKED = procedure("required", [*sheet()["job"]["procedure"]["required"], "edge_ph", "weep_test"])

# what is changed → (verdict, rules that hold it)
HELD = {
    "neither service nor decontamination stated": (part(**NOTHING), "held", ["service"]),
    "in acid, and no statement": (part(decontamination=None), "held", ["decontamination"]),
    "immersed, and no statement": (part(**NOTHING, service="immersed"), "held", ["decontamination"]),
    "nobody knows what was in it": (
        part(**NOTHING, service="unknown"), "engineering_review", ["service"]),
    "never in service, and in contact last month": (
        part(**NOTHING, service="never", last_contact=at("00:00", -30)), "held", ["service"]),
    "never in service, and its last service was acid": (
        part(service="never", service_stated_by="Jonas Pell", decontamination=None), "held", ["service"]),
    "never in service, and the paper names what was in it": (
        every(part(**NOTHING, service="never", service_stated_by="Jonas Pell"), stated(-3, media="31 % hydrochloric acid")),
        "held", ["service"]),
    "never in service, and the paper does not know what was in it": (
        every(part(**NOTHING, service="never", service_stated_by="Jonas Pell"), stated(-3, media="Not known, smells of acid")),
        "held", ["service"]),
    "never in service, and nobody said so": (part(**NOTHING, service="never"), "held", ["service"]),
    "the statement names what is left": (
        every(part(decontamination=None), stated(-3, residual_hazard="hydrofluoric acid possible in pores")), "held",
        ["residual_hazard"]),
    "the statement says that nothing was read, and what is possible": (
        every(part(decontamination=None), stated(-3, residual_hazard="No reading was made, HF possible")), "held",
        ["residual_hazard"]),
    "site safety answered before the statement came": (
        every(part(decontamination=None), entry("permit", 0, residual_hazard="gel at hand", at=at("06:40")),
              stated(-3, residual_hazard="hydrofluoric acid possible in pores")), "held", ["residual_hazard"]),
    "a statement from before the last contact": (
        every(part(decontamination=None, last_contact=at("00:00", -31)), stated(-37)), "held", ["decontamination"]),
    "a statement for another part": (every(part(decontamination=None), stated(-3, tag="MC-9")), "held", ["decontamination"]),
    "a statement of the day after": (every(part(decontamination=None), stated(1)), "engineering_review", ["decontamination"]),
    "acid weeps at the edge": (read("07:52", weeping="seen"), "engineering_review", ["weeping"]),
    "acid weeps at the edge of a part that was never in service": (
        every(part(**NOTHING, service="never"), read("07:52", weeping="seen")), "engineering_review", ["weeping"]),
    "it wept, and one look since was clean": (
        every(read("07:20", weeping="seen"), read("07:40", weeping="none_seen")), "held", ["weeping"]),
    "it wept, and was heated before it was clean": (
        every(read("08:50", weeping="seen"), read("10:00", weeping="none_seen"), read("10:30", weeping="none_seen")),
        "engineering_review", ["product_at_heat"]),
    "the edge is acid": (read("07:52", edge_ph=3.1, rinse_ph=7.2), "held", ["edge_ph"]),
    "the edge is alkaline": (read("07:52", edge_ph=9.4, rinse_ph=9), "held", ["edge_ph"]),
    "the edge is farther from the rinse water than the procedure lets it": (
        read("07:52", edge_ph=6.1, rinse_ph=7.2), "held", ["edge_ph"]),
    "pH lower each time": (
        every(read("07:10", edge_ph=5.2), read("07:30", edge_ph=4.6), read("07:50", edge_ph=4.1)), "engineering_review",
        ["edge_ph"]),
    "the procedure asks for pH and a look": (ASKED, "held", ["edge_ph", "weep_test"]),
}

# What holds nothing.
GOES = {
    "never in service": part(**NOTHING, service="never", service_stated_by="Jonas Pell, dosing hall"),
    "never in service, under a procedure that asks for pH": every(
        ASKED, part(**NOTHING, service="never", service_stated_by="Jonas Pell, dosing hall")),
    "never in service, in words as well": part(decontamination=None, last_service="none, new part", service="never",
                                              service_stated_by="Jonas Pell, dosing hall"),
    "never in service, in other words": part(decontamination=None, last_service="Not yet in service - new.", service="never",
                                            service_stated_by="Jonas Pell, dosing hall"),
    "the statement names what is left, and site safety answered on the permit": every(
        part(decontamination=None), stated(-3, residual_hazard="hydrofluoric acid possible in pores"),
        entry("permit", 0, residual_hazard="Gloves, gel at hand, cut out under water spray")),
    "the statement says that nothing is left": every(part(decontamination=None), stated(-3, residual_hazard="none")),
    "a numbered statement instead of a text": every(part(decontamination=None, last_contact=at("00:00", -30)), stated(-29)),
    "a statement that says what was in it": every(part(**NOTHING), stated(-3, media="31 % hydrochloric acid")),
    "a new statement after an old one": every(
        part(decontamination=None, last_contact=at("00:00", -31)), stated(-37), stated(-20)),
    "stated on paper that it was never in service, after the job was opened": every(
        part(**NOTHING), stated(-3, service="never")),
    "pH read, and good": every(ASKED, read("07:52", edge_ph=6.9, rinse_ph=7.2, weeping="none_seen")),
    "pH bad, rinsed, and good": every(read("07:20", edge_ph=3.1), read("07:45", edge_ph=6.8, after="rinse")),
    "it wept, and two looks since were clean": every(
        read("07:10", weeping="seen"), read("07:30", weeping="none_seen"), read("07:50", weeping="none_seen")),
    "it wept, the engineer wrote, and a look was clean": every(
        read("07:10", weeping="seen"), read("07:50", weeping="none_seen"), instructed("07:30")),
    "nobody knows what was in it, and the engineer wrote": every(
        part(service="unknown", last_service=None), instructed("07:30")),
}


@pytest.mark.parametrize("name", HELD)
def test_a_part_that_may_hold_product_is_not_released(name):
    change, verdict, rules = HELD[name]
    outcome = judged(change)

    assert (outcome.verdict, set(rules) <= set(blocks(outcome))) == (verdict, True), blocks(outcome)


@pytest.mark.parametrize("name", GOES)
def test_a_part_that_is_clean_or_never_held_any_goes_on(name):
    outcome = judged(GOES[name])

    assert (outcome.verdict, blocks(outcome)) == ("released", [])


def cut(change, when="07:30", act="grind"):
    typed = sheet()
    change(typed)
    return before(events_of(typed), act, at=at(when))


def test_a_statement_older_than_the_last_contact_asks_the_owner_and_never_says_clean_again():
    found = cut(every(part(decontamination=None, last_contact=at("00:00", -31)), stated(-37)))

    assert (found.answer, found.first.rule, found.first.verb, found.first.by) == ("no", "A2.3", "ask_owner", "owner")
    assert "keep the part apart" in found.first.what and "clean" not in found.first.what


def test_an_acid_edge_is_rinsed_and_read_again_before_the_cut():
    found = cut(read("07:20", edge_ph=3.1, rinse_ph=7.2))

    assert (found.answer, found.first.rule, found.first.state, found.first.verb) == ("no", "A2.3", "failing", "correct")
    assert found.first.value == 3.1 and found.first.source == "KBW-LP-04, clause 4.6 (own judgement)"
    assert all(word in found.first.what.lower() for word in ("rinse", "neutralise", "dry", "read again"))


def test_being_from_acid_alone_holds_nothing():
    found = cut(every(ASKED, part(service="immersed", last_contact=at("00:00", -9), decontamination=None), stated(-4),
                      read("06:52", edge_ph=6.9, rinse_ph=7.0, weeping="none_seen", after="warm_soak"),
                      also("vapour", at=at("07:21"), by="ines", lel_pct=0, instrument="V1")))

    assert found.answer == "go", found.points


@pytest.mark.parametrize("act, rule", [("grind", "A2.3"), ("heat_on", "A4.5"), ("first_layer", "A4.5"), ("next_layer", "A4.5"),
                                       ("restart", "A4.5"), ("release", "A13.3")])
def test_no_act_goes_on_over_weeping_acid(act, rule):
    found = cut(read("07:20", weeping="seen"), "08:47", act)

    mine = next(point for point in found.points if point.fact == "weeping")
    assert (found.answer, mine.rule, mine.verb, mine.weight) == ("no", rule, "ask_engineer", "blocks")


def test_what_the_statement_says_is_left_is_said_before_the_cut():
    found = cut(every(part(decontamination=None), stated(-3, residual_hazard="hydrofluoric acid possible in pores")))

    assert (found.answer, found.first.verb, found.first.by) == ("no", "ask", "site_safety")
    assert "hydrofluoric acid" in found.first.because


def test_a_reading_of_one_repair_does_not_clear_another():
    def change(typed):
        for stage, clock in (("as_found", "06:56"), ("as_prepared", "07:56")):
            also("damage", at=at(clock), by="ines", id="B", stage=stage, circle_mm={"x": 100, "y": -150, "d": 12})(typed)

    bad = every(named("A"), change, read("07:20", repair="A", edge_ph=3.1), read("07:40", repair="B", edge_ph=7.0))

    typed = sheet()
    bad(typed)
    held = Asked(case_of(fold(events_of(typed)))).step("disposition")
    assert "edge_ph" in [block.rule for block in held.blocks]
    answers = {letter: before(events_of(typed), "heat_on", at=at("08:47"), repair=letter) for letter in "AB"}
    assert [any(p.fact == "edge_ph" for p in answers[letter].points) for letter in "AB"] == [True, False]


def nozzle(tmp_path, old, new):
    """The held example as a folder, one line of its sheet replaced."""
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    folder = Path(shutil.copytree(EXAMPLES / "dosing-nozzle", tmp_path / "job"))
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert old in text
    (folder / "job.toml").write_text(text.replace(old, new), encoding="utf-8")
    return folder


def test_the_folder_asks_the_owner_when_the_statement_is_older_than_the_last_contact(tmp_path):
    folder = nozzle(tmp_path, 'decontamination = "Rinsed, aired 72 h, statement DC-2026-85"\n',
                    'service = "in_contact"\nlast_contact = 2026-04-03T00:00:00Z\n')
    with (folder / "job.toml").open("a", encoding="utf-8") as sheet_file:
        sheet_file.write('\n[[decontaminated]]\nat = 2026-05-19T06:00:00Z\nby = "ines"\nnumber = "DC-2026-85"\ntag = "DN-22"\n'
                         'stated_on = 2026-03-28T00:00:00Z\n')
    found = may_folder(folder, act="grind")

    assert found.say.startswith("Ask the owner first.") and "DC-2026-85" in found.say


def test_the_desk_keeps_weeping_acid_for_the_engineer_and_says_it_in_german(tmp_path, monkeypatch):
    data = a_shop(tmp_path, monkeypatch)
    parts = {key: value for key, value in opening()["part"].items() if key != "decontamination"}
    jobs.open_job(data, ODILE, opening(part=parts), id=f"open-{NUMBER}", now=desk_at("06:40"))

    def put(n, kind, clock, **body):
        enter.enter(data, INES, NUMBER, [{"id": f"d1-a1b2c3-{n}", "kind": kind, "at": desk_at(clock).isoformat(),
                                          "body": body}], now=desk_at(clock))

    put(1, "damage.outlined", "06:55", id="A", stage="as_found", circle_mm={"x": -60, "y": 35, "d": 20})
    owner = may_on(data, NUMBER)
    put(2, "decontamination.stated", "07:00", number="DC-2026-77", tag="MC-7", stated_on="2026-05-01T00:00:00Z")
    put(3, "ph.read", "07:10", weeping="seen")
    wept = may_on(data, NUMBER)

    assert owner.next.first.verb == "ask_owner" and "decontamination" in owner.say
    assert wept.next.act == "grind" and wept.next.first.verb == "ask_engineer"
    assert "Am 2026-05-04 07:10 UTC trat am Rand Medium aus" in wept.next.first.because.text("de")
    assert standing(data).outcome.verdict == "engineering_review"
