"""Is any file of the source too long to be read in one go? Data (tables, translations, letters) may be longer."""

import pytest

from .imports import HOUSE
from .plan import LINES_MAX

SOURCE = sorted(file for file in HOUSE.rglob("*.*") if file.suffix in (".py", ".js", ".html", ".css", ".typ"))


def too_long(text):
    return text.count("\n") > LINES_MAX


def test_no_source_file_is_too_long():
    long = [file.relative_to(HOUSE).as_posix() for file in SOURCE if too_long(file.read_text(encoding="utf-8"))]

    assert long == []


def test_every_kind_of_source_is_counted():
    assert {file.suffix for file in SOURCE} == {".py", ".js", ".html", ".css", ".typ"}


@pytest.mark.parametrize(("lines", "said"), [(500, False), (501, True)])
def test_a_line_too_many_is_seen(lines, said):
    assert too_long("x\n" * lines) is said
