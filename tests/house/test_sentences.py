"""Does every refusal know its sentence by id, and is each catalogue complete? A reader of German misses none."""

import ast
import re
import string
from pathlib import Path
from typing import Annotated

import pytest

import soundedge
from soundedge.basis import errors
from soundedge.basis.sentences import FOLDER, LANGUAGES, Sentence, catalogue, say, words

from .nodes import nodes

HOUSE = Path(soundedge.__file__).parent
FAMILY = {name for name, cls in vars(errors).items() if isinstance(cls, type) and issubclass(cls, errors.BenchError)}
MADE_BY = FAMILY | {"refuse", "NotThat"}


def said_ids() -> set[str]:
    """Every id that the source says; an id is always written out."""
    found = set()
    for file in HOUSE.rglob("*.py"):
        for node in nodes(file.read_text(encoding="utf-8")):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say" and node.args:
                assert isinstance(node.args[0], ast.Constant), f"{file}:{node.lineno}: the id is not written out"
                found.add(node.args[0].value)
    return {one for one in found if "." in str(one) and " " not in str(one)}


def blanks(text: str) -> set[str]:
    """The names in braces, those within a format too: ``{value:@{unit}}``."""
    found = set()
    for _, name, spec, _ in string.Formatter().parse(text):
        if name is not None:
            found |= {name} | blanks(spec or "")
    return found


def test_every_sentence_that_is_said_is_held_and_every_one_held_is_said():
    assert said_ids() == set(catalogue("en"))


def test_every_call_fills_the_blanks_of_its_sentence():
    lacking = []
    for file in HOUSE.rglob("*.py"):
        for node in nodes(file.read_text(encoding="utf-8")):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say" and node.args[0].value in catalogue("en"):
                given = {one.arg for one in node.keywords}
                needed = blanks(catalogue("en")[node.args[0].value])
                if not needed <= given and None not in given:
                    lacking.append(f"{file.name}:{node.lineno} lacks {needed - given}")

    assert lacking == []


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
    for node in nodes(text):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MADE_BY and len(node.args) > 1:
            if raw(node.args[1]):
                found.append(node.lineno)
    return found


def worded(node: ast.AST) -> bool:
    """Whether an expression writes words on the spot: an f-string, a sum of texts, or a choice between such."""
    if isinstance(node, ast.IfExp):
        return worded(node.body) or worded(node.orelse)
    if isinstance(node, ast.JoinedStr):
        return any(isinstance(part, ast.Constant) and re.search("[A-Za-z]{2,} ", str(part.value)) for part in node.values)
    if isinstance(node, ast.BinOp):
        return worded(node.left) or worded(node.right)
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip()


def texts_by_a_detour(text: str) -> list[int]:
    """Lines on which an error, or a blank of a sentence, takes words that were put together just before or in a function."""
    found = []
    functions = [one for one in nodes(text) if isinstance(one, ast.FunctionDef)]
    returns = {one.name for one in functions
               if any(isinstance(part, ast.Return) and part.value and worded(part.value)
                      and not isinstance(part.value, ast.Constant) for part in ast.walk(one))}
    for function in functions:
        named = {part.targets[0].id for part in ast.walk(function) if isinstance(part, ast.Assign)
                 and isinstance(part.targets[0], ast.Name) and worded(part.value)}

        def detour(node: ast.expr, named: set[str] = named) -> bool:
            return (isinstance(node, ast.Name) and node.id in named) or (
                isinstance(node, ast.Call) and getattr(node.func, "id", "") in returns)

        for node in ast.walk(function):
            called = getattr(getattr(node, "func", None), "id", "")
            if called in MADE_BY and len(node.args) > 1 and (detour(node.args[1]) or worded(node.args[1])):
                found.append(node.lineno)
            if called == "say" and any(detour(one.value) or (isinstance(one.value, ast.JoinedStr) and worded(one.value))
                                       for one in node.keywords):
                found.append(node.lineno)
    return sorted(set(found))


def asked_by_their_words(text: str) -> list[int]:
    """Lines on which code looks into a message for words, or changes it; refusals are told apart by kind, field or id."""
    found = []
    parsed = nodes(text)
    messages = {id(node) for node in parsed if isinstance(node, ast.Attribute) and node.attr == "message"}
    messages |= {id(node) for node in parsed if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "str"
                 and node.args and getattr(node.args[0], "id", "") in ("fault", "bad", "refused")}
    for node in parsed:
        if isinstance(node, ast.Compare):
            looked = [node.left, *node.comparators]
        elif isinstance(node, ast.Attribute) and node.attr not in ("text", "as_json", "id", "params"):
            looked = [node.value]
        elif isinstance(node, ast.Call) and getattr(getattr(node.func, "value", None), "id", "") == "re":
            looked = list(node.args)
        elif isinstance(node, (ast.Assign, ast.AugAssign)):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            parts = [part for one in targets for part in ast.walk(one) if isinstance(part, ast.Attribute)]
            looked = [part for part in parts if getattr(part.value, "id", "") != "self"]
        else:
            continue
        found += [one.lineno for one in looked if id(one) in messages]
    return sorted(set(found))


@pytest.mark.parametrize("planted", [
    'if "disk" in fault.message: pass', 'fault.message.startswith("The")', 're.match("The .*", fault.message)',
    'if re.search("full", str(fault)): pass', 'fault.field, fault.message = "x", f"{what}: {fault.message}"',
    'said = fault.message.replace("a", "b")',
])
def test_it_sees_planted_code_that_looks_into_a_sentence(planted):
    assert asked_by_their_words(f"{planted}\nwrong = fault.message\nself.message = message\nfault.message.text('de')") == [1]


def test_no_code_looks_into_a_sentence_or_changes_it():
    assert [f"{file.relative_to(HOUSE)}:{line}" for file in HOUSE.rglob("*.py")
            for line in asked_by_their_words(file.read_text(encoding="utf-8"))] == []


def test_no_error_takes_its_words_by_a_detour():
    found = {f"{file.relative_to(HOUSE)}:{line}" for file in HOUSE.rglob("*.py")
             for line in texts_by_a_detour(file.read_text(encoding="utf-8"))}

    assert found == set()


def test_it_sees_planted_detours():
    assert texts_by_a_detour('def f(x):\n    why = f"{x} is too wet."\n    raise OutOfRange("rh", why)\n'
                             'def _wet(x):\n    return f"{x} is too wet."\n'
                             'def g(x):\n    raise OutOfRange("rh", _wet(x))\n'
                             'def h(x):\n    raise OutOfRange("rh", say("a.b", why=f"it is {x} wet"))\n'
                             'def i(x):\n    raise OutOfRange("rh", say("a.b", x=f"{x}.toml"))\n') == [3, 7, 9]


def quantity_words() -> set[str]:
    """Every name and next move of a ``Quantity`` in the source."""
    found = set()
    for file in HOUSE.rglob("*.py"):
        parsed = nodes(file.read_text(encoding="utf-8"))
        held = {one.targets[0].id: one.value for one in parsed
                if isinstance(one, ast.Assign) and isinstance(one.targets[0], ast.Name)}
        for node in parsed:
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Quantity":
                for word in [*node.args[:1], *(one.value for one in node.keywords if one.arg == "next_move")]:
                    text = held.get(word.id) if isinstance(word, ast.Name) else word
                    assert isinstance(text, ast.Constant), f"{file}:{node.lineno}: a name or next move is not written out"
                    found.add(text.value)
    return found


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != "en"])
def test_every_quantity_has_its_name_and_next_move_in_a_language(language):
    found = quantity_words()

    assert len(found) > 200
    assert found - set(words(language)) == set()


def test_a_number_out_of_its_range_is_refused_in_the_readers_language_and_units():
    from soundedge.basis.quantity import Quantity
    from soundedge.basis.question import Request, read

    class Asked(Request):
        air_c: Annotated[float, Quantity("Air temperature", "°C", above=0, at_most=60, next_move="Check the unit.")]

    with pytest.raises(errors.OutOfRange) as refused:
        read(Asked, {"air_c": 100})

    assert refused.value.message == "Air temperature is 100 °C; it must be above 0 and at most 60 °C. Check the unit."
    assert refused.value.text("de", "us") == (
        "Lufttemperatur ist 212 °F; erlaubt ist über 32 und höchstens 140 °F. Die Einheit prüfen.")


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
