"""Can an exception be told from a function? Not when only a capital letter or an underscore parts their names."""

import ast
from pathlib import Path

import pytest

import soundedge
from soundedge.basis import errors

from .nodes import nodes

HOUSE = Path(soundedge.__file__).parent
FAMILY = {name for name, cls in vars(errors).items() if isinstance(cls, type) and issubclass(cls, BaseException)}


def is_exception(node: ast.ClassDef, known: set[str]) -> bool:
    bases = {getattr(base, "id", getattr(base, "attr", "")) for base in node.bases}
    return bool(bases & known) or any(base.endswith(("Error", "Exception")) for base in bases)


def pairs(text: str) -> list[str]:
    """Exceptions of a file, made or imported there, that a function of it is called like."""
    body = nodes(text)[0].body
    known = set(FAMILY)
    for node in body:
        if isinstance(node, ast.ClassDef) and is_exception(node, known):
            known.add(node.name)
    here = {node.name for node in body if isinstance(node, ast.ClassDef)} & known
    here |= {alias.name for node in body if isinstance(node, ast.ImportFrom) for alias in node.names} & known
    functions = {node.name.replace("_", "").casefold() for node in body if isinstance(node, ast.FunctionDef)}
    return sorted(name for name in here if name.replace("_", "").casefold() in functions)


def test_it_sees_a_planted_pair():
    assert pairs("class Moved(Conflict): ...\ndef moved(): ...\ndef stay(): ...\n") == ["Moved"]
    assert pairs("class _Again(Exception): ...\ndef _again(): ...\n") == ["_Again"]


@pytest.mark.parametrize("file", sorted(HOUSE.rglob("*.py")), ids=lambda file: str(file.relative_to(HOUSE)))
def test_no_function_is_called_like_an_exception_beside_it(file):
    assert pairs(file.read_text(encoding="utf-8")) == []
