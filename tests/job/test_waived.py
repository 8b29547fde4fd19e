"""Not done, because …, accepted by …: what may be waived, by whom, and what is never waived.

Sparking a lining that was in service can burn sound film or mislead: NACE SP0188-2006, 1.4; a lining that conducts looks like
one hole everywhere: ASTM G62, scope. Who may waive what is own judgement.
"""

import json
import shutil
from pathlib import Path

import pytest
from pypdf import PdfReader

from soundedge.basis.errors import BenchError
from soundedge.job.acts.before import before
from soundedge.job.acts.may import may
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.desk import enter
from soundedge.services.desk.state import plain
from soundedge.services.evidence.verify import verify_file

from ..commands import run
from ..services.desk import bench
from .sheets import EXAMPLES, blocks, sheet
from .test_gates import ENGINEER, also, at, entry, every, judged, without
from .test_service import NOTHING, part

LETTER = "letter KBW-26-41 of 3 May 2026"
SERVED = every(ENGINEER, part(service="immersed"), entry("holiday", 0, zones=["repair"]))


def waives(fact, zone=None, clock="12:08", by="amara", role="owner", accepted_by=("Jonas Pell",), basis=LETTER, **more):
    values = {"fact": fact, "reason": "In acid for three years.", "basis": basis, "replaced_by": "Looked at by 10×", **more}
    if zone is not None:
        values["zone"] = zone
    if role is not None:
        values |= {"role": role, "accepted_by": list(accepted_by)}
    return also("waived", at=at(clock), by=by, **values)


OLD = every(SERVED, waives("spark", "overlap"), waives("spark", "parent"))
CONDUCTS = every(ENGINEER, lambda typed: typed["lining"].update(conductive_filler=True), without("holiday"))
NEVER = every(ENGINEER, part(**NOTHING, service="never", service_stated_by="Jonas Pell"))
NO_SALTS = entry("surface", 0, salts_mg_m2=None, salt_us_cm=None, salt_water_ml=None)


def thin_and_thick(typed):
    """Parent film with a place too thin and one too thick for any one voltage."""
    parent = [spot for spot in typed["film"][0]["spots"] if spot["where"] == "parent"]
    parent[0]["readings_um"] = [560 for _ in parent[0]["readings_um"]]
    parent[-1]["readings_um"] = [2150 for _ in parent[-1]["readings_um"]]
    typed["job"]["procedure"]["limits"]["film_um_min"]["value"] = 500
    typed["job"]["procedure"]["limits"]["film_um_max"]["value"] = 2500


# what is changed → (outcome, how many facts are printed as not done)
ACCEPTED = {
    "old film from acid, patch sparked": (OLD, "released_with_waivers", 2),
    "one entry for both zones of old film": (every(SERVED, waives("spark")), "released_with_waivers", 2),
    "the test does not say which zones it went over": (
        every(OLD, entry("holiday", 0, zones=None)), "released_with_waivers", 2),
    "engineer and owner in two entries": (
        every(SERVED, waives("spark", role=None), waives("spark", clock="12:09")), "released_with_waivers", 2),
    "a lining that conducts": (every(CONDUCTS, waives("spark")), "conditional", 3),
    "salts not measured on a part that was never in service": (
        every(NEVER, NO_SALTS, waives("salts", clock="08:10", role=None)), "released_with_waivers", 1),
    "dust and profile as well": (
        every(NEVER, NO_SALTS, entry("surface", 0, profile_um=None, dust_rating=None, dust_size=None),
              *(waives(fact, clock="08:10", role=None) for fact in ("salts", "dust", "surface_profile"))),
        "released_with_waivers", 3),
    "no bond test": (every(ENGINEER, waives("bond", role=None)), "released_with_waivers", 1),
}

# what is changed → rules that hold it
HELD = {
    "old film from acid, not tested and nothing said": (SERVED, ["spark_overlap", "spark_parent"]),
    "old film sparked without a letter": (
        every(ENGINEER, part(service="immersed")), ["holiday_void"]),
    "only one of two zones accepted": (every(SERVED, waives("spark", "parent")), ["spark_overlap"]),
    "the owner did not accept": (
        every(SERVED, waives("spark", role=None)), ["spark_overlap", "waiver"]),
    "the engineer accepts twice": (
        every(SERVED, waives("spark", role="engineer", accepted_by=["Amara Okoye"])), ["spark_overlap", "waiver"]),
    "written by the technician": (every(SERVED, waives("spark", by="ines")), ["spark_overlap", "waiver"]),
    "a spoken ok": (every(SERVED, waives("spark", basis="ok")), ["spark_overlap", "waiver"]),
    "the patch itself": (
        every(SERVED, entry("holiday", 0, zones=["overlap", "parent"]), waives("spark", "repair")),
        ["holiday_void", "waiver"]),
    "new film round the repair": (
        every(ENGINEER, entry("holiday", 0, zones=["repair", "overlap"]), waives("spark", "parent")),
        ["holiday_void", "waiver"]),
    "a lining that conducts, and nothing said": (CONDUCTS, ["spark_repair"]),
    "a hole found in film that was accepted untested": (
        every(OLD, entry("holiday", 0, zones=None, holidays=[{"x": 0, "y": 0, "zone": "parent"}])), ["no_holiday"]),
    "salts on a part from acid": (every(ENGINEER, NO_SALTS, waives("salts", clock="08:10", role=None)),
                                  ["soluble_salts", "waiver"]),
    "the look at the repair": (every(ENGINEER, waives("visual")), ["waiver"]),
    "accepted after the hold point was signed": (every(OLD, entry("waived", 0, at=at("12:20"))), ["hold_point_holiday"]),
    "accepted after the release": (every(OLD, entry("waived", 0, at=at("12:40"))), ["release_comes_last"]),
    "who accepted it releases": (
        every(NEVER, waives("appearance", by="tobias", role=None)), ["nobody_releases_what_he_waived"]),
}


@pytest.mark.parametrize("name", ACCEPTED)
def test_what_was_accepted_untested_is_printed_and_is_another_word_than_released(name):
    change, word, count = ACCEPTED[name]
    outcome = judged(change)

    assert (outcome.verdict, outcome.outcome, blocks(outcome)) == ("released", word, []), blocks(outcome)
    assert len(outcome.not_done) == count and all(one.said.startswith("NOT DONE: ") for one in outcome.not_done)
    assert {one.fact for one in outcome.not_done} <= set(outcome.missing), "it stays not measured"


@pytest.mark.parametrize("name", HELD)
def test_what_nobody_may_accept_holds_the_job(name):
    change, rules = HELD[name]
    outcome = judged(change)

    assert outcome.verdict != "released"
    assert set(rules) <= set(blocks(outcome)), blocks(outcome)


def test_the_owners_letter_or_a_voltage_of_the_procedure_lets_old_film_be_tested():
    lettered = judged(every(part(service="immersed"), entry("holiday", 0, letter="DH-26-19")))
    at_most = procedure_volts(8000)

    assert (lettered.outcome, blocks(lettered)) == ("released", [])
    assert judged(every(part(service="immersed"), at_most)).outcome == "released"
    assert "old_film_voltage" in blocks(judged(every(part(service="immersed"), procedure_volts(5000),
                                                     entry("holiday", 0, zones=["repair", "overlap", "parent"]))))


def procedure_volts(volts):
    return lambda typed: typed["job"]["procedure"]["limits"].update(
        old_film_v_max={"value": volts, "unit": "V", "source": "KBW-LP-04, clause 8.7"})


def test_film_that_no_voltage_serves_is_released_on_conditions():
    """560 µm bears 0.56 mm · 20 kV/mm · √(1000/560) · 0.5, some 7.5 kV; through 2150 µm of air a spark needs over 9 kV."""
    change = every(ENGINEER, thin_and_thick, entry("holiday", 0, zones=["repair", "overlap"]))

    assert judged(change).verdict != "released"
    assert judged(every(change, waives("spark", "parent", role=None))).outcome == "conditional"


@pytest.mark.parametrize("fact, above", [("vapour_reading", "site safety"), ("permit", "site safety"),
                                         ("decontamination", "the owner"), ("film", "the procedure"),
                                         ("identity", "laboratory")])
def test_what_is_never_waived_is_refused_with_who_stands_above_it(fact, above):
    with pytest.raises(BenchError) as caught:
        judged(every(ENGINEER, waives(fact)))

    assert caught.value.message.startswith("Stop.") and above in caught.value.message


def spark(change, zone, **given):
    typed = sheet()
    change(typed)
    return before(events_of(typed), "spark_on", at=at("12:04"), zone=zone, given=given)


def test_the_spark_goes_to_the_patch_alone_until_the_owner_writes():
    untested = every(SERVED, without("holiday"), without("release"))

    assert spark(untested, "repair").answer == "go"
    old = spark(untested, "parent")
    assert (old.answer, old.first.rule, old.first.verb, old.first.by) == ("no", "A11.8", "ask_owner", "owner")
    assert "electrode off the old film" in old.first.what
    assert spark(untested, "parent", letter="DH-26-19").answer == "go"


def test_a_lining_that_conducts_is_not_sparked_and_the_engineer_is_asked():
    found = spark(CONDUCTS, "repair")

    assert (found.answer, found.first.rule, found.first.verb) == ("no", "A11.9", "ask_engineer")


def test_what_is_accepted_untested_is_no_act_to_come():
    typed = sheet()
    every(SERVED, without("holiday"), without("release"), lambda t: t["sign"].pop(), waives("spark", clock="11:55"))(typed)
    told = may(events_of(typed), done=False)

    assert [(one.act, one.zone) for one in told.acts if one.act == "spark_on"] == [("spark_on", "repair")]
    barred = before(events_of(typed), "spark_on", at=at("12:04"), zone="overlap")
    assert (barred.answer, barred.first.state, barred.first.verb) == ("no", "waived", "stop")


def test_what_was_not_done_is_said_in_german_too():
    one = judged(OLD).not_done[0]

    assert one.said.text("de").startswith(
        "NICHT GEMACHT: Porenfreiheit des alten Films nicht geprüft: in Betrieb (Überlappung)")
    assert "Amara Okoye and Jonas Pell (owner)" in one.said
    assert "Amara Okoye und Jonas Pell (Betreiber)" in one.said.text("de")


def test_a_release_with_salts_accepted_as_not_measured_may_be_signed():
    typed = sheet()
    every(NEVER, NO_SALTS, waives("salts", clock="08:10", role=None), without("release"))(typed)
    found = before(events_of(typed), "release", at=at("12:30"))

    assert found.answer == "go"
    assert "because In acid" in judge_job(events_of(typed), estimates=False).not_done[0].said


TYPED = """
[[person]]
id = "amara"
name = "Amara Okoye"
role = "engineer"

[[waived]]
at = 2026-05-04T12:08:00Z
by = "amara"
fact = "spark"
reason = "the lining was in hydrochloric acid for three years"
replaced_by = "looked at with a 10× glass, film read on a 10 mm grid"
accepted_by = ["Jonas Pell, dosing hall"]
role = "owner"
basis = "letter KBW-26-41 of 3 May 2026"
"""


def served_folder(tmp_path, typed=TYPED):
    """The released cover as a folder, from a part that was in acid; the patch alone is sparked."""
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    folder = Path(shutil.copytree(EXAMPLES / "mixer-cover", tmp_path / "job"))
    text = (folder / "job.toml").read_text(encoding="utf-8")
    for old, new in (("last_service =", 'service = "immersed"\nlast_service ='),
                     ("passes = 1\n", 'passes = 1\nzones = ["repair"]\n')):
        assert old in text
        text = text.replace(old, new)
    (folder / "job.toml").write_text(text + typed, encoding="utf-8")
    return folder


def test_the_folder_releases_with_waivers_prints_them_on_page_one_and_verifies(tmp_path):
    folder = served_folder(tmp_path)
    ended = run("job", "run", folder, "--json")
    out = json.loads((folder / "out" / "job.json").read_text(encoding="utf-8"))
    first = PdfReader(folder / "out" / "certificate.pdf").pages[0].extract_text()

    assert (ended.returncode, out["verdict"], out["outcome"]) == (0, "released", "released_with_waivers")
    assert "Released with waivers" in first and first.count("NOT DONE: continuity of old film not tested: in service") == 1
    assert "(overlap and parent)" in first.replace("\n", " ")
    assert "Jonas Pell, dosing hall" in first
    assert verify_file(folder / "out" / "record.json")["verdict"] == "released"


def test_a_release_on_conditions_ends_with_six(tmp_path):
    folder = served_folder(tmp_path)
    typed = (folder / "job.toml").read_text(encoding="utf-8").replace("[lining]\n", "[lining]\nconductive_filler = true\n")
    start = typed.index("[[holiday]]")
    (folder / "job.toml").write_text(typed[:start] + typed[typed.index("[[sign]]", start):], encoding="utf-8")
    ended = run("job", "run", folder, "--json")

    assert (ended.returncode, json.loads(ended.stdout)["outcome"]) == (6, "conditional")
    assert verify_file(folder / "out" / "record.json")["verdict"] == "released"


def test_at_the_desk_the_engineer_writes_it_and_the_job_shows_it_to_everybody(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    body = {"fact": "bond", "reason": "no plate was made", "basis": LETTER}

    def put(n, actor, **more):
        return enter.enter(data, actor, bench.NUMBER, [{
            "id": f"{actor.device}-a1b2c3-{n}", "kind": "fact.waived", "body": body | more,
            "at": bench.at("06:50").isoformat()}], now=bench.at("06:51"))[0]

    assert put(1, bench.INES)["outcome"] == "refused"
    assert "Stop." in str(put(1, bench.AMARA, fact="permit"))
    assert put(2, bench.AMARA)["outcome"] == "stored"
    told = plain(bench.standing(data))

    assert (told["outcome"], [one["fact"] for one in told["not_done"]]) == ("held", ["bond"])
    assert told["not_done"][0]["said"].startswith(
        "NOT DONE: bond, not measured, because no plate was made; accepted by Amara Quist")
