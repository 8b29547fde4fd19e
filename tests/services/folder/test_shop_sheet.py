"""Does a short sheet beside the shop's own make the same record as the long one, and can nothing measured be usual?"""

import tomllib
from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError
from soundedge.job.typed import events_of
from soundedge.services.folder.contents import read_folder
from soundedge.services.survey import limits_beside

from ...hand import copied

EXAMPLES = Path(__file__).parents[3] / "examples"
SHORT = Path(__file__).with_name("short_cover.toml").read_text("utf-8")


@pytest.fixture
def folder(tmp_path):
    copied(EXAMPLES / "mixer-cover", tmp_path / "jobs" / "mixer-cover")
    copied(EXAMPLES / "procedures", tmp_path / "procedures")
    copied(EXAMPLES / "procedures", tmp_path / "jobs" / "procedures")
    (tmp_path / "jobs" / "kelderbeck.toml").write_bytes((EXAMPLES / "kelderbeck.toml").read_bytes())
    one = tmp_path / "jobs" / "mixer-cover"
    (one / "job.toml").write_text(SHORT, "utf-8")
    return one


def events(folder):
    return events_of(read_folder(folder).sheet)


def refused(folder, field):
    with pytest.raises(BenchError) as fault:
        read_folder(folder)
    assert fault.value.field == field, fault.value.field
    return fault.value.message


def in_shop(folder, old, new):
    sheet = folder.parent / "kelderbeck.toml"
    text = sheet.read_text("utf-8")
    assert old in text
    sheet.write_text(text.replace(old, new, 1), "utf-8")


def typed(node):
    """How many values somebody typed: leaf by leaf."""
    if isinstance(node, (dict, list)):
        return sum(map(typed, node.values() if isinstance(node, dict) else node))
    return 1


def test_the_short_sheet_makes_the_record_of_the_long_one_event_by_event(folder):
    long = [event for event in events(EXAMPLES / "mixer-cover") if event.id != "lot-2"]  # a solvent's lot that no entry names

    def but_the_guns_name(event):
        body = event.body.model_dump()
        body.get("gun", {}).pop("name", None)  # the one thing more that the short sheet says
        return event.id, event.kind, event.by, event.at, body

    assert [but_the_guns_name(event) for event in events(folder)] == [but_the_guns_name(event) for event in long]
    assert len(long) == 39


def test_a_plain_chip_is_thirty_entries_and_less_than_half_of_the_values():
    long = tomllib.loads((EXAMPLES / "mixer-cover" / "job.toml").read_text("utf-8"))
    short = tomllib.loads(SHORT)
    entries = [sum(len(rows) if isinstance(rows, list) else 1 for name, rows in sheet.items() if name != "usual")
               for sheet in (long, short)]

    assert entries[1] <= 30 and entries[0] <= 40
    assert typed(short) <= 105 and typed(short) < typed(long) / 2


def test_the_shops_sheet_lies_with_the_originals_and_only_who_is_named_is_in_the_record(folder):
    in_shop(folder, '[[instrument]]\nid = "G7"', '[[person]]\nid = "nobody"\nname = "Not There"\nrole = "inspector"\n\n'
            '[[instrument]]\nid = "G9"\nkind = "film_gauge"\n\n[[instrument]]\nid = "G7"')
    read = read_folder(folder)

    assert "kelderbeck.toml" in read.names.values()
    assert not {"nobody", "G9"} & {one["id"] for section in ("person", "instrument") for one in read.sheet[section]}


def test_what_the_job_says_itself_stands_before_what_is_usual(folder):
    sheet = folder / "job.toml"
    sheet.write_text(SHORT.replace("air_c = 19.8", 'air_c = 19.8\nby = "tobias"\ninstrument = "V1"')
                     .replace('[part]\n', '[part]\nplate_mm = 11\n'), "utf-8")
    made = events(folder)
    air = next(event for event in made if event.kind == "air.read")

    assert (air.by, air.body.instrument) == ("tobias", "V1")
    assert next(event for event in made if event.kind == "part.identified").body.plate_mm == 11


@pytest.mark.parametrize(("section", "line"), [("air", "rh_pct = 50"), ("holiday", "grounded = true"), ("film", "spots = []"),
                                               ("surface", "dust_rating = 1"), ("vapour", "lel_pct = 0"),
                                               ("layer", "at = 2026-05-04T09:00:00Z"), ("sign", 'meaning = "I looked."')])
def test_nothing_measured_seen_or_done_is_usual(folder, section, line):
    in_shop(folder, f"[usual.{section}]\n", f"[usual.{section}]\n{line}\n")

    assert "cannot be usual" in refused(folder, f"job.shop.usual.{section}.{line.split(' ')[0]}")


def test_a_visit_of_a_part_is_not_in_the_shops_sheet(folder):
    in_shop(folder, 'tag = "MC-7"', 'tag = "MC-7"\ndecontamination = "Rinsed once."')

    assert "true of one visit only" in refused(folder, "job.shop.part.decontamination")


def test_a_role_that_nobody_has_a_gun_that_is_not_there_and_an_unknown_section_are_named(folder):
    sheet = folder / "job.toml"
    sheet.write_text(SHORT.replace('inspector = "tobias"\n', ""), "utf-8")
    assert "names nobody for it" in refused(folder, "job.shop.usual.surface.by")
    sheet.write_text(SHORT.replace("part_start_c = 180", 'part_start_c = 180\ngun = "HG9"'), "utf-8")
    assert "HG3" in refused(folder, "heat_plan[1].gun")
    sheet.write_text(SHORT, "utf-8")
    in_shop(folder, "[shop]", "[price]\neuro = 1\n\n[shop]")
    assert "price" in refused(folder, "job.shop.price")


def test_a_photo_beside_a_short_sheet_is_held_against_the_procedure_of_the_shop(folder):
    limits = limits_beside(folder / "as-found.jpg")

    assert limits == limits_beside(EXAMPLES / "mixer-cover" / "as-found.jpg") and limits["limits"]["bare_area_mm2_max"] == 900
