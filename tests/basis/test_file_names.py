"""A new name is one that every file system keeps apart from those there."""

import pytest

from soundedge.basis.errors import Contradiction, Unreadable
from soundedge.basis.file_names import check_new_name


@pytest.mark.parametrize("name", ["CON", "con", "Nul", "aux.txt", "COM1", "lpt9", "COM\u00b9", "nul .txt", "J-1.", "J-1 "])
def test_what_a_file_system_keeps_for_itself_or_cuts_off_is_refused(name):
    with pytest.raises(Unreadable) as refused:
        check_new_name("number", "the job number", name)

    assert name in refused.value.message and "Auftragsnummer" in refused.value.text("de")


@pytest.mark.parametrize(("name", "other"), [("j-1", "J-1"), ("GRÖSSE", "größe"), ("\uff2a-1", "J-1"), ("e\u0301", "\u00c9")])
def test_what_differs_only_in_capitals_or_form_is_refused(name, other):
    with pytest.raises(Contradiction) as refused:
        check_new_name("tag", "the part's tag", name, ["first", other])

    assert f"'{other}'" in refused.value.message and "Kennzeichen" in refused.value.text("de")


@pytest.mark.parametrize("name", ["J-1", "CONE", "console.1", "COM10", "COM", "a.con", "J.1", "x"])
def test_other_names_are_taken_and_so_is_the_very_same_one(name):
    check_new_name("number", "the job number", name, ["J-2", name, name.swapcase()])
