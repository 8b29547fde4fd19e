"""Does any file lead back to itself? Rooms, files and scripts are asked alike."""

from .imports import STATIC, python_edges, rings, script_edges, script_imports
from .plan import PLAN


def test_no_ring_between_rooms():
    edges: dict[str, set[str]] = {room: set() for room in PLAN}
    for file, others in python_edges().items():
        room = file.partition("/")[0]
        edges.setdefault(room, set()).update(other.partition("/")[0] for other in others)

    assert rings(edges) == []


def test_no_ring_between_files():
    assert rings(python_edges()) == []


def test_no_ring_between_scripts_and_every_import_is_a_file():
    edges = script_edges()

    assert rings(edges) == []
    assert {other for others in edges.values() for other in others} - set(edges) == set()
    assert sum(map(len, edges.values())) >= sum(
        line.startswith("import ") for file in STATIC.rglob("*.js") for line in file.read_text(encoding="utf-8").splitlines())


def test_a_planted_ring_is_seen():
    edges = {"a": {"b"}, "b": {"c", "d"}, "c": {"a"}, "d": {"e"}, "e": {"d"}, "f": {"a"}}

    assert rings(edges) == [("a", "b", "c"), ("d", "e")]


def test_every_way_to_import_a_script_is_seen():
    text = 'import { a,\n  b } from "./one.js";\nimport "../two.js";\nexport { c } from "./three.js";\n'
    text += 'await import("./four.js");'

    assert script_imports(text) == {"./one.js", "../two.js", "./three.js", "./four.js"}
