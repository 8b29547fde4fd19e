"""When a gauge or a lot turns out bad, does every job that stands on it fall, and no other?"""

from soundedge.history.recall import checks_and_readings, repairs_of, standing_on_lot, standing_on_person, told_by
from soundedge.job.fold import fold
from soundedge.job.typed import events_of
from soundedge.services.ask import ask

from ..job.sheets import sheet


def a_job(name="mixer-cover", **changes):
    return told_by(fold(events_of(sheet(name) | changes)))


def two_jobs():
    return [a_job("mixer-cover"), a_job("thin-edge-cover")]


def test_every_reading_and_every_check_of_every_job_is_there():
    held = checks_and_readings(two_jobs())

    assert len(held["readings"]) == 72 and len({r["id"] for r in held["readings"]}) == 72
    assert {r["job"] for r in held["readings"]} == {"KBW-2026-014", "KBW-2026-027"}
    assert [c["at"] for c in held["checks"]] == sorted(c["at"] for c in held["checks"])


def test_a_check_carried_by_two_sheets_is_one_check():
    once = checks_and_readings([a_job()])["checks"]
    twice = checks_and_readings([a_job(), a_job("thin-edge-cover", gauge_check=sheet()["gauge_check"])])["checks"]

    assert twice == once


def test_a_failed_closing_check_takes_the_readings_since_the_last_good_one_and_no_others():
    """SSPC-PA 2, clause on accuracy: measurements since the last accuracy verification are suspect (second hand)."""
    late = sheet("thin-edge-cover")
    late["gauge_check"][-1] = late["gauge_check"][-1] | {"reading_um": 1100}

    answer = ask("instruments", checks_and_readings([a_job(), told_by(fold(events_of(late)))]) | {"tol_pct": 3})

    assert answer["jobs_held"] == ["KBW-2026-027"]
    assert len(answer["suspect"]) == 36 and all(r.startswith("KBW-2026-027 ") for r in answer["suspect"])


def test_a_lot_finds_its_jobs_and_their_layers():
    found = standing_on_lot(two_jobs(), "P-311")

    assert [one.job for one in found] == ["KBW-2026-014", "KBW-2026-027"]
    assert "layer-5" in found[0].entries
    assert standing_on_lot(two_jobs(), "P-000") == []


def test_a_person_finds_what_they_did():
    found = standing_on_person([fold(events_of(sheet()))], "Tobias Renn")

    assert "film-1" in found[0].entries and "layer-1" not in found[0].entries


def test_the_next_job_learns_where_the_part_was_repaired():
    """The prepared spot of the cover is an ellipse of 35 by 25 mm at (-60, 35)."""
    (repair,) = repairs_of([a_job(), a_job("thin-edge-cover")], "MC-7")

    assert (repair.job, round(repair.x), round(repair.y), round(repair.d)) == ("KBW-2026-014", -60, 35, 35)


def test_a_job_without_a_layer_is_no_repair():
    assert repairs_of([a_job("dosing-nozzle")], "DN-22") == []
