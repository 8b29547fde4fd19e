"""Does the house still stand as it was drawn? Reads the imports; fails on an unplanned door."""

import ast
from pathlib import Path

import pytest

from .imports import HOUSE, doors, opened, python_edges
from .plan import IMPURE, ONLY_IN, PLAN, PURE_ROOMS, SERVICES, TRADE_ROOMS

ROOT = Path(__file__).parents[2]
ROOMS = sorted(p.name for p in HOUSE.iterdir() if p.is_dir() and (p / "__init__.py").exists())


def test_every_room_is_on_the_plan():
    unplanned = [room for room in ROOMS if room not in PLAN]

    assert unplanned == []


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_opens_only_planned_doors(room):
    wrong = []
    for file, name in opened(room):
        parts = name.split(".")
        if parts[0] == "soundedge" and len(parts) > 1 and parts[1] in PLAN and parts[1] != room:
            if parts[1] not in PLAN[room]:
                wrong.append(f"{file} imports {name}")
        if parts[0] in ONLY_IN and room not in ONLY_IN[parts[0]]:
            wrong.append(f"{file} imports {parts[0]}, which belongs in {', '.join(ONLY_IN[parts[0]])}")

    assert wrong == []


@pytest.mark.parametrize("room", [r for r in PURE_ROOMS if r in ROOMS])
def test_a_pure_room_leaves_the_world_alone(room):
    wrong = []
    for file, name in opened(room):
        if name.split(".")[0] in IMPURE:
            wrong.append(f"{file} imports {name}")
    for file in sorted((HOUSE / room).rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        for call in ("datetime.now(", "time.time(", "date.today(", "os.environ", "utcnow("):
            if call in text:
                wrong.append(f"{file.relative_to(HOUSE)} calls {call}")

    assert wrong == []


def test_every_room_of_services_is_on_the_plan():
    assert {one.name for one in (HOUSE / "services").iterdir() if (one / "__init__.py").exists()} == set(SERVICES)


def test_a_room_of_services_opens_only_planned_doors():
    def room(file):
        parts = file.split("/")
        return parts[1] if parts[0] == "services" and len(parts) > 2 else ""

    wrong = [f"{file} imports {other}" for file, others in python_edges().items() if file.startswith("services/")
             for other in others if room(other) and room(other) not in (room(file), *SERVICES.get(room(file), ()))]

    assert wrong == []


def test_the_plan_itself_has_no_ring_and_trade_rooms_do_not_know_each_other():
    for room in TRADE_ROOMS:
        assert set(PLAN[room]) & set(TRADE_ROOMS) == set()


def test_it_sees_a_planted_door():
    """The check can fail: relative, absolute and hidden imports are all seen."""
    text = "from ..heat import gloss\ndef f():\n    import soundedge.store.ledger\n    from . import ask\n"

    found = doors(text, ("soundedge", "survey"))

    assert found == {"soundedge.heat.gloss", "soundedge.store.ledger", "soundedge.survey.ask"}


def test_every_trade_room_has_one_word_on_every_storey():
    """A room has its tests and its manual page under the same word."""
    missing = []
    for room in ROOMS:
        if room in TRADE_ROOMS:
            missing += [f"tests/{room}"] if not (ROOT / "tests" / room).is_dir() else []
            missing += [f"docs/{room}.md"] if not (ROOT / "docs" / f"{room}.md").is_file() else []
            missing += [f"{room}/ask.py"] if not (HOUSE / room / "ask.py").is_file() else []

    assert missing == []


def test_every_file_opens_with_the_question_it_answers():
    wordless = []
    for file in sorted(HOUSE.rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        if text.strip() and not ast.get_docstring(ast.parse(text)):
            wordless.append(str(file.relative_to(HOUSE)))

    assert wordless == []
