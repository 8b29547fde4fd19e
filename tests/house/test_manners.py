"""Does the house keep its manners: no word it must not say, no path of a machine, a page for every command?"""

import ast
import re
import subprocess
from pathlib import Path

import pytest

import soundedge
from soundedge.basis.sources import sources
from soundedge.cli.bench import COMMANDS

from .nodes import nodes

HOUSE = Path(soundedge.__file__).parent
ROOT = Path(__file__).parents[2]
PROSE = sorted(
    file
    for file in (*HOUSE.rglob("*.*"), *ROOT.glob("docs/*.md"), ROOT / "README.md")
    if file.suffix in (".py", ".toml", ".typ", ".md") and file.name != "sources.toml"  # titles of books say what they say
)


def texts(file: Path) -> list[str]:
    """What a file may print: string constants of Python without docstrings, the whole of anything else."""
    text = file.read_text(encoding="utf-8")
    if file.suffix != ".py":
        return [text]
    docs = {
        id(node.body[0].value)
        for node in nodes(text)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and node.body and isinstance(node.body[0], ast.Expr)
    }
    return [n.value for n in nodes(text) if isinstance(n, ast.Constant) and isinstance(n.value, str) and id(n) not in docs]


@pytest.mark.parametrize("file", PROSE, ids=lambda file: str(file.relative_to(ROOT)))
def test_nothing_is_called_safe(file):
    # 'unsafe-inline' is a keyword of Content Security Policy (W3C), not a word to people
    said = [text[:80] for text in texts(file) if re.search(r"\b(un)?safe\b", text.replace("'unsafe-inline'", ""), re.I)]

    assert said == []


def test_no_committed_file_names_a_machine():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    pattern = re.compile("/wo" + "rk/|/ro" + "ot/|/tm" + "p/[a-z]", re.I)
    wrong = []
    for name in listed:
        path = ROOT / name
        if path.suffix in (".py", ".md", ".toml", ".sh", ".typ", ".html", ".js", ".css", "") and path.is_file():
            wrong += [f"{name}: {line.strip()[:80]}" for line in path.read_text(encoding="utf-8", errors="replace").splitlines()
                      if pattern.search(line)]

    assert wrong == []


def test_every_source_that_is_cited_is_held():
    cited = set()
    for file in HOUSE.rglob("*.py"):
        cited |= set(re.findall(r"""(?<![.\w])cite\(["']([a-z0-9_]+)["']""", file.read_text(encoding="utf-8")))

    assert cited - set(sources()) == set()


def test_every_command_can_say_what_it_does():
    import importlib

    for name, (module, line) in COMMANDS.items():
        command = importlib.import_module(f"soundedge.cli.{module}").command

        assert command.help, name
        assert line.endswith(".") or line.endswith("?"), name


def test_the_page_of_sources_is_what_the_tables_say():
    """Made, not typed: run ``python scripts/sources_page.py`` after a change of the tables."""
    import runpy

    made = runpy.run_path(str(ROOT / "scripts" / "sources_page.py"))

    assert (ROOT / "docs" / "sources.md").read_text(encoding="utf-8") == made["page"]()


def test_the_table_of_limits_is_what_the_code_reads():
    """Made, not typed: run ``python scripts/limits_page.py`` after a change of the limits."""
    import runpy

    made = runpy.run_path(str(ROOT / "scripts" / "limits_page.py"))
    held = (ROOT / "docs" / "procedure.md").read_text(encoding="utf-8")

    assert made["page"](held) == held


def test_most_constants_were_read_and_nearly_all_that_a_verdict_is_held_against():
    """At most a quarter of the tables' constants from memory, and a tenth of those that decide where procedure and request say
    nothing; `python scripts/sources_page.py --counts` prints them by room."""
    import runpy

    held = list(runpy.run_path(str(ROOT / "scripts" / "sources_page.py"))["constants"]())
    decide = [one for one in held if one.decides]

    assert len(held) > 200 and len(decide) > 50
    assert sum(one.mark == "memory" for one in held) <= 0.25 * len(held)
    assert sum(one.mark == "memory" for one in decide) <= 0.10 * len(decide)
