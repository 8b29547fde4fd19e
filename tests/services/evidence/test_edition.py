"""A record names the rules it is judged by: what of it is checked by a program that judges by others, on every way in?"""

import lzma
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from soundedge.basis.errors import Contradiction, RecordBroken, Refused, Unknown
from soundedge.cli.bench import run
from soundedge.job import edition
from soundedge.job.judge import judge_job
from soundedge.job.step import Block
from soundedge.record.entry import Said
from soundedge.record.verify import verify
from soundedge.record.write import write
from soundedge.services.desk import enter, issue, jobs, kept
from soundedge.services.desk.state import plain, state
from soundedge.services.evidence import records
from soundedge.services.evidence.keep_job import exported
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.newer_entries import since
from soundedge.services.evidence.records import replayed
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.job import run_job, show_job

from ...hand import copied
from ..desk import bench
from ..desk.bench import NUMBER, at, play
from ..shopfloor import later

EXAMPLES = Path(__file__).parents[3] / "examples"
GOLDEN = Path(__file__).parents[2] / "record" / "golden"
NOW, THEN = edition.RULES_EDITION, edition.RULES_EDITION + 1
ONE = f"It was judged by rules edition {NOW}; judging again needs version {edition.PROGRAM[NOW]} of this program."
FIRST = "It was judged by rules edition 1; judging again needs version 0.1 of this program."


@pytest.fixture
def second(monkeypatch):
    """From here on the rules of today are the next edition."""

    def begin(strict=False):
        monkeypatch.setattr(edition, "RULES_EDITION", THEN)
        monkeypatch.setattr(edition, "PROGRAM", edition.PROGRAM | {THEN: "0.99"})
        _forget()
        if strict:
            monkeypatch.setattr(records, "judge_job", _stricter)

    return begin


def _stricter(events, **how):
    """Rules under which no job is released."""
    outcome = judge_job(events, **how)
    block = Block("release", "made_up", "A rule of the next edition asks for more.", "Ask.", "test")
    return replace(outcome, verdict="held", because=block.because, blocked_by=[*outcome.blocked_by, block])


@pytest.fixture(scope="module")
def nozzle(tmp_path_factory):
    """A held job, run once; its folder of examples beside it."""
    base = tmp_path_factory.mktemp("nozzle")
    copied(EXAMPLES / "dosing-nozzle", base / "dosing-nozzle")
    copied(EXAMPLES / "procedures", base / "procedures")
    run_job(base / "dosing-nozzle", base / "out", now=later(0))
    return base


def bodies(raw, kind):
    return [entry.body for entry in verify(raw).entries() if entry.kind == kind]


def rewritten(raw, change):
    """The record as somebody else would have written it: each entry's body as ``change(kind, body)`` gives it."""
    entries = list(verify(raw).entries())
    facts = [Said(e.id, e.kind, e.by, e.at, change(e.kind, dict(e.body))) for e in entries]
    return write(entries[0].job, facts, now=later(0)).raw


def told(raw, tmp_path):
    (tmp_path / "record.json").write_bytes(raw)
    return verify_file(tmp_path / "record.json")


def test_a_job_folder_writes_down_edition_and_program(nozzle):
    raw = (nozzle / "out" / "record.json").read_bytes()

    (opened,), (judged,) = bodies(raw, "job.opened"), bodies(raw, "job.judged")

    assert opened["rules"] == judged["rules"] == edition.RULES_EDITION
    assert re.fullmatch(r"\d+\.\d+\.\d+", opened["program"]) and opened["program"].startswith(
        edition.PROGRAM[edition.RULES_EDITION])


def test_every_edition_up_to_the_present_names_its_program():
    assert sorted(edition.PROGRAM) == list(range(1, edition.RULES_EDITION + 1))


@pytest.mark.parametrize("key, value", [("rules", 1), ("program", '"9.9"')])
def test_nobody_types_them_on_a_sheet(nozzle, tmp_path, key, value):
    for name in ("dosing-nozzle", "procedures"):
        copied(nozzle / name, tmp_path / name)
    sheet = tmp_path / "dosing-nozzle" / "job.toml"
    sheet.write_text(sheet.read_text().replace("[job]", f"[job]\n{key} = {value}", 1))

    with pytest.raises(Unknown, match="written by the bench itself"):
        run_job(tmp_path / "dosing-nozzle", tmp_path / "out", now=later(0))


def test_nobody_corrects_them(nozzle, tmp_path):
    for name in ("dosing-nozzle", "procedures"):
        copied(nozzle / name, tmp_path / name)
    sheet = tmp_path / "dosing-nozzle" / "job.toml"
    sheet.write_text(sheet.read_text() + """
[[correction]]
at = 2031-05-04T12:00:00Z
by = "ines"
entry = "job"
field = "rules"
old = 1
new = 2
because = "another edition would be kinder"
""")

    with pytest.raises(Contradiction, match="written by the bench itself"):
        run_job(tmp_path / "dosing-nozzle", tmp_path / "out", now=later(0))


def test_a_record_of_the_present_edition_is_judged_again(nozzle, tmp_path):
    raw = (nozzle / "out" / "record.json").read_bytes()

    assert "Judged again by the procedure inside it" in told(raw, tmp_path)["sentence"]
    wrong = rewritten(raw, lambda kind, body: body | {"verdict": "rejected"} if kind == "job.judged" else body)
    with pytest.raises(RecordBroken, match="the rules give held"):
        told(wrong, tmp_path)


@pytest.mark.parametrize("absent", [False, True])
def test_a_record_of_an_older_edition_is_checked_for_everything_else(nozzle, tmp_path, second, absent, capsys):
    """Also one of before there were editions: without the key it is the first."""
    raw = (nozzle / "out" / "record.json").read_bytes()
    if absent:
        raw = rewritten(raw, lambda kind, body: {k: v for k, v in body.items() if k not in ("rules", "program")})
    second()

    said = told(raw, tmp_path)

    one = FIRST if absent else ONE
    assert one in said["sentence"] and "Judged again" not in said["sentence"] and said["verdict"] == "held"
    assert run(["verify", str(tmp_path / "record.json")]) == 0
    assert one in capsys.readouterr().out
    assert show_job(tmp_path / "record.json")["because"] == one
    bad = bytearray(raw)
    bad[len(raw) // 2] ^= 1
    with pytest.raises(RecordBroken):
        told(bytes(bad), tmp_path)
    unreadable = rewritten(raw, lambda kind, body: body | {"made_up": 1} if kind == "part.identified" else body)
    with pytest.raises(RecordBroken, match="does not say what its kind must say"):
        told(unreadable, tmp_path)


def test_a_record_of_a_newer_edition_needs_a_newer_program_and_is_checked_for_everything_else(nozzle, tmp_path):
    """It may hold kinds and keys that are not known here."""
    raw = (nozzle / "out" / "record.json").read_bytes()
    newer = rewritten(raw, lambda kind, body: body | ({"rules": 7} if kind in ("job.opened", "job.judged") else {"new": 1}))

    said = told(newer, tmp_path)

    assert f"judged by rules edition 7, and this program knows editions up to {NOW}: judging again needs a newer version" in (
        said["sentence"])
    assert said["verdict"] == "held" and replayed(newer).outcome is None


@pytest.mark.parametrize("opened, judged", [(3, 2), (2, 1), ("2", 2), (0, 1), (True, 1)])
def test_no_judgement_is_of_an_earlier_edition_than_its_job(nozzle, tmp_path, opened, judged):
    raw = (nozzle / "out" / "record.json").read_bytes()
    wrong = rewritten(raw, lambda kind, body: body | (
        {"rules": opened} if kind == "job.opened" else {"rules": judged} if kind == "job.judged" else {}))

    with pytest.raises(RecordBroken, match="names rules edition"):
        told(wrong, tmp_path)


def test_duties_are_replayed_in_a_release_of_an_older_edition(tmp_path, second):
    """No edition of the rules lets somebody release their own work."""
    raw = lzma.decompress((GOLDEN / "mixer-cover.json.xz").read_bytes())
    entries = list(verify(raw).entries())
    releaser = next(entry.by for entry in entries if entry.kind == "release.signed")
    own = write(entries[0].job, [Said(e.id, e.kind, releaser if e.kind == "layer.fused" else e.by, e.at, e.body)
                                 for e in entries], now=later(0)).raw
    second(strict=True)

    assert f"{FIRST} Rules R1, R2, R3, R4, R5, R7 were kept" in told(raw, tmp_path)["sentence"]
    with pytest.raises(RecordBroken, match="Rule R1 was not kept"):
        told(own, tmp_path)


def test_an_open_job_of_an_older_edition_goes_on_and_its_new_judgement_says_by_which_rules(nozzle, tmp_path, second):
    """The ledger keeps what opened it; the whole log holds, with one judgement of each edition in it."""
    data = tmp_path / "data"
    run_job(nozzle / "dosing-nozzle", tmp_path / "out", data=data, now=later(0))
    second()

    run_job(nozzle / "dosing-nozzle", tmp_path / "out", data=data, now=later(5))

    raw = exported(data, "KBW-2026-019")
    assert bodies(raw, "job.opened")[0]["rules"] == NOW
    assert [body["rules"] for body in bodies(raw, "job.judged")] == [NOW, THEN]
    assert "Judged again by the procedure inside it" in told(raw, tmp_path)["sentence"]


def test_a_release_of_an_older_edition_stands_at_the_desk_until_something_comes_in(tmp_path, monkeypatch, second):
    """Its certificate is handed out as it was issued, nothing judges it again, and the page says by which rules it was."""
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    play(data)
    before = issue.certificate(data, NUMBER, now=at("12:40"))
    head = jobs.head(data, NUMBER)
    assert plain(state(data, NUMBER))["rules"] == ""
    second(strict=True)
    _forget()

    held = state(data, NUMBER)

    assert (held.verdict, held.outcome.because) == ("released", ONE)
    assert held.rules.startswith(ONE) and held.next_step == ""
    assert issue.made(data, NUMBER, now=at("12:50"))
    assert issue.at_hand(data, NUMBER, now=at("12:50")).pdf == before.pdf
    with pytest.raises(Refused, match="released by another edition of the rules"):
        issue.certificate(data, NUMBER, now=at("12:50"))
    assert jobs.head(data, NUMBER) == head
    (tmp_path / "certificate.pdf").write_bytes(before.pdf)
    assert ONE in verify_file(tmp_path / "certificate.pdf")["sentence"]
    with open_ledger(data, make=False) as ledger:
        raw = bytes(ledger.record(NUMBER).raw)
    digests = [entry.digest for entry in verify(raw).entries()]
    assert since(data, NUMBER, digests).counts is True

    air = next(entry for entry in verify(raw).entries() if entry.kind == "air.read")
    enter.correct(data, bench.AMARA, NUMBER, {"entry": air.id, "field": "rh_pct", "old": air.body["rh_pct"], "new": "53",
                                              "because": "read off the wrong line"}, id="d1-a1b2c3-901", at=at("13:00"),
                  on_head=head, now=at("13:00"))

    opened = state(data, NUMBER)
    assert opened.verdict == "held" and opened.rules.startswith(f"Opened under rules edition {NOW}")
    assert since(data, NUMBER, digests).counts is False
    assert issue.at_hand(data, NUMBER, now=at("13:01")) is None


def test_an_open_job_at_the_desk_says_by_which_rules_it_is_judged(tmp_path, monkeypatch, second):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    second()

    assert state(data, NUMBER).rules == f"Opened under rules edition {NOW}; while it is open it is judged by edition {THEN}."
    assert jobs.open_job(data, bench.ODILE, bench.opening(NUMBER), id=f"open-{NUMBER}", now=at("06:40")) == NUMBER
    play(data, skip=lambda kind, body: False)  # now, by the rules of now: not as another test has played it
    sealed = issue.certificate(data, NUMBER, now=at("12:40"))
    (tmp_path / "certificate.pdf").write_bytes(sealed.pdf)
    raw = jobs.record(data, NUMBER)
    assert bodies(raw, "job.opened")[0]["rules"] == NOW and bodies(raw, "job.judged")[-1]["rules"] == THEN
    assert "Judged again by the procedure inside it is what it says: released" in verify_file(
        tmp_path / "certificate.pdf")["sentence"]


def _forget():
    """The bench was started anew, as with any new version."""
    kept.forget()


def test_the_twenty_seventh_page_after_a_release_goes_on_with_two_letters():
    number, released = "KBW-2026-040", {"verdict": "released", "certificate": "KBW-2026-040-Z"}
    job = SimpleNamespace(the=lambda kind: SimpleNamespace(number=number))
    outcome = SimpleNamespace(verdict="released", outcome="released", blocked_by=[], job=job)
    said = {n: records.next_judgement([SimpleNamespace(body=released)] * n, outcome, now=at("12:00")) for n in (0, 1, 26, 27)}

    assert [said[n].body["certificate"] for n in said] == [number, f"{number}-A", f"{number}-Z", f"{number}-AA"]
    assert said[0].id == "judged-1" and said[27].id == "judged-28" and said[27].body["supersedes"] == f"{number}-Z"
    assert "supersedes" not in said[0].body
