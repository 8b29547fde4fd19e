"""Is there one table of signs, and does each place that shows one read it?"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import soundedge
from soundedge.basis import signs

HERE = Path(soundedge.__file__).parent
NUMBER = re.compile(r"-?\d*\.?\d+")


def test_every_word_has_a_sign_and_every_sign_is_drawn_and_said():
    assert set(signs.SIGNS.values()) == set(signs.PATHS) == set(signs.SAYS)


def test_the_web_says_every_word_that_it_shows_by_the_table():
    written = ast.parse((HERE / "web/templatetags/bench.py").read_text("utf-8"))
    (words,) = [node.value for node in written.body if isinstance(node, ast.Assign) and node.targets[0].id == "WORDS"]
    said = {key.value for key in words.keys}
    assert len(said) > 20 and said <= set(signs.SIGNS), sorted(said - set(signs.SIGNS))


@pytest.mark.parametrize("word", ["not_measured", "open", "held", "no", "a word of tomorrow"])
def test_what_is_only_not_done_yet_is_quiet(word):
    assert signs.sign_of(word) == "dash"
    assert signs.sign_of(word) not in signs.LOUD


@pytest.mark.parametrize("word", ["does_not_conform", "rejected", "scrap", "holds", "bad"])
def test_what_was_measured_and_is_bad_is_loud(word):
    assert signs.sign_of(word) in signs.LOUD


@pytest.mark.parametrize("sign", sorted(signs.PATHS))
def test_a_sign_stays_in_its_box(sign):
    first = [float(one) for one in NUMBER.findall(re.match(r"M[^a-zA-LN-Z]*", signs.PATHS[sign])[0])]
    assert all(0 <= one <= signs.BOX for one in first) and signs.PATHS[sign].endswith("z")


def test_no_file_of_the_web_names_a_sign_that_is_not_drawn():
    named = re.compile(r"""\{% shape "(\w+)" %\}|\bpaint\([^,]+, "(\w+)"\)|\bshape\("(\w+)"\)|#sign-(\w+)|\.shape-(\w+)""")
    for file in [*(HERE / "web").rglob("*.html"), *(HERE / "web").rglob("*.js"), *(HERE / "web").rglob("*.css")]:
        for found in named.finditer(file.read_text("utf-8")):
            one = next(part for part in found.groups() if part)
            assert one in signs.PATHS, f"{file.name}: {one}"
