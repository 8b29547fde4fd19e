"""A folder with two repairs: an entry without its letter is turned away before anything is written; each proves only itself."""

import shutil
from pathlib import Path

import pytest

from soundedge.basis.errors import Missing
from soundedge.services.folder.job import may_folder, run_job

EXAMPLES = Path(__file__).parents[3] / "examples"


def folder(tmp_path, *changes):
    """The example of two chips, with texts of its sheet replaced once each."""
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    place = Path(shutil.copytree(EXAMPLES / "two-chip-cover", tmp_path / "job"))
    text = (place / "job.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    (place / "job.toml").write_text(text, encoding="utf-8")
    return place


@pytest.mark.parametrize(("old", "new", "field"), [
    ('repair = "A"\nnumber = 1\n', "number = 1\n", "layer-1.repair"),
    ('repair = "B"\nreadings = "heat-b.csv"', 'readings = "heat-b.csv"', "heat_log-2.repair"),
    ('hold_point = "film"\nrepair = "B"\n', 'hold_point = "film"\n', "sign-6.repair"),
])
def test_the_run_asks_which_repair_and_writes_nothing(tmp_path, old, new, field):
    with pytest.raises(Missing, match="Which repair is this of: A, B") as asked:
        run_job(folder(tmp_path, (old, new)), tmp_path / "out")

    assert asked.value.field == field and not (tmp_path / "out").exists()


def test_what_may_be_done_has_the_letter_in_front(tmp_path):
    place = folder(tmp_path)
    found = may_folder(place, at="2026-07-08T12:02:00Z")

    assert found.say.startswith("Repair B: ")  # A is read, B is not
    assert {act.repair for act in found.acts if act.act == "measure_film"} == {"B"}
