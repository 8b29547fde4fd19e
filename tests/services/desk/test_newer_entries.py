"""Is a page of a job that was changed after its release told apart from one that still counts?"""

import json
import subprocess

import pytest

from soundedge.cli.bench import run
from soundedge.services.desk import enter, issue, jobs
from soundedge.services.desk.verify_upload import check_bytes
from soundedge.services.evidence.newer_entries import since, since_issued
from soundedge.services.evidence.verify import verify_file

from ...hand import copied
from . import bench
from .bench import JONAS, NUMBER, TOBIAS, at
from .test_sign import correct, entry_of, put


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """A bench after the day, and the page of its release: made once, copied for each test."""
    base = tmp_path_factory.mktemp("played")
    with pytest.MonkeyPatch.context() as patch:
        data = bench.a_shop(base, patch)
        bench.opened(data)
        bench.play(data)
        page = issue.certificate(data, NUMBER, now=at("12:40"))
    bench.put_down(data)
    return base / "bench", page


@pytest.fixture
def data(played, tmp_path, monkeypatch):
    base = copied(played[0], tmp_path / "bench")
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(base / "keys"))
    return base / "shops" / "lining-shop"


@pytest.fixture
def released(played):
    """The page of the release, before anything came after it."""
    return played[1]


def corrected(data):
    correct(data, JONAS, entry_of(data, "air.read"), "air_c", 19.8, 19.9, "12:50")


def code_on(pdf, folder):
    """The square code, read from the printed page by an independent reader."""
    cv2 = pytest.importorskip("cv2")
    (folder / "page.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "200", "-gray", "-png", str(folder / "page.pdf"), str(folder / "page")], check=True)
    files = sorted(folder.glob("page*.png"), reverse=True)  # it stands on the last page
    read = (cv2.QRCodeDetectorAruco().detectAndDecode(cv2.imread(str(file)))[0] for file in files)
    return next(text for text in read if text)


def test_a_release_counts_until_something_comes_after_it(data, released):
    before = check_bytes(data, released.pdf, "page.pdf")
    assert before["counts"] is True and "holds nothing later of job" in before["sentence"]

    corrected(data)

    after = check_bytes(data, released.pdf, "page.pdf")
    assert after["counts"] is False and after["verdict"] == "released"  # what the file says; and what counts now:
    assert after["sentence"].startswith("It does not count any more: since it was made, ")
    assert "entry corrected, by Jonas Feld" in after["sentence"] and "is now HELD" in after["sentence"]
    assert "replaced since" not in after["sentence"]


def test_the_page_that_counts_now_is_named(data, released):
    corrected(data)
    put(data, TOBIAS, "release", "12:55", id="s-again")
    second = issue.certificate(data, NUMBER, now=at("13:00"))

    said = check_bytes(data, released.pdf, "page.pdf")
    assert said["counts"] is False
    assert "The job is now RELEASED: " in said["sentence"] and f" Its newest page is {NUMBER}-A. " in said["sentence"]
    assert check_bytes(data, second.pdf, "page.pdf")["counts"] is True


def test_record_and_square_code_are_asked_after_like_the_page(data, released, tmp_path):
    record, code = jobs.record(data, NUMBER), code_on(released.pdf, tmp_path)
    assert [check_bytes(data, raw, "x.json")["counts"] for raw in (record, code.encode())] == [True, True]

    corrected(data)

    for raw in (record, code.encode()):
        said = check_bytes(data, raw, "x.json")
        assert said["counts"] is False and said["sentence"].startswith("It does not count any more")


def test_a_notice_still_counts_when_only_the_same_judgement_came_again(data, released):
    corrected(data)
    notice = issue.certificate(data, NUMBER, now=at("12:51"))
    assert check_bytes(data, notice.pdf, "page.pdf")["counts"] is True

    enter.enter(data, bench.INES, NUMBER, [{"id": "d1-ffffff-1", "kind": "air.read", "at": at("12:51").isoformat(),
                                            "body": {"air_c": 20, "rh_pct": 50, "steel_c": 19}}], now=at("12:52"))

    said = check_bytes(data, notice.pdf, "page.pdf")
    assert said["counts"] is False and "the first by hand is number" in said["sentence"]


def test_a_ledger_that_does_not_know_the_job_says_so_and_it_is_named_as_not_checked(data, released, tmp_path, monkeypatch):
    other = bench.a_shop(tmp_path / "other")
    (tmp_path / "page.pdf").write_bytes(released.pdf)
    said = check_bytes(other, released.pdf, "page.pdf")
    assert said["counts"] is None and "has no job" in said["sentence"] and said["sentence"].endswith("replaced since.")

    alone = verify_file(tmp_path / "page.pdf")
    assert alone["counts"] is None and alone["sentence"].endswith("whether it has been replaced since.")

    jobs.open_job(other, bench.ODILE, bench.opening(note="another job"), id="other-1", now=at("06:41"))
    assert "another beginning" in check_bytes(other, released.pdf, "page.pdf")["sentence"]
    assert since_issued(other, NUMBER, "ab" * 16).counts is None


def test_a_ledger_that_says_something_else_or_less_is_told_by_the_entry(data, released):
    digests = [entry.digest for entry in verify_entries(jobs.record(data, NUMBER))]

    other = since(data, NUMBER, [*digests[:7], "0" * 64, *digests[8:]])
    assert other.counts is False and other.sentence.startswith(f"From entry 8 of job {NUMBER} on")
    older = since(data, NUMBER, [*digests, "1" * 64])
    assert older.counts is None and f"only {len(digests)}" in older.sentence


def test_at_the_machine_the_ledger_is_asked_when_it_is_named(data, released, tmp_path, capsys):
    file = tmp_path / "page.pdf"
    file.write_bytes(released.pdf)
    named = ["verify", str(file), "--data", str(data)]

    assert run(named) == 0
    corrected(data)
    assert run(["verify", str(file)]) == 5  # nobody was asked, and that is said; nor is the shop's key here
    assert "whether it has been replaced since." in capsys.readouterr().out
    assert run([*named, "--json"]) == 4
    assert json.loads(capsys.readouterr().out)[0]["counts"] is False
    assert run(named) == 4 and capsys.readouterr().out.startswith("■ ")


def verify_entries(raw):
    from soundedge.record.verify import verify

    return verify(raw).entries()
