"""How a job stands: a path that leads through the trade in its order, and never stops being readable."""

from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError, Conflict, Contradiction, Missing, Refused, Unknown, Unreadable
from soundedge.services.desk import board, enter, issue, jobs
from soundedge.services.desk import register as reg
from soundedge.services.desk.state import STEPS, plain, state
from soundedge.services.evidence.ledger_place import open_ledger

from . import bench
from .bench import AMARA, INES, NORA, NUMBER, ODILE, at, standing

WORDS = ("done", "next", "open", "holds", "not_needed")


@pytest.fixture
def data(tmp_path, monkeypatch):
    return bench.a_shop(tmp_path, monkeypatch)


def put(data, kind, body, when="07:00", number=1, by=INES):
    said = {"id": f"d1-cccccc-{number}", "kind": kind, "at": at(when).isoformat(), "body": body}
    return enter.enter(data, by, NUMBER, [said], now=at("08:00"))[0]


def test_a_job_just_opened_has_a_path_and_asks_for_the_damage(data):
    bench.opened(data)

    held = standing(data)

    assert [step.name for step in held.path] == list(STEPS)
    assert {step.status for step in held.path} <= set(WORDS)
    assert held.next_step == "survey" and "Outline it" in held.next_move
    assert held.outcome.verdict == "held" and held.gaps == [] and held.restored == []
    assert [step.status for step in held.path].count("next") == 1
    assert state(data, NUMBER, estimates=True).outcome.verdict == "held"


def test_reason_and_next_move_speak_of_the_same_step(data):
    bench.opened(data)
    put(data, "damage.outlined", {"id": "A", "stage": "as_found", "circle_mm": {"x": 0, "y": 0, "d": 20}}, by=INES)

    held = standing(data)
    here = next(step for step in held.path if step.name == held.next_step)
    assert held.because in {block.because for block in here.blocks} | {here.because, ""}
    assert held.because or held.next_move
    (line,) = board.listed(data)
    assert line.next_step == held.next_step and line.because == (held.because or held.next_move)


def test_the_next_step_leads_through_the_day_in_the_order_of_the_trade(data):
    """Whoever does only what the path says next comes to a release; no step is named before its time."""
    bench.opened(data)
    seen = [standing(data).next_step]
    numbers = {}
    for when, by, kind, body in bench.steps():
        device = bench.who(by).device
        numbers[device] = numbers.get(device, 0) + 1
        bench.do(data, when, by, kind, body, numbers[device])
        held = standing(data)
        if held.next_step != seen[-1]:
            seen.append(held.next_step)

    assert seen[0] == "survey" and seen[-1] == ""
    order = [
        seen.index(name)
        for name in (
            "survey",
            "conditions",
            "hold_points",
            "hazards",
            "buildup",
            "thickness",
            "instruments",
            "holiday",
            "release",
        )
    ]
    assert order == sorted(order)
    assert all(step.status in ("done", "not_needed") for step in standing(data).path)


def test_no_layer_is_named_next_before_the_hold_points_are_signed(data):
    bench.opened(data)
    bench.play(data, upto=8, skip=lambda kind, body: kind == "hold_point.signed")
    held = standing(data)

    assert held.next_step == "hold_points" and "disposition" in held.next_move


def test_two_readings_of_one_moment_hold_the_job_and_the_engineer_voids_one(data):
    """What contradicts itself came from two tablets; nobody may be left without a page for it."""
    bench.opened(data)
    put(data, "air.read", {"air_c": 20, "rh_pct": 50, "steel_c": 19}, number=1)
    put(data, "air.read", {"air_c": 21, "rh_pct": 51, "steel_c": 19}, number=2)

    step = next(one for one in standing(data).path if one.name == "conditions")

    assert step.status == "holds" and "same moment" in step.because
    assert issue.certificate(data, NUMBER, now=at("09:00")).pdf[:4] == b"%PDF"
    body = {"entry": "d1-cccccc-2", "because": "the same reading twice, read wrongly"}
    enter.void(data, AMARA, NUMBER, body, id="v-1", at=at("09:00"), on_head=jobs.head(data, NUMBER), now=at("09:00"))
    assert next(one for one in standing(data).path if one.name == "conditions").status != "holds"
    row = next(row for row in standing(data).events if row["id"] == "d1-cccccc-2")
    assert row["voided"]["by_name"] == "Amara Quist" and row["because"] == body["because"]


ODD = [
    ("layer.fused", {"number": 7, "lot": "P-311"}),
    ("film.measured", {"instrument": "G7", "spots": [{"id": "s", "readings_um": [0]}]}),
    ("holiday.tested", {"instrument": "HD3", "voltage_v": 60000, "grounded": False}),
    ("film.cooled", {"film_c": 400}),
    ("heat.planned", {"gun": {"power_w": 51, "air_c": 31, "outlet_mm": 3, "distance_mm": 1000}}),
    ("heat.logged", {"readings": []}),
    ("heat.logged", {"readings": [{"time_s": 9, "reading_c": 20, "aimed_at": "polymer"}] * 2}),
    ("surface.checked", {}),
    ("surface.checked", {"salt_us_cm": 1}),
    ("solvent.used", {"solvent": "ditchwater", "ml": 1, "space_l": 1}),
    ("vapour.read", {"lel_pct": 100}),
    ("permit.issued", {"number": "1", "until": "2020-01-01T00:00:00Z"}),
    ("hot_work.ended", {"fire_watch_until": "2020-01-01T00:00:00Z", "watched_by": "ines"}),
    ("gauge.checked", {"instrument": "G7", "reference_um": 1, "reading_um": 50000}),
    ("damage.outlined", {"id": "A", "stage": "as_prepared", "ellipse_mm": {"x": 0, "y": 0, "a": 1, "b": 1}}),
    ("damage.outlined", {"id": "B", "stage": "as_found", "kind": "crack", "outline_mm": [[0, 0], [1, 0], [2, 0]]}),
    ("repair.recalled", {"job": "old", "x": 0, "y": 0, "d": 1, "months_ago": 0}),
]


@pytest.mark.parametrize(("kind", "body"), ODD)
def test_whatever_is_recorded_the_job_can_be_read_and_its_notice_set(data, kind, body):
    bench.opened(data)
    put(data, kind, body)

    for estimates in (False, True):
        held = state(data, NUMBER, estimates=estimates)
        assert held.outcome.verdict != "released" and plain(held)["next_step"] == held.next_step


def test_all_odd_things_together_can_be_read_too(data):
    bench.opened(data)
    for number, (kind, body) in enumerate(ODD, 1):
        put(data, kind, body, when=f"07:{number:02d}", number=number)

    assert state(data, NUMBER, estimates=True).outcome.verdict != "released"


def test_the_state_is_judged_once_for_each_head_and_anew_when_it_moves(data, monkeypatch):
    from soundedge.services.desk import state as module

    bench.opened(data)
    count = []
    real = module.as_it_stands
    monkeypatch.setattr(module, "as_it_stands", lambda *a, **k: count.append(1) or real(*a, **k))
    for _ in range(5):
        standing(data)
    assert len(count) <= 1
    put(data, "film.cooled", {"film_c": 20})

    standing(data)

    assert 1 <= len(count) <= 2


def test_two_shops_of_one_machine_are_told_apart(tmp_path, monkeypatch):
    one, other = bench.a_shop(tmp_path / "a", monkeypatch), bench.a_shop(tmp_path / "b", monkeypatch)
    bench.opened(one)

    with pytest.raises(Unknown):
        standing(other)
    assert standing(one).number == NUMBER


def test_the_board_lists_every_job_with_its_next_step(data):
    bench.opened(data)
    bench.opened(data, "KBW-2026-015")
    bench.play(data)

    lines = {line.number: line for line in board.listed(data)}

    assert set(lines) == {NUMBER, "KBW-2026-015"}
    assert (lines[NUMBER].verdict, lines[NUMBER].next_step) == ("released", "")
    assert (lines["KBW-2026-015"].verdict, lines["KBW-2026-015"].next_step) == ("held", "survey")
    assert lines[NUMBER].part == "mixer cover" and lines[NUMBER].tag == "MC-7" and lines[NUMBER].polymer == "ectfe"
    assert lines[NUMBER].as_plain()["head"] == jobs.head(data, NUMBER)


# ------------------------------------------------------------------ opening


def test_the_same_opening_twice_is_one_job_and_a_taken_number_a_conflict(data):
    first = bench.opened(data)
    again = jobs.open_job(data, ODILE, bench.opening(), id=f"open-{NUMBER}", now=at("07:40"))

    assert first == again == NUMBER and len(board.listed(data)) == 1
    with pytest.raises(Conflict):
        jobs.open_job(data, ODILE, bench.opening(), id="another", now=at("07:41"))
    with pytest.raises(Conflict):
        jobs.open_job(data, ODILE, bench.opening(site="elsewhere"), id=f"open-{NUMBER}", now=at("07:41"))


def test_a_job_is_opened_only_under_a_procedure_that_two_people_stand_for(data):
    reg.propose_procedure(
        data,
        AMARA,
        bench.PROCEDURE.replace('"KBW-LP-04"', '"KBW-LP-09"'),
        because="for the thin covers",
        id="lp09",
        now=at("06:30"),
    )

    for name, error in (("KBW-LP-09", Refused), ("lp09", Refused), ("nothing", Unknown), (None, Unknown), (7, Unknown)):
        with pytest.raises(error) as fault:
            jobs.open_job(data, ODILE, bench.opening(procedure=name), id="o", now=at("06:40"))
        assert fault.value.field == "procedure"
    reg.withdraw_procedure(data, ODILE, "lp04-1", because="replaced by the next one", now=at("06:35"))
    with pytest.raises(Refused) as fault:
        bench.opened(data)
    assert "withdrawn" in fault.value.message


def test_the_whole_procedure_stands_in_the_job_with_the_digest_of_its_text(data):
    import hashlib

    bench.opened(data)
    opened = standing(data).outcome.job.the("job.opened")

    assert opened.procedure_sha256 == hashlib.sha256(bench.PROCEDURE.encode()).hexdigest()
    assert standing(data).outcome.case.procedure.value("bare_area_mm2_max") == reg.register(data).revisions[
        "lp04-1"
    ].procedure.value("bare_area_mm2_max")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"number": "a/b"}, "number"),
        ({"number": "shop"}, "number"),
        ({"number": "SHOP"}, "number"),
        ({"number": "con"}, "number"),
        ({"number": "KBW-7."}, "number"),
        ({"part": bench.opening()["part"] | {"tag": "NUL"}}, "tag"),
        ({"number": ""}, "number"),
        ({"site": 7}, "site"),
        ({"part": {}}, "part.name"),
        ({"lining": {"polymer": "wax", "thickness_um": 1}}, "lining.polymer"),
        ({"colour": "red"}, "colour"),
        ({"part": "cover"}, "part"),
    ],
)
def test_an_opening_that_cannot_be_is_refused_by_name(data, change, field):
    with pytest.raises(BenchError) as fault:
        jobs.open_job(data, ODILE, bench.opening(**change), id="o", now=at("06:40"))

    assert fault.value.field == field
    assert board.listed(data) == []


def test_a_job_or_part_that_is_another_in_capitals_is_not_opened(data):
    part = bench.opening()["part"]
    bench.opened(data)
    for change, field in (({"number": NUMBER.lower()}, "number"), ({"part": part | {"tag": part["tag"].lower()}}, "tag")):
        with pytest.raises(Contradiction) as refused:
            jobs.open_job(data, ODILE, bench.opening("KBW-2026-902") | change, id="o", now=at("07:00"))
        assert refused.value.field == field
    assert jobs.open_job(data, ODILE, bench.opening("KBW-2026-903"), id="p", now=at("07:01")) == "KBW-2026-903"


def test_what_is_missing_in_an_opening_is_named(data):
    for key in ("number", "site", "procedure", "part", "lining"):
        given = bench.opening()
        del given[key]
        with pytest.raises(Missing) as fault:
            jobs.open_job(data, ODILE, given, id="o", now=at("06:40"))
        assert fault.value.field == key
    with pytest.raises(Unreadable):
        jobs.open_job(data, ODILE, bench.opening(), id="", now=at("06:40"))


def test_an_inspector_and_an_auditor_open_no_job(data):
    for actor in (bench.TOBIAS, NORA):
        with pytest.raises(Refused):
            jobs.open_job(data, actor, bench.opening(), id="o", now=at("06:40"))


# ------------------------------------------------------------------ restores


def test_a_restore_that_two_people_declared_since_the_job_was_opened_stands_on_its_page(data, tmp_path):
    import io

    from pypdf import PdfReader

    from soundedge.record.checkpoint import Checkpoint
    from soundedge.services.desk.shop_place import shop_key_folder
    from soundedge.services.evidence import keyring
    from soundedge.services.evidence.shop_chain import declare_restored

    bench.opened(data)
    who = [(name, bench.WORDS[name]) for name in ("odile", "amara")]
    with open_ledger(data, make=False) as ledger:
        declare_restored(
            ledger,
            keyring.load(shop_key_folder(data)),
            who,
            "the disk of the bench machine died",
            size=ledger.size(),
            contradicted=[("usb stick", Checkpoint("lining-shop.soundedge.invalid/ledger", ledger.size() + 3, bytes(32)))],
            now=at("07:00"),
        )
    jobs.open_job(data, ODILE, bench.opening("KBW-2026-015"), id="later", now=at("07:10"))

    (sentence,) = standing(data).restored

    assert "3 later entries are lost" in sentence and "the disk of the bench machine died" in sentence
    assert standing(data, "KBW-2026-015").restored == []
    text = "".join(
        page.extract_text() for page in PdfReader(io.BytesIO(issue.certificate(data, NUMBER, now=at("09:00")).pdf)).pages
    )
    assert "Ledger restored" in text and "3 later entries are lost" in " ".join(text.split())


def test_the_keys_of_a_shop_lie_in_a_folder_of_its_own(data, tmp_path, monkeypatch):
    from soundedge.services.desk.shop_place import new_shop, shop_data, shop_key_folder

    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "k"))
    assert shop_key_folder(Path("/x/shops/one")) == tmp_path / "k" / "one"
    assert shop_key_folder(Path("/x/one")) == tmp_path / "k"
    with pytest.raises(Unreadable):
        new_shop(tmp_path / "root", "aux", "Kelderbeck Basin Works, aux yard", at("06:00"))
    assert not (tmp_path / "root").exists()
    for slug in ("", "a", "A-b", "../x", "a" * 41, "ä", "a/b", None, "a\n"):
        with pytest.raises(Unreadable):
            shop_data(tmp_path, slug)
    made = new_shop(tmp_path / "root", "north-yard", "Kelderbeck Basin Works, north yard", at("06:00"))
    assert made == tmp_path / "root" / "shops" / "north-yard" and (tmp_path / "k" / "north-yard" / "log.key").exists()
    with pytest.raises(Conflict):
        new_shop(tmp_path / "root", "north-yard", "again", at("06:00"))
