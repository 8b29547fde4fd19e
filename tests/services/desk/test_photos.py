"""Photos: kept as taken, shown as a clean copy, measured where they lie; and damage that comes from one."""

import hashlib
import io
import json

import pytest

from soundedge.basis.errors import BenchError, Contradiction, Refused, Unknown
from soundedge.job.typed import events_of
from soundedge.record.canonical import plain
from soundedge.services.desk import enter, photos
from soundedge.services.desk import register as reg
from soundedge.services.evidence.records import body_said
from soundedge.services.folder.contents import read_folder
from soundedge.store.blobs import Blobs

from ...hand import copied
from . import bench
from .bench import COVER, INES, NORA, NUMBER, ODILE, TOBIAS, at, standing

RAW = (COVER / "as-found.jpg").read_bytes()


@pytest.fixture
def data(tmp_path, monkeypatch):
    found = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(found)
    return found


def asked(sha256, **more):
    outline, card = bench.taps()
    return {
        "id": "d1-a1b2c3-1",
        "at": at("06:55").isoformat(),
        "damage": "A",
        "stage": "as_found",
        "photo_sha256": sha256,
        "outline": outline,
        "card": card,
        "x": -60,
        "y": 35,
    } | more


def test_a_photo_is_kept_byte_for_byte_by_its_digest(data):
    kept = photos.keep(data, RAW, claimed="image/jpeg")

    assert kept["sha256"] == hashlib.sha256(RAW).hexdigest() and kept["bytes"] == len(RAW) and kept["type"] == "image/jpeg"
    assert photos.original(data, kept["sha256"]) == RAW == Blobs(data / "blobs").get(kept["sha256"])
    assert photos.keep(data, RAW) == kept


def test_what_is_shown_is_smaller_and_without_the_cameras_notes(data):
    from PIL import Image

    shown = photos.display(data, photos.keep(data, RAW)["sha256"])
    picture = Image.open(io.BytesIO(shown))

    assert picture.format == "JPEG" and max(picture.size) <= photos.SHOWN_PX and not picture.getexif()


@pytest.mark.parametrize("raw", [b"", b"no photo", RAW[:200], b"%PDF-1.7", b"<svg/>", b"\x89PNG\r\n\x1a\n" + b"0" * 50])
def test_what_is_no_photo_is_refused_in_words(data, raw):
    with pytest.raises(BenchError) as fault:
        photos.keep(data, raw)

    assert fault.value.message and list(Blobs(data / "blobs").digests()) == []


def test_a_photo_of_another_type_than_it_is_said_to_be_is_refused(data):
    with pytest.raises(BenchError):
        photos.keep(data, RAW, claimed="image/png")


def test_a_photo_too_large_is_refused_before_it_is_unpacked(data, monkeypatch):
    monkeypatch.setattr(photos, "BYTES_MAX", 1000)
    with pytest.raises(BenchError) as fault:
        photos.keep(data, RAW)
    monkeypatch.setattr(photos, "BYTES_MAX", 10**8)
    monkeypatch.setattr(photos, "PIXELS_MAX", 1000)
    with pytest.raises(BenchError):
        photos.keep(data, RAW)

    assert "MB" in fault.value.message


def test_nothing_but_photos_is_handed_out_by_its_digest(data):
    page = Blobs(data / "blobs").put(b"%PDF-1.7 a certificate")

    with pytest.raises(Unknown):
        photos.original(data, page)
    for digest in ("0" * 64, "x", "../../etc", None):
        with pytest.raises(BenchError):
            photos.original(data, digest)


def test_damage_on_a_photo_is_measured_and_the_taps_stay_in_the_record(data):
    sha256 = bench.photo(data)

    answer = enter.damage(data, INES, NUMBER, asked(sha256), now=at("07:00"))

    assert (answer["outcome"], answer["kind"]) == ("stored", "damage.outlined") and answer["survey"]["area_mm2"] > 0
    body = standing(data).outcome.job.last("damage.outlined").body
    assert body.measured == "photo" and body.photo_sha256 == sha256 and body.survey["asked"]["outline"]["outline_px"]
    assert Blobs(data / "blobs").get(body.survey["picture"]["sha256"])[:3] == b"\xff\xd8\xff"
    xs, ys = zip(*body.outline_mm, strict=True)
    assert min(xs) < -60 < max(xs) and min(ys) < 35 < max(ys)
    assert enter.damage(data, INES, NUMBER, asked(sha256), now=at("07:01"))["outcome"] == "duplicate"


def by_folder(tmp_path, *, stated, tapped):
    """The sheet's damage as the job folder reads it, with the kind that sheet and taps say; None says none."""
    folder = tmp_path / "cover"
    copied(COVER, folder)
    copied(COVER.parent / "procedures", tmp_path / "procedures")
    sheet = (folder / "job.toml").read_text()
    head, tail = sheet.split("[[damage]]", 1)
    tail = tail.replace('kind = "chip"\n', f'kind = "{stated}"\n' if stated else "", 1)
    (folder / "job.toml").write_text(f"{head}[[damage]]{tail}")
    (folder / "as-found.clicks.json").write_text(json.dumps(tapped_as(tapped)))
    events = events_of(read_folder(folder).sheet)
    return next(event.body for event in events if event.kind == "damage.outlined")


def tapped_as(kind):
    outline = {key: value for key, value in bench.taps()[0].items() if key != "kind"}
    return outline | {"kind": kind} if kind else outline


@pytest.mark.parametrize(("stated", "tapped", "kind"), [
    ("chip", "chip", "chip"), (None, "blister", "blister"), ("blister", None, "blister"), (None, None, "chip"),
])
def test_one_photo_and_the_same_taps_make_one_entry_by_folder_and_in_the_browser(data, tmp_path, stated, tapped, kind):
    more = {"kind": stated} if stated else {}
    sent = asked(bench.photo(data), outline=tapped_as(tapped), photo="as-found.jpg", pit_depth_mm=0.1, **more)
    enter.damage(data, INES, NUMBER, sent, now=at("07:00"))
    here = body_said(standing(data).outcome.job.last("damage.outlined").body)
    there = body_said(by_folder(tmp_path, stated=stated, tapped=tapped))

    del here["survey"]["picture"]  # the desk keeps the drawing by its digest, the folder makes it with the page
    assert here["kind"] == there["kind"] == here["survey"]["kind"] == kind
    assert plain(here) == plain(there)


@pytest.mark.parametrize(("stated", "tapped"), [("chip", "blister"), ("crack", "corrosion")])
def test_a_kind_against_the_taps_is_refused_at_both_doors(data, tmp_path, stated, tapped):
    with pytest.raises(Contradiction, match=f"stated as {stated}, and its taps say {tapped}"):
        enter.damage(data, INES, NUMBER, asked(bench.photo(data), outline=tapped_as(tapped), kind=stated), now=at("07:00"))
    with pytest.raises(Contradiction, match=f"stated as {stated}, and its taps say {tapped}") as caught:
        by_folder(tmp_path, stated=stated, tapped=tapped)

    assert caught.value.field == "damage[1].kind"
    assert not standing(data).outcome.job.of("damage.outlined", "survey.refused")


def test_a_photo_that_would_mislead_is_recorded_as_refused_and_gives_no_number(data):
    import cv2
    import numpy as np

    grey = cv2.imencode(".jpg", np.full((1200, 1600, 3), 128, np.uint8))[1].tobytes()
    sha256 = photos.keep(data, grey)["sha256"]

    answer = enter.damage(data, INES, NUMBER, asked(sha256), now=at("07:00"))

    assert (answer["outcome"], answer["kind"]) == ("stored", "survey.refused") and answer["survey"]["refused"]
    assert standing(data).outcome.steps["survey"].blocks and not standing(data).outcome.job.of("damage.outlined")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"x": "left"}, "x"),
        ({"y": 1e9}, "y"),
        ({"colour": 1}, "colour"),
        ({"photo_sha256": "0" * 64}, "file"),
        ({"outline": "a.json"}, "outline"),
        ({"card": "c.json"}, "card"),
    ],
)
def test_a_request_that_cannot_be_is_refused_by_name(data, change, field):
    with pytest.raises(BenchError) as fault:
        enter.damage(data, INES, NUMBER, asked(bench.photo(data), **change), now=at("07:00"))

    assert fault.value.field == field


def test_a_stage_that_is_none_is_an_outcome_of_the_entry(data):
    answer = enter.damage(data, INES, NUMBER, asked(bench.photo(data), stage="later"), now=at("07:00"))

    assert answer["outcome"] == "refused" and answer["error"]["field"] == "body.stage"


def test_an_auditor_and_a_manager_outline_nothing(data):
    for actor in (NORA, ODILE):
        with pytest.raises(Refused):
            enter.damage(data, actor, NUMBER, asked(bench.photo(data)), now=at("07:00"))
    assert enter.damage(data, TOBIAS, NUMBER, asked(bench.photo(data)), now=at("07:00"))["outcome"] == "stored"


def test_a_suggestion_never_takes_the_place_of_the_taps(data):
    outline, card = bench.taps()

    answer = photos.snap(data, bench.photo(data), {"outline": outline, "card": card})

    assert answer["outline_mm"] and answer["suggestion"] is not None
    assert "photo" not in answer.get("asked", {})
    with pytest.raises(BenchError):
        photos.survey(data, bench.photo(data), {"outline": outline, "card": card, "photo": "/etc/passwd"})


# ------------------------------------------------------------------ the register as it is written


def test_a_change_of_the_register_is_an_event_in_the_name_of_who_made_it(data):
    reg.enrol_person(data, ODILE, {"id": "lea", "name": "Lea Brook", "role": "technician"}, now=at("07:00"))

    from soundedge.services.evidence.ledger_place import open_ledger

    with open_ledger(data, make=False) as ledger:
        last = ledger.record("shop").entries[-1]
    assert (last.kind, last.by, last.body["id"]) == ("person.enrolled", "odile", "lea")
    assert reg.register(data).people["lea"].name == "Lea Brook"


@pytest.mark.parametrize("actor", [INES, TOBIAS, bench.AMARA, NORA])
def test_only_a_manager_enrols_people_and_devices(data, actor):
    with pytest.raises(Refused) as fault:
        reg.enrol_person(data, actor, {"id": "lea", "name": "Lea Brook", "role": "technician"}, now=at("07:00"))
    with pytest.raises(Refused):
        reg.enrol_device(data, actor, "d3", "tablet", now=at("07:00"))
    assert fault.value.field == "role"


def test_nobody_changes_their_own_role_and_the_first_person_is_a_manager(data, tmp_path):
    with pytest.raises(Refused):
        reg.change_person(data, ODILE, bench.person(ODILE) | {"role": "inspector"}, now=at("07:00"))
    from soundedge.services.evidence.ledger_place import open_ledger

    empty = tmp_path / "empty"
    with open_ledger(empty):
        pass
    for first in (
        {"id": "ines", "name": "Ines Marlow", "role": "technician"},
        {"id": "odile", "name": "Odile Brandt", "role": "manager"},
    ):
        with pytest.raises(Refused):
            reg.enrol_person(empty, INES, first, now=at("07:00"))
    reg.enrol_person(empty, ODILE, {"id": "odile", "name": "Odile Brandt", "role": "manager"}, now=at("07:00"))
    assert list(reg.register(empty).people) == ["odile"]


def test_a_proposal_sent_twice_is_one_and_its_proposer_does_not_approve_it(data):
    text = bench.PROCEDURE.replace('"KBW-LP-04"', '"KBW-LP-09"')
    for _ in range(2):
        assert (
            reg.propose_procedure(data, bench.AMARA, text, because="for the thin covers", id="lp09", now=at("07:00")) == "lp09"
        )

    with pytest.raises(Refused):
        reg.approve_procedure(data, bench.AMARA, "lp09", now=at("07:01"))
    with pytest.raises(Refused):
        reg.approve_procedure(data, INES, "lp09", now=at("07:01"))
    reg.approve_procedure(data, ODILE, "lp09", now=at("07:02"))
    book = reg.register(data)
    assert book.procedures["KBW-LP-09"].approved_by == "odile"
    assert [d.key for d in reg.compare(book.revisions["lp04-1"], book.revisions["lp09"])] == ["id"]
    assert {row["key"] for row in reg.limits_of(book.revisions["lp09"])} >= {"bare_area_mm2_max", "feather_mm"}


def test_the_same_password_changed_twice_keeps_one_key_and_a_lost_one_gives_another(data):
    first = reg.register(data).people["ines"].key

    assert reg.seal_key(data, "ines", "a new set of four words", old=bench.WORDS["ines"], now=at("07:00")) == first
    other = reg.seal_key(data, "ines", "yet another four words", old="not what it was before", now=at("07:01"))

    assert other != first and reg.register(data).people["ines"].keys == (first, other)
    with pytest.raises(BenchError):
        reg.seal_key(data, "ines", "short", now=at("07:02"))
