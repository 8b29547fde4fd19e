"""Does every refusal know its sentence by id, and is each catalogue complete? A reader of German misses none."""

import ast
import string
from pathlib import Path

import pytest

import soundedge
from soundedge.basis import errors
from soundedge.basis.sentences import FOLDER, LANGUAGES, Sentence, catalogue, say

HOUSE = Path(soundedge.__file__).parent
FAMILY = {name for name, cls in vars(errors).items() if isinstance(cls, type) and issubclass(cls, errors.BenchError)}


def said_ids() -> set[str]:
    """Every id that the source says; an id is always written out."""
    found = set()
    for file in HOUSE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say" and node.args:
                assert isinstance(node.args[0], ast.Constant), f"{file}:{node.lineno}: the id is not written out"
                found.add(node.args[0].value)
    return {one for one in found if "." in str(one) and " " not in str(one)}


def blanks(text: str) -> set[str]:
    return {str(name) for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_every_sentence_that_is_said_is_held_and_every_one_held_is_said():
    assert said_ids() == set(catalogue("en"))


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != "en"])
def test_a_language_has_every_sentence_with_the_same_blanks(language):
    english, other = catalogue("en"), catalogue(language)

    assert set(other) == set(english)
    assert {key for key in english if blanks(english[key]) != blanks(other[key])} == set()


def raw(node: ast.expr) -> bool:
    """Whether a message is written as plain text on the spot."""
    return isinstance(node, (ast.JoinedStr, ast.BinOp)) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def refusals_in_plain_text(text: str) -> list[int]:
    """Lines on which an error of the family is made with a text of its own."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in FAMILY | {"refuse", "NotThat"} and len(node.args) > 1:
            if raw(node.args[1]):
                found.append(node.lineno)
    return found


def test_it_sees_a_planted_plain_text():
    assert refusals_in_plain_text('raise OutOfRange("rh_pct", f"{x} is too wet.")\nrefuse("kind", say("a.b"))') == [1]


def test_a_sentence_follows_its_reader():
    made = Sentence("none.such", "Film is {film:.0f@um} at {n:1 place|# places}: {which}.",
                    {"film": 762, "n": 2, "which": ["a", "b"]})

    assert made == "Film is 762 µm at 2 places: a and b."
    assert made.text("de", "us") == "Film is 30 mil at 2 places: a und b."


def test_an_unknown_id_is_a_mistake_of_the_program():
    with pytest.raises(KeyError):
        say("conditions.no_such_sentence")


def test_no_file_of_sentences_is_empty():
    assert [file for file in FOLDER.rglob("*.toml") if not file.read_text(encoding="utf-8").strip()] == []
