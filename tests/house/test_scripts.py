"""Do scripts and benches still call what the house has? They run before a release only; a name that moved is found here."""

import ast
from pathlib import Path

import pytest

import soundedge

ROOT, HOUSE = Path(__file__).parents[2], Path(soundedge.__file__).parent
FILES = sorted(file for folder in ("scripts", "bench") for file in (ROOT / folder).glob("*.py"))


def source_of(module: str) -> Path | None:
    """The file of a module of the house; None when there is none."""
    place = HOUSE.joinpath(*module.split(".")[1:])
    return next((file for file in (place.with_suffix(".py"), place / "__init__.py") if file.is_file()), None)


def names_in(file: Path) -> set[str]:
    """What a module defines or imports; nothing is run."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            found.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
        elif isinstance(node, (ast.Import, ast.ImportFrom)):
            found |= {(alias.asname or alias.name).split(".")[0] for alias in node.names}
    return found


def missing(text: str) -> list[str]:
    """Names imported from the house, or asked of one of its modules, that are not there."""
    tree, modules, lacking = ast.parse(text), {}, []
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "soundedge":
            home = source_of(node.module)
            for alias in node.names:
                inner = source_of(f"{node.module}.{alias.name}")
                if inner is not None:
                    modules[alias.asname or alias.name] = names_in(inner)
                elif home is None or alias.name not in names_in(home):
                    lacking.append(f"{node.module}.{alias.name}")
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules:
            if node.attr not in modules[node.value.id]:
                lacking.append(f"{node.value.id}.{node.attr}")
    return lacking


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.name}")
def test_a_script_calls_only_what_is_there(file):
    assert missing(file.read_text(encoding="utf-8")) == []


def test_it_sees_a_name_that_moved():
    assert missing("from soundedge.services.people import accounts\naccounts.no_such()\n") == ["accounts.no_such"]
    assert missing("from soundedge.basis.units import no_such\n") == ["soundedge.basis.units.no_such"]
