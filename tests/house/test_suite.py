"""Does what a change must survive still hold every room, every file of tests and every promise of the store?"""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from soundedge.store.ledger import Ledger

from .plan import PLAN, SERVICES

TESTS = Path(__file__).parents[1]
FILES = sorted(TESTS.rglob("test_*.py"))
MARK = re.compile(r"pytest\.mark\.(\w+)")


@cache
def marks_in(file: Path) -> dict[str, set[str]]:
    """Each test of a file → its marks, those of the whole file included."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    whole, found = set(), {}
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "pytestmark":
            whole = set(MARK.findall(ast.unparse(node.value)))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            found[node.name] = {mark for one in node.decorator_list for mark in MARK.findall(ast.unparse(one)[:40])}
        if isinstance(node, ast.Assign) and ast.unparse(node.value).endswith(".TestCase"):
            found[ast.unparse(node.targets[0])] = set()
    return {name: marks | whole for name, marks in found.items()}


def for_a_change(file: Path, mark: str = "") -> list[str]:
    """The tests of a file that `make test` runs; those with a mark alone when one is given."""
    return [name for name, marks in marks_in(file).items() if "release" not in marks and (not mark or mark in marks)]


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(TESTS)))
def test_every_file_has_a_test_that_a_change_runs(file):
    assert for_a_change(file)
    for name, marks in marks_in(file).items():
        if "postgres_only" in marks:
            assert "store_contract" in marks, f"{name} runs nowhere in make test"


@pytest.mark.parametrize("room", [*PLAN, *(f"services/{room}" for room in SERVICES)])
def test_every_room_has_tests_that_a_change_runs(room):
    assert sum(len(for_a_change(file)) for file in (TESTS / room).rglob("test_*.py")) >= 5


def test_what_the_ledger_promises_is_asked_of_both_stores():
    """Each public name of the ledger stands in a test of the contract."""
    promised = {name for name in vars(Ledger) if not name.startswith("_")}
    asked = "".join(
        ast.unparse(node)
        for file in FILES
        for node in ast.parse(file.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and for_a_change(file, "store_contract")
    )

    assert len(promised) > 15
    assert {name for name in promised if not re.search(rf"\.{name}\b", asked)} == set()


@pytest.mark.parametrize("room", ["store", "services/desk", "services/evidence", "web", "cli", "evidence"])
def test_every_room_that_opens_a_store_asks_the_contract(room):
    assert any(for_a_change(file, "store_contract") for file in (TESTS / room).rglob("test_*.py"))


def test_this_sees_a_file_of_which_a_change_runs_nothing(tmp_path):
    wrong = tmp_path / "test_wrong.py"
    wrong.write_text("import pytest\n@pytest.mark.release\n@pytest.mark.parametrize('n', [1])\ndef test_a(n): pass\n")
    whole = tmp_path / "test_whole.py"
    whole.write_text("import pytest\npytestmark = [pytest.mark.slow, pytest.mark.release]\ndef test_a(): pass\n")
    good = tmp_path / "test_good.py"
    good.write_text(wrong.read_text() + "def test_b(): pass\n")

    assert for_a_change(wrong) == for_a_change(whole) == []
    assert for_a_change(good) == ["test_b"]
