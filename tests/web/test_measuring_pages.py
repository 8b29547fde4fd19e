"""Who may open the pages of film, instruments, test voltage and card, what stands on them, and not in another shop?"""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from .installation import PASSWORDS, new_shop
from .thin_edge import EXAMPLES, NOW, NUMBER, opened

JOB = f"/jobs/{NUMBER}"
PAGES = (
    f"{JOB}/thickness/",
    f"{JOB}/thickness/readings.svg",
    f"{JOB}/instruments/",
    f"{JOB}/holiday/",
    f"{JOB}/holiday/window.svg",
    f"{JOB}/holiday/sheet.pdf",
    f"{JOB}/blank/",
    f"{JOB}/blank-card.pdf",
    f"{JOB}/typed/",
)
ROLES = ("technician", "inspector", "engineer", "manager", "auditor")


@pytest.fixture(scope="module")
def measured(installation):
    """A shop with the thin-edge job measured and not yet tested, and a client of each role."""
    with pytest.MonkeyPatch.context() as env:
        env.setenv("SOUNDEDGE_KEYS", str(installation / "keys"))
        env.setenv("SOUNDEDGE_ROOT", str(installation / "installation"))
        held = new_shop()
        opened(held)
        held.clients = {role: held.client(role) for role in ROLES}
        held.other = new_shop(("manager",)).client("manager")
    return held


def page(measured, role, path):
    answer = measured.clients[role].get(path)
    assert answer.status_code == 200, answer.content[-400:]
    return answer.content.decode()


@pytest.mark.parametrize("path", PAGES)
def test_everybody_of_the_shop_reads_them_and_nobody_of_another(measured, in_installation, installation, path):
    for role in ROLES:
        assert measured.clients[role].get(path).status_code == 200, role
    assert measured.other.get(path).status_code == 404


def test_an_auditor_and_an_engineer_see_the_readings_and_no_pad(measured, installation, in_installation):
    for role in ("auditor", "engineer"):
        text = page(measured, role, f"{JOB}/thickness/")
        assert "<reading-pad" not in text and "872" in text and "measure again" in text
    assert "<reading-pad" in page(measured, "inspector", f"{JOB}/thickness/")


def test_all_cautions_of_high_voltage_stand_before_the_first_voltage(measured, installation, in_installation):
    from soundedge.holiday.cautions import usual_cautions

    text = page(measured, "technician", f"{JOB}/holiday/")
    for line in usual_cautions(0.0)[:2]:
        assert text.index(line) < text.index("The test voltage over this film")
    assert text.count('class="caution"') == 6 and "ASTM D5162-2021" in text
    # 1333 µm at most: the lowest gap model, 24.22·δd + 6.08·√δd, and the highest with class and weather
    assert "from 5448 V with a coupon" in text and "6070 V" in text


def test_a_stated_voltage_in_the_address_is_judged_without_scripts(measured, installation, in_installation):
    text = page(measured, "inspector", f"{JOB}/holiday/?v=3000")
    assert "can be relied on to jump 511" in text and "does not conform" in text
    assert page(measured, "inspector", f"{JOB}/holiday/?v=many")  # no number, no judgement, no fault


def test_the_test_sheet_has_the_job_and_the_windows(measured, installation, in_installation):
    answer = measured.clients["technician"].get(f"{JOB}/holiday/sheet.pdf?v=6300")
    text = "".join(one.extract_text() for one in PdfReader(io.BytesIO(answer.content)).pages)
    assert answer["Content-Type"] == "application/pdf" and NUMBER in text and "6300" in text.replace("\u202f", "")


def test_a_table_is_read_by_the_bench_and_a_bad_one_refused_in_words(measured, installation, in_installation):
    client = measured.clients["inspector"]
    with open(EXAMPLES / "thin-edge-cover/film.csv", "rb") as file:
        read = client.post(f"{JOB}/thickness/file/", {"file": file}).json()
    assert sum(len(spot["readings_um"]) for spot in read["spots"]) == 36 and read["set_aside"] == []
    nameless = io.BytesIO(b"spot,reading\n1,1200\n")
    nameless.name = "x.csv"
    refused = client.post(f"{JOB}/thickness/file/", {"file": nameless})
    assert refused.status_code == 422 and refused.json()["field"] == "file.unit"
    assert client.post(f"{JOB}/thickness/file/", {}).status_code == 422
    assert measured.other.post(f"{JOB}/thickness/file/", {}).status_code == 404


def test_instruments_are_added_calibrated_and_withdrawn_by_those_who_may(measured, installation, in_installation):
    new = {
        "what": "add_instrument",
        "id": "G9",
        "kind": "film_gauge",
        "calibrated_on": "2026-01-05",
        "calibration_due": "2027-01-05",
        "tol_pct": "2,5",
    }
    for role, status in (("auditor", 403), ("technician", 403), ("inspector", 302), ("inspector", 422)):
        assert measured.clients[role].post("/instruments/change/", new).status_code == status, role
    assert "G9" in page(measured, "auditor", "/instruments/") and "± 2.5" in page(measured, "manager", "/instruments/")
    assert (
        measured.clients["manager"]
        .post(
            "/instruments/change/",
            {
                "what": "calibrate_instrument",
                "id": "G9",
                "calibrated_on": "2026-10-01",
                "calibration_due": "2027-10-01",
            },
        )
        .status_code
        == 302
    )
    assert "good until 2027-10-01" in page(measured, "manager", "/instruments/")
    assert (
        measured.clients["manager"]
        .post("/instruments/change/", {"what": "withdraw_instrument", "id": "G9", "because": "Dropped on concrete",
                                       "password": PASSWORDS["manager"]})
        .status_code
        == 302
    )
    assert "Dropped on concrete" in page(measured, "technician", "/instruments/")
    assert "G9" not in measured.other.get("/instruments/").content.decode()


def test_lots_are_received_opened_and_withdrawn(measured, installation, in_installation):
    def change(role, **form):
        return measured.clients[role].post("/instruments/change/", form).status_code

    assert (
        change("technician", what="receive_lot", id="P-900", kind="powder", polymer="ectfe", expires="2028-01-01")
        == 302
    )
    assert (
        change("inspector", what="receive_lot", id="P-901", kind="powder", polymer="ectfe", expires="2028-01-01") == 403
    )
    assert change("technician", what="open_lot", id="P-900", opened_on="2026-06-01") == 302
    word, his = PASSWORDS["manager"], PASSWORDS["technician"]
    assert change("technician", what="withdraw_lot", id="P-900", because="Damp in the can", password=his) == 403
    assert change("manager", what="withdraw_lot", id="P-900", because="no", password=word) == 422
    assert change("manager", what="withdraw_lot", id="P-900", because="Damp in the can", password=word) == 302
    assert "Damp in the can" in page(measured, "technician", "/instruments/")


def test_a_gauge_that_fails_names_the_jobs_that_fall_and_writes_nothing(measured, installation, in_installation):
    from soundedge.services.desk import enter, jobs

    between = page(measured, "manager", "/instruments/recall/?gauge=G7&reference_um=1000&reading_um=1062")
    assert "Every reading lies between two good checks" in between and "No job falls" in between
    later = opened(measured, until="film.cooled", number="KBW-2026-031")
    enter.enter(
        measured.data,
        measured.actor("inspector"),
        later,
        [
            {
                "id": "later-1",
                "kind": "film.measured",
                "at": "2026-06-11T11:55:00Z",
                "body": {"instrument": "G7", "spots": [{"id": "R1", "readings_um": [1040, 1210, 1222]}]},
            }
        ],
        now=NOW,
    )
    before = jobs.size(measured.data)
    text = page(measured, "manager", "/instruments/recall/?gauge=G7&reference_um=1000&reading_um=1062")
    assert "The error of G7 on 1000 µm" in text and "does not conform" in text and "stand on a gauge" in text
    assert "/jobs/KBW-2026-031/" in text and f"/jobs/{NUMBER}/" not in text and "1\u202f040" in text
    assert jobs.size(measured.data) == before
    assert "No check of X1" in measured.clients["manager"].get("/instruments/recall/?gauge=X1").content.decode()
    assert measured.clients["manager"].get("/instruments/recall/?gauge=G7&reference_um=1000").status_code == 422


def test_a_lot_that_is_bad_names_the_jobs_that_stand_on_it(measured, installation, in_installation):
    assert NUMBER in page(measured, "manager", "/instruments/recall/?lot=P-311")
    assert "No job stands on this lot" in page(measured, "manager", "/instruments/recall/?lot=AC-1")


def test_the_typing_page_asks_each_role_what_it_may_record(measured, installation, in_installation):
    technician, inspector = page(measured, "technician", f"{JOB}/typed/"), page(measured, "inspector", f"{JOB}/typed/")
    assert 'kind="layer.fused"' in technician and 'kind="layer.fused"' not in inspector
    assert 'kind="film.measured"' in inspector and "<entry-form" not in page(measured, "auditor", f"{JOB}/typed/")


def test_every_form_of_a_kind_offers_the_instruments_that_fit_and_none_that_was_withdrawn(shop):
    """On the step's page and on the page of the typed card alike: both read the kind's row."""
    from soundedge.job.kinds import KINDS
    from soundedge.services.desk import register as desk

    from .installation import now

    job = opened(shop, until="film.measured", now=now())
    manager, held = shop.actor("manager"), {"calibrated_on": "2026-01-02T00:00:00Z", "calibration_due": "2030-01-02T00:00:00Z"}
    for kind in {one for row in KINDS.values() for one in row.measured_with}:
        for name in (f"{kind}-new", f"{kind}-gone"):
            desk.list_instrument(shop.data, manager, {"id": name, "kind": kind, **held}, now=now())
        desk.withdraw_instrument(shop.data, manager, f"{kind}-gone", because="It fell into the pit.", now=now())
    book = desk.register(shop.data)
    client, read = shop.client("technician"), {}
    for name in ("hazards", "conditions", "heat", "thickness", "instruments", "typed"):
        page = client.get(f"/jobs/{job}/{name}/").content.decode()
        for kind, form in re.findall(r'<entry-form kind="([a-z_.]+)"(.*?)</entry-form>', page, re.S):
            chosen = re.search(r'<select[^>]* name="instrument".*?</select>', form, re.S)
            if chosen:
                read.setdefault(kind, set()).add(frozenset(re.findall(r'<option value="([^"]+)"', chosen[0])))

    assert {"air.read", "vapour.read", "surface.checked", "film.cooled", "gauge.checked"} <= set(read)
    for kind, lists in read.items():
        fitting = {one.id for one in book.instruments.values() if one.kind in KINDS[kind].measured_with and not one.withdrawn}
        assert lists == {frozenset(fitting)}, kind


def test_a_target_card_is_one_press_away(measured):
    client = measured.clients["technician"]
    assert "/target-card-small.pdf" in client.get(f"{JOB}/survey/").content.decode()
    for sheet in ("small", "large", "strips", "corner"):
        answer = client.get(f"/target-card-{sheet}.pdf")
        assert answer.status_code == 200 and b"".join(answer).startswith(b"%PDF")
    assert client.get("/target-card-a0.pdf").status_code == 404
