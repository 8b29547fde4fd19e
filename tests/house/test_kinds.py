"""Does what is known of a kind of entry stand in its one row (job/kinds/), whole, and nowhere a second time?"""

import ast
import re
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import soundedge
from soundedge.basis.quantity import Quantity
from soundedge.basis.question import Request
from soundedge.job.judge import judge_job
from soundedge.job.kinds import ELSEWHERE, HOLD_POINTS, KINDS, SECTIONS, STEPS, Kind
from soundedge.job.kinds.kind import LOOKING
from soundedge.job.typed import events_of
from soundedge.report.from_job import certificate_view
from soundedge.services.desk.entry_fields import every_word, fields_of
from soundedge.services.folder.contents import read_folder

from .nodes import nodes

HOUSE = Path(soundedge.__file__).parent
ROOT = Path(__file__).parents[2]
# The rows themselves; and the second opinions, which share no code with them and are compared below.
OWN_LISTS = ("job/kinds", "record", "store")
MANY = 3  # of this many kinds on it is a table


def faults(kind: Kind) -> list[str]:
    """What a row lacks."""
    found = []
    if not kind.label.strip() or kind.label != kind.label.strip() or not kind.label[0].isupper():
        found.append("no label")
    if kind.line is ELSEWHERE and kind.adds and kind.acted and kind.section:
        found.append("no line on the certificate")
    if kind.roles and kind.adds and not (kind.page or kind.step):
        found.append("no page to be made on")
    if kind.roles and kind.adds and not kind.section:
        found.append("no section of the job sheet")
    if (kind.step and kind.step not in STEPS) or ({kind.covered_by, *kind.follows} - {"", *HOLD_POINTS}):
        found.append("an unknown step or hold point")
    if kind.measured_with and "instrument" not in kind.body.model_fields:
        found.append("no instrument in its body")
    if "instrument" in kind.body.model_fields and not kind.measured_with:
        found.append("no kind of instrument that fits it")
    if kind.box and not (kind.box[0].isdigit() and kind.box[1:].isalpha()):
        found.append("no box of the card")
    return [f"{kind.name}: {fault}" for fault in found]


def kinds_in(node: ast.AST) -> set[str]:
    """The kinds that a literal names itself; not what is asked of a call or looked up in the rows."""
    if isinstance(node, (ast.Call, ast.Subscript)):
        return set()
    if isinstance(node, ast.Constant):
        return {node.value} & set(KINDS)
    return set().union(*(kinds_in(inner) for inner in ast.iter_child_nodes(node)))


def tables_by_kind(text: str) -> list[int]:
    """Lines of a Python text on which a dict, set, list, tuple or match names three kinds of entries or more."""
    literals = (ast.Dict, ast.Set, ast.List, ast.Tuple, ast.Match)
    return [node.lineno for node in nodes(text) if isinstance(node, literals) and len(kinds_in(node)) >= MANY]


def tables_in_script(text: str) -> set[str]:
    """The kinds that a script or a template names, where it names so many that it holds a table of them."""
    quoted = set(re.findall(r"""["'`]([a-z_]+\.[a-z_]+)["'`]""", text))
    named = {kind for kind in KINDS if kind in quoted or f"data-kind_{kind.replace('.', '_')}" in text}
    return named if len(named) >= MANY else set()


def outside() -> dict[str, str]:
    """Every Python file of the house that must read the rows, with its text."""
    files = {file.relative_to(HOUSE).as_posix(): file for file in sorted(HOUSE.rglob("*.py"))}
    return {name: file.read_text(encoding="utf-8") for name, file in files.items() if not name.startswith(OWN_LISTS)}


def test_no_table_by_kind_stands_outside_the_rows():
    assert [f"{name}:{line}" for name, text in outside().items() for line in tables_by_kind(text)] == []


def test_no_script_holds_a_table_by_kind():
    wrong = {file.name: sorted(tables_in_script(file.read_text(encoding="utf-8"))) for file in HOUSE.glob("web/static/**/*.js")}

    assert {name: kinds for name, kinds in wrong.items() if kinds} == {}


def kinds_asked_for(text: str) -> set[str]:
    """The kinds of which a Python text asks a job for its entries."""
    calls = [node for node in nodes(text) if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
             and node.func.attr in ("of", "last", "the")]
    given = [one.value for call in calls for one in call.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
    return {one for one in given if re.fullmatch(r"[a-z_]+\.[a-z_]+", one)}


def kinds_on_page(text: str) -> set[str]:
    """The kinds that a template or a script asks a person for."""
    found = re.findall(r"""(?:entry_form |kind[=:] ?)"([a-z_]+\.[a-z_]+)"|"([a-z_]+\.[a-z_]+)" in may""", text)
    return {one for pair in found for one in pair if one}


def all_of(pattern: str, of: Callable[[str], set[str]]) -> set[str]:
    return set().union(*(of(file.read_text(encoding="utf-8")) for file in HOUSE.glob(pattern)))


def test_every_kind_that_is_asked_for_has_its_row():
    asked = set().union(*(kinds_asked_for(text) for text in outside().values()))

    assert len(asked) > 20 and asked - set(KINDS) == set()


def test_every_kind_that_people_add_has_its_form():
    asked = all_of("web/templates/**/*.html", kinds_on_page) | all_of("web/static/**/*.js", kinds_on_page)

    assert asked == {kind.name for kind in KINDS.values() if kind.adds and kind.roles}


def test_a_kind_without_a_row_is_seen():
    assert kinds_asked_for("a = job.of('coupon.bent')") - set(KINDS) == {"coupon.bent"}
    assert kinds_on_page('{% entry_form "coupon.bent" job=job %}{% if "coupon.cut" in may %}') == {"coupon.bent", "coupon.cut"}


def test_a_planted_table_is_seen():
    three = '"air.read": 1, "layer.fused": 2, "film.measured": 3'

    assert tables_by_kind("A = {" + three + "}") == tables_by_kind("{**D, " + three + "}") == [1]
    assert tables_by_kind("B = (('air.read', 1), ('layer.fused', 2), ('film.measured', 3))") == [1]
    assert tables_by_kind("match a:\n case 'air.read': 1\n case 'layer.fused' | 'heat.logged': 2") == [1]
    assert tables_by_kind("a, b, c = job.of('air.read'), job.of('layer.fused'), job.of('film.measured')") == []
    assert tables_in_script("const PAGE = {" + three + "}")
    assert tables_in_script("data-kind_air_read data-kind_layer_fused data-kind_film_measured")
    assert tables_in_script('item.kind === "air.read"') == set()


def test_a_planted_row_that_lacks_something_is_seen():
    row = KINDS["air.read"]

    assert faults(replace(row, label="")) == ["air.read: no label"]
    assert faults(replace(row, line=ELSEWHERE)) == ["air.read: no line on the certificate"]
    assert faults(replace(row, step="")) == ["air.read: no page to be made on"]
    assert faults(replace(row, step="sandblasting", covered_by="x")) == ["air.read: an unknown step or hold point"]
    assert faults(replace(row, section="")) == ["air.read: no section of the job sheet"]
    assert faults(replace(row, measured_with=())) == ["air.read: no kind of instrument that fits it"]


def test_each_kind_has_its_row_whole():
    assert [fault for kind in KINDS.values() for fault in faults(kind)] == []


def test_a_planted_kind_goes_from_the_sheet_to_the_certificate(monkeypatch):
    """The worked case of CONTRIBUTING.md: nothing but its row is needed."""
    class EdgeTapped(Request):
        hollow_pct: Annotated[float, Quantity("Share that rang hollow", "%", at_least=0, at_most=100)]

    row = Kind("edge.tapped", EdgeTapped, "Edge tapped", lambda b: f"{b.hollow_pct:g} % rang hollow", section="tapped",
               step="conditions", roles=LOOKING)
    monkeypatch.setitem(KINDS, row.name, row)
    monkeypatch.setitem(SECTIONS, row.section, row)
    sheet = deepcopy(read_folder(ROOT / "examples" / "thin-edge-cover", tell=lambda line: None).sheet)
    sheet["tapped"] = [{"at": sheet["prepared"][0]["at"], "by": "ines", "hollow_pct": 2.5}]
    outcome = judge_job(events_of(sheet), estimates=False)
    view = certificate_view(outcome, issued_at=sheet["film"][0]["at"], record_digest="0" * 64)

    assert [step.detail for step in view.steps if step.what == "Edge tapped"] == ["2.5 % rang hollow"]
    assert [field.label for field in fields_of("edge.tapped")] == ["Share that rang hollow"]
    assert "Edge tapped" in every_word() and faults(row) == []
