"""Who imports whom? Read from the text of the files, so that nothing is run; imports inside functions count too."""

import ast
import re
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

import soundedge

from .nodes import nodes

HOUSE = Path(soundedge.__file__).parent
STATIC = HOUSE / "web" / "static"
_JS_IMPORT = re.compile(r"""^(?:import|export)\b[^"';]*["'](\.[^"']+)["']|\bimport\(\s*["'](\.[^"']+)["']\s*\)""", re.M)


@cache
def doors(text: str, package: tuple[str, ...]) -> frozenset[str]:
    """Every module a source text imports, as a full dotted name."""
    found = set()
    for node in nodes(text):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join((*base, *([node.module] if node.module else ())))
            found |= {f"{stem}.{alias.name}" for alias in node.names}
    return frozenset(found)


def opened(room: str = ".") -> set[tuple[str, str]]:
    """(file, module) for every import in a room; in the whole house when none is named."""
    out = set()
    for file in sorted((HOUSE / room).rglob("*.py")):
        package = ("soundedge", *file.relative_to(HOUSE).parts[:-1])
        out |= {(file.relative_to(HOUSE).as_posix(), name) for name in doors(file.read_text(encoding="utf-8"), package)}
    return out


def python_edges() -> dict[str, set[str]]:
    """File → the files of the house that it imports."""
    files = {file.relative_to(HOUSE).as_posix() for file in HOUSE.rglob("*.py")}
    named = {f"soundedge.{name.removesuffix('.py').removesuffix('/__init__').replace('/', '.')}": name for name in files}
    edges: dict[str, set[str]] = {name: set() for name in files}
    for file, module in opened():
        target = named.get(module) or named.get(module.rpartition(".")[0])
        if target is not None and target != file:
            edges[file].add(target)
    return edges


def script_imports(text: str) -> set[str]:
    """The relative addresses a script imports."""
    return {a or b for a, b in _JS_IMPORT.findall(text)}


def script_edges() -> dict[str, set[str]]:
    """Script → the scripts of the house that it imports."""
    edges = {}
    for file in sorted(STATIC.rglob("*.js")):
        found = {(file.parent / name).resolve() for name in script_imports(file.read_text(encoding="utf-8"))}
        edges[file.relative_to(HOUSE).as_posix()] = {one.relative_to(HOUSE.resolve()).as_posix() for one in found}
    return edges


def rings(edges: Mapping[str, Iterable[str]]) -> list[tuple[str, ...]]:
    """Every set of names each of which leads to every other, in order (Tarjan's strongly connected components)."""
    number: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    out = []

    def visit(name: str) -> None:
        number[name] = low[name] = len(number)
        stack.append(name)
        for other in sorted(edges.get(name, ())):
            if other not in number:
                visit(other)
            if other in stack:
                low[name] = min(low[name], low[other])
        if low[name] == number[name]:
            at = stack.index(name)
            ring, stack[at:] = stack[at:], []
            if len(ring) > 1:
                out.append(tuple(sorted(ring)))

    for name in edges:
        if name not in number:
            visit(name)
    return sorted(out)
