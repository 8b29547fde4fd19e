"""What the model said of a heat plan stays with its entry: written by folder and desk, read by page, certificate and verify."""

import json
import lzma
import threading
from pathlib import Path

import pytest

from soundedge.heat import answers as room
from soundedge.job import edition
from soundedge.job.judge import judge_job
from soundedge.job.steps.heat import NOT_RECORDED
from soundedge.record.verify import verify
from soundedge.services.ask import ask
from soundedge.services.desk import enter, heat_plan, issue, jobs
from soundedge.services.desk.state import state
from soundedge.services.evidence.records import events_in, replayed
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.job import run_job

from ..hand import copied
from .desk import bench
from .desk.bench import INES, NUMBER, at
from .shopfloor import later

ROOT = Path(__file__).parents[2]
GOLDEN = ROOT / "tests" / "record" / "golden"
GUN = {"power_w": 2000, "air_c": 500, "outlet_mm": 34, "distance_mm": 60}
PLAN = {"gun": GUN, "part_start_c": 150, "ambient_c": 21, "back": "free"}


@pytest.fixture(scope="module")
def cover(tmp_path_factory):
    """The mixer cover run from its folder; its folder beside it."""
    base = tmp_path_factory.mktemp("cover")
    copied(ROOT / "examples" / "mixer-cover", base / "mixer-cover")
    copied(ROOT / "examples" / "procedures", base / "procedures")
    run_job(base / "mixer-cover", base / "out", now=later(0))
    return base


@pytest.fixture
def data(tmp_path, monkeypatch):
    found = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(found)
    monkeypatch.setattr(heat_plan, "ESTIMATE_WAIT_S", 60)  # a busy machine is no fault of the entry's
    return found


@pytest.fixture
def no_model(monkeypatch):
    def refuse(*asked, **how):
        raise AssertionError("the heat model was asked anew")

    monkeypatch.setattr("soundedge.heat.estimate.estimate", refuse)
    with pytest.raises(AssertionError, match="asked anew"):
        ask("heat", {"part": {"plate_mm": 12}, "lining": {"polymer": "ectfe", "thickness_mm": 1}, "gun": GUN})


def planned(raw):
    return next(entry for entry in verify(raw).entries() if entry.kind == "heat.planned")


def record(data, body, name="d1-a1b2c3-1"):
    taken = enter.enter(data, INES, NUMBER, [
        {"id": name, "kind": "heat.planned", "at": at("08:00").isoformat(), "body": body}], now=at("08:01"))[0]
    return taken, state(data, NUMBER).outcome.job.last("heat.planned")


def test_the_folder_writes_down_what_the_model_said_and_says_it_everywhere(cover, no_model):
    raw = (cover / "out" / "record.json").read_bytes()
    told = json.loads((cover / "out" / "job.json").read_text())["steps"]["heat"]["answers"][0]

    kept = planned(raw).body["estimate"]

    assert kept["model"] == room.MODEL and set(kept) >= {
        "gloss_at_s", "gloss_bond_c", "bond_reaches_fusion", "band_pct", "cool_to_touch_s", "verdict", "because"}
    assert float(kept["gloss_bond_c"]) == told["gloss_bond_c"] and kept["verdict"] == told["verdict"]
    again = replayed(raw, estimates=True).outcome
    assert again.steps["heat"].answers[0] == told and set(told["cautions"]) <= set(again.steps["heat"].cautions)
    assert verify_file(cover / "out" / "record.json")["verdict"] == "released"
    assert verify_file(cover / "out" / "certificate.pdf")["verdict"] == "released"


def test_the_certificate_prints_it(cover):
    from pypdf import PdfReader

    printed = " ".join(page.extract_text() for page in PdfReader(cover / "out" / "certificate.pdf").pages)

    assert f"estimate ({room.MODEL}," in " ".join(printed.split())


def test_run_again_the_same_job_keeps_its_estimate_and_its_bytes(cover, tmp_path, no_model):
    copied(cover, tmp_path / "cover")
    before = (tmp_path / "cover" / "out" / "record.json").read_bytes()

    run_job(tmp_path / "cover" / "mixer-cover", tmp_path / "cover" / "out", now=later(9))

    assert (tmp_path / "cover" / "out" / "record.json").read_bytes() == before


def test_of_an_older_record_it_is_said_that_nothing_was_recorded(no_model, monkeypatch):
    monkeypatch.setattr(edition, "RULES_EDITION", 1)  # a record of its own edition is judged again
    held = replayed(lzma.decompress((GOLDEN / "mixer-cover.json.xz").read_bytes()), estimates=True)

    heat = held.outcome.steps["heat"]

    assert NOT_RECORDED in heat.cautions and all("log" in asked for asked in heat.asked)


def test_what_a_page_has_shown_is_recorded_with_the_plan_and_asks_no_model(data, monkeypatch):
    """A browser writes whole numbers without a point; it is the same question all the same."""
    asked = json.loads(json.dumps(heat_plan.request_of(state(data, NUMBER).outcome) | PLAN))
    answer = ask("heat", asked)
    heat_plan.shown(asked, answer)
    monkeypatch.setattr(heat_plan, "_estimate", lambda asked: pytest.fail("asked again"))

    taken, event = record(data, PLAN)

    assert taken["outcome"] == "stored" and event.body.estimate.gloss_bond_c == pytest.approx(answer["gloss_bond_c"])
    assert record(data, PLAN)[0]["outcome"] == "duplicate"


def test_an_entry_is_not_held_up_by_the_model(data, monkeypatch):
    enough = threading.Event()
    monkeypatch.setattr(heat_plan, "ESTIMATE_WAIT_S", 0.05)
    monkeypatch.setattr(heat_plan, "_estimate", lambda asked: enough.wait(60))
    try:
        taken, event = record(data, PLAN | {"ambient_c": 11})
        assert not enough.is_set()  # the answer was not waited for
    finally:
        enough.set()

    assert taken["outcome"] == "stored" and event.body.estimate is None
    monkeypatch.setattr(heat_plan, "_estimate", lambda asked: pytest.fail("a plan that is there is not estimated later"))
    assert record(data, PLAN | {"ambient_c": 11})[0]["outcome"] == "duplicate"


def test_nobody_sends_an_estimate(data):
    taken, event = record(data, PLAN | {"estimate": {"model": "mine"}})

    assert taken["outcome"] == "refused" and "written by the bench itself" in taken["error"]["message"] and event is None


def test_a_corrected_plan_has_no_estimate_any_more(data):
    reaches = {"gun": {"power_w": 3000, "air_c": 500, "outlet_mm": 34, "distance_mm": 50}, "part_start_c": 180, "ambient_c": 20,
               "back": "second_gun"}  # what never reaches holds the job, and the engineer alone corrects what holds it
    _, event = record(data, reaches)
    assert event.body.estimate is not None

    enter.correct(data, INES, NUMBER, {"entry": event.id, "field": "gun.air_c", "old": 500, "new": 480,
                                       "because": "read off the wrong line"}, id="d1-a1b2c3-2", at=at("08:10"),
                  on_head=jobs.head(data, NUMBER), now=at("08:10"))

    held = state(data, NUMBER).outcome
    assert held.job.last("heat.planned").body.estimate is None and NOT_RECORDED in held.steps["heat"].cautions


def test_a_certificate_of_the_desk_asks_no_model(data, monkeypatch):
    bench.play(data)
    kept = state(data, NUMBER).outcome.job.last("heat.planned").body.estimate

    monkeypatch.setattr("soundedge.heat.estimate.estimate", lambda *a, **k: pytest.fail("asked anew"))
    sealed = issue.certificate(data, NUMBER, now=at("12:40"))

    assert kept is not None and sealed.pdf[:5] == b"%PDF-"
    entries = list(verify(jobs.record(data, NUMBER)).entries())
    assert judge_job(events_in(entries), from_record=True).steps["heat"].answers[0]["gloss_bond_c"] == kept.gloss_bond_c
