"""A job sheet as plain values, for tests that change one thing of it: the released cover, without files."""

import copy
import tomllib
from pathlib import Path

from soundedge.services.folder.contents import read_folder

EXAMPLES = Path(__file__).parents[2] / "examples"
_HELD: dict[str, dict] = {}


def sheet(name: str = "mixer-cover") -> dict:
    """The sheet of an example with its files' values in place; a fresh copy every time."""
    if name not in _HELD:
        _HELD[name] = read_folder(EXAMPLES / name).sheet
    return copy.deepcopy(_HELD[name])


def written(name: str = "mixer-cover") -> dict:
    """The sheet as it was typed, files still named."""
    return tomllib.loads((EXAMPLES / name / "job.toml").read_text(encoding="utf-8"))


def blocks(outcome) -> list[str]:
    """The names of the rules that hold a judged job."""
    return [block.rule for block in outcome.blocked_by]
