"""Does the page say how film left is known, what is glued on the part, who accepted old film, and what hazard was left?"""

import pytest

from soundedge.job.judge import judge_job
from soundedge.job.kinds.damage import DamageOutlined
from soundedge.job.typed import events_of
from soundedge.report import annex, page_one

from ..job.sheets import sheet


def outlined(**body):
    return DamageOutlined.model_validate({"id": "A", "stage": "as_found", "circle_mm": {"d": 20}} | body)


@pytest.mark.parametrize(("body", "said"), [
    ({}, "to steel"),
    ({"through": False}, "not through, film left not read"),
    ({"through": False, "film_left_um": 1075.2}, "not through, 1075 µm left, as read there"),
    ({"through": False, "beside_um": [1180, 1210, 1200], "depth_mm": [0.105, 0.1, 0.11], "u_depth_mm": 0.01},
     "not through, 1075 µm left; deepest cut 0.11 mm beside 1200 µm of film"),
])
def test_how_the_film_left_is_known_stands_beside_it(body, said):
    assert outlined(**body).depth_said == said


def test_the_table_of_damage_says_it_too():
    typed = sheet()
    for one in typed["damage"]:
        one |= {"through": False, "film_left_um": 1080, "pit_depth_mm": 0}
    (table, *_) = annex.found(judged(typed), []).tables

    assert {row[table.header.index("Depth")] for row in table.rows} == {"not through, 1080 µm left, as read there"}


def judged(typed):
    return judge_job(events_of(typed), estimates=False)


@pytest.mark.parametrize(("lining", "said"), [
    ({}, None), ({"bonded_sheet": "neck N2, PVDF"}, "neck N2, PVDF"),
    ({"bonded_sheet": "neck N2, PVDF", "bonded_c_max": 60}, "neck N2, PVDF, bears 60 °C"),
])
def test_glued_sheet_has_a_line_of_its_own(lining, said):
    typed = sheet()
    typed["lining"] |= lining

    assert dict(annex.identity(judged(typed))).get("Glued sheet") == said


def test_old_film_below_the_limit_names_who_accepted_it():
    typed = sheet()
    typed["engineer"] = [{"by": typed["release"]["by"], "at": typed["release"]["at"], "decision": "repair_as_instructed",
                          "because": "Old film is thin there.", "old_film_um_min": 900,
                          "accepted_by": "Ben Oduya, letter 26-41."}]
    outcome = judged(typed)
    name = outcome.job.name_of(typed["release"]["by"])

    (line,) = [one for one in page_one.not_tested(outcome) if "Old film" in one]

    assert f"accepted from 900 µm by {name}, " in line and line.endswith("and by Ben Oduya, letter 26-41.")
    assert not any("Old film" in one for one in page_one.not_tested(judged(sheet())))


def test_a_hazard_that_was_left_stands_beside_its_permit():
    typed = sheet()
    permit = typed["permit"][0] if isinstance(typed["permit"], list) else typed["permit"]
    plain = [step.detail for step in annex.timeline(judged(typed)) if step.what == "Hot-work permit"]
    permit["residual_hazard"] = "acid may weep at the flange"
    told = [step.detail for step in annex.timeline(judged(typed)) if step.what == "Hot-work permit"]

    assert told == [f"{plain[0]}, hazard left: acid may weep at the flange"]
