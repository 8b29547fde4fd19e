"""Patch, overlap and thin parent film together."""

import pytest

from soundedge.basis.errors import BenchError, Contradiction, Missing
from soundedge.basis.question import answer
from soundedge.holiday.ask import FORMS

GROUND = {"polymer": "ectfe", "strength": [{"kv_mm": 14, "at_um": 1000}]}
PATCH = {"id": "patch", "kind": "patch", "film_um": {"min": 1150, "max": 1350}}
OVERLAP = {"id": "overlap", "kind": "overlap", "film_um": {"min": 1500, "max": 1700}}
PARENT = {"id": "parent", "kind": "parent", "film_um": {"min": 520, "max": 600}}


def ask(zones, **more):
    return answer(FORMS, GROUND | {"zones": zones} | more)


def test_each_zone_has_the_window_it_would_have_alone():
    together = ask([PATCH, PARENT])

    for zone, given in zip(together.zones, (PATCH, PARENT)):
        alone = answer(FORMS, GROUND | {"film_um": given["film_um"]})
        assert (zone.low_v, zone.high_v, zone.zone) == (alone.low_v, alone.high_v, given["id"])


def test_a_thin_parent_film_asks_for_the_zones_to_be_split():
    found = ask([PATCH, OVERLAP, PARENT])

    assert found.one_voltage_serves_all is False
    assert found.low_v > found.high_v
    split = next(note for note in found.notes if note.name == "zones_apart")
    assert split.next_move.startswith("Split the zones")
    assert {name for one in found.settings for name in one.zones} == {"patch", "overlap", "parent"}
    assert len(found.settings) == 3      # patch at most 7330 V, overlap at least 7332 V
    for one in found.settings:
        for zone in found.zones:
            if zone.zone in one.zones:
                assert zone.low_v <= one.voltage_v <= zone.high_v


def test_zones_alike_share_one_setting():
    found = ask([PATCH, {"id": "b", "film_um": {"min": 1200, "max": 1400}}])

    assert found.one_voltage_serves_all is True
    assert len(found.settings) == 1
    assert found.notes == []


def test_a_patch_voltage_over_the_thin_parent_is_pointed_out():
    """1250√mil on a patch of 1.27 mm is 8839 V: 17.4 kV/mm over a base of 508 µm."""
    found = ask([{"id": "patch", "film_um": {"min": 1270, "max": 1270}, "stated_voltage_v": 8839},
                 {"id": "base", "film_um": {"min": 508, "max": 560}, "stated_voltage_v": 3000}])

    note = next(note for note in found.notes if note.name == "electrode_must_stay_inside")
    assert "17.4 kV/mm" in note.because


def test_one_stated_voltage_is_judged_in_every_zone():
    found = ask([PATCH, OVERLAP, PARENT], stated_voltage_v=6500)

    assert [zone.stated.position for zone in found.zones] == ["inside", "too_low", "too_high"]
    assert found.verdict == "does_not_conform"
    assert any(f.because.startswith("Zone parent:") for f in found.findings)


def test_a_zone_without_a_window_is_named_as_without_setting():
    found = ask([PATCH, {"id": "thin", "film_um": {"min": 300, "max": 400}}])

    assert found.without_setting == ["thin"]
    assert found.settings[0].zones == ["patch"]


def test_a_new_patch_in_a_lining_that_was_in_service_is_tested_and_the_old_film_is_not():
    found = ask([PATCH | {"state": {}}, PARENT], state={"immersed": True})

    assert [zone.method for zone in found.zones] == ["high_voltage", "not_applicable"]
    assert found.without_setting == ["parent"]


@pytest.mark.parametrize("zones, kind", [
    ([], Missing), ([PATCH, PATCH], Contradiction), ([{"id": "x"}], Missing), ("all", BenchError), ([1], BenchError),
    ([{"id": f"z{i}", "film_um": {"min": 600, "max": 700}} for i in range(201)], BenchError),
])
def test_bad_zones_are_refused_by_name(zones, kind):
    with pytest.raises(kind):
        ask(zones)
