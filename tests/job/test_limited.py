"""A part comes from service and goes back to it: what is asked before it is opened, and how long a temporary repair lasts.

Hypochlorite and acid give chlorine: from memory. Class, end and first look of a repair: own judgement.
"""

import json
import shutil
from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError
from soundedge.job.acts.before import before
from soundedge.job.acts.may import may
from soundedge.job.typed import events_of

from ..commands import run
from .sheets import EXAMPLES, blocks, sheet
from .test_gates import ENGINEER, also, at, every, judged
from .test_service import NOTHING, part, stated


def limited(clock="12:20", by="amara", days=120, **more):
    values = {"service_class": "temporary", "expires": at("00:00", days)} | more
    return also("limited", at=at(clock) if isinstance(clock, str) else clock, by=by,
                **{key: value for key, value in values.items() if value is not None})


TEMPORARY = every(ENGINEER, limited())


def asked(change, act, when, **given):
    typed = sheet()
    change(typed)
    return before(events_of(typed), act, at=when, given=given)


def test_a_part_whose_statement_is_older_than_its_last_contact_is_not_opened():
    nozzle = every(part(**NOTHING, service="in_contact", last_contact=at("00:00", -31)), stated(-37, media="hypochlorite"))
    found = asked(nozzle, "open_part", at("06:52"))

    assert (found.answer, found.first.rule, found.first.verb, found.first.by) == ("no", "A1.7", "ask_owner", "owner")
    assert "keep the part apart" in found.first.what and "clean" not in found.first.what


def test_a_rinse_that_gives_chlorine_stops_and_an_enclosed_place_asks_for_gas():
    nozzle = part(last_service="Sodium hypochlorite, 30 °C")

    assert asked(nozzle, "open_part", at("06:52"), rinse="water").answer == "go"
    acid = asked(nozzle, "open_part", at("06:52"), rinse="2 % sulphuric acid")
    assert (acid.answer, acid.first.rule, acid.first.verb) == ("no", "A1.4", "stop") and "chlorine" in acid.first.because
    close = asked(nozzle, "open_part", at("06:52"), rinse="water", place="enclosed")
    assert (close.answer, close.first.rule, close.first.verb) == ("no", "A1.3", "measure")


def test_a_part_from_service_is_opened_before_it_is_ground():
    typed = sheet()
    every(part(service="immersed"), lambda t: [t.pop(name) for name in list(t) if name not in (
        "job", "part", "lining", "person", "instrument", "lot")])(typed)

    assert may(events_of(typed), at("06:50"), done=False).next.act == "open_part"


def test_a_temporary_repair_is_another_word_and_ends_on_its_day():
    outcome = judged(TEMPORARY)

    assert (outcome.verdict, outcome.outcome, blocks(outcome)) == ("released", "temporary", [])
    assert "Out of service after" in outcome.because
    before_end = asked(TEMPORARY, "return_to_service", at("09:00", 119))
    assert (before_end.answer, before_end.until.at) == ("go", at("00:00", 120))


def test_a_temporary_repair_that_has_run_out_stays_out_of_service_however_good_it_looks():
    looked = every(TEMPORARY, also("look", at=at("10:00", 123), by="tobias", stage="end", accepted=True, seen="perfect"))
    found = asked(looked, "return_to_service", at("11:00", 124))

    assert (found.answer, found.first.rule, found.first.state, found.first.verb) == ("no", "A14.3", "dead", "stop")
    typed = sheet()
    looked(typed)
    assert may(events_of(typed), at("11:00", 124), done=False).say.startswith("Stop. The temporary repair was released until")


@pytest.mark.parametrize("look, by, answer", [(True, "amara", "go"), (False, "amara", "no"), (True, "tobias", "no")])
def test_only_a_new_look_and_the_engineer_give_it_a_new_end(look, by, answer):
    changes = [TEMPORARY]
    if look:
        changes.append(also("look", at=at("10:00", 123), by="tobias", stage="end", accepted=True))
    changes.append(limited(at("10:30", 123), by=by, days=200))

    assert asked(every(*changes), "return_to_service", at("11:00", 124)).answer == answer
    assert judged(every(*changes)).outcome == "temporary"


def test_a_release_for_one_service_only_is_conditional_and_asks_its_owner():
    only = every(ENGINEER, limited(service_class="permanent", expires=None, conditions="water up to 40 °C, no vacuum"))
    found = asked(only, "return_to_service", at("13:00"))

    assert judged(only).outcome == "conditional"
    assert (found.answer, found.first.verb) == ("go_with_warnings", "ask_owner") and "no vacuum" in found.first.because


def test_what_is_not_released_or_is_another_part_does_not_go_back():
    assert asked(lambda typed: None, "return_to_service", at("13:00"), tag="MC-7").answer == "go"
    assert asked(lambda typed: None, "return_to_service", at("13:00"), tag="MC-9").first.verb == "stop"
    assert asked(lambda typed: typed.pop("release"), "return_to_service", at("13:00")).first.fact == "release"


def test_an_end_is_named_by_the_engineer_within_what_the_procedure_allows():
    def at_most_90(typed):
        typed["job"]["procedure"]["limits"]["temporary_days_max"] = {
            "value": 90, "unit": "d", "source": "KBW-LP-04, clause 9.4"}

    assert "temporary_too_long" in blocks(judged(every(TEMPORARY, at_most_90)))
    assert "limits_by_engineer" in blocks(judged(limited(by="tobias")))
    with pytest.raises(BenchError, match="expires"):
        judged(every(ENGINEER, limited(expires=None)))


def test_the_folder_ends_with_six_and_prints_the_end_on_page_one(tmp_path):
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    folder = Path(shutil.copytree(EXAMPLES / "mixer-cover", tmp_path / "job"))
    with (folder / "job.toml").open("a", encoding="utf-8") as typed:
        typed.write('\n[[person]]\nid = "amara"\nname = "Amara Okoye"\nrole = "engineer"\n\n[[limited]]\n'
                    'at = 2026-05-04T12:20:00Z\nby = "amara"\nservice_class = "temporary"\nexpires = 2026-09-30T00:00:00Z\n')
    ended = run("job", "run", folder, "--json")
    out = json.loads(ended.stdout)

    assert (ended.returncode, out["outcome"]) == (6, "temporary")
    assert "Out of service after 00:00 UTC on 30 September 2026." in out["because"]
    asked_late = run("job", "may", folder, "--act", "return_to_service", "--at", "2026-10-04T09:00:00Z").stdout.decode()
    assert asked_late.startswith("Stop.") and "reline" in asked_late
