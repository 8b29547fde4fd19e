"""Do the files beside the source say what the source says: hooks, versions, locks, and no address outside?"""

import re
import tomllib
from pathlib import Path

import pytest

import soundedge

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LOCKS = ("run.lock", "test.lock")


def locked(name: str) -> dict[str, str]:
    """Package and version of each line of a lock that names one."""
    text = (ROOT / "requirements" / name).read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z0-9][a-z0-9._-]*)==([^\s;\\]+)", text, re.MULTILINE))


def test_the_hooks_run_what_make_check_runs():
    recipe = (ROOT / "Makefile").read_text(encoding="utf-8").partition("\ncheck:")[2].partition("\n\n")[0]
    makes = re.findall(r"^\t@\$\(BIN\)/(.+)$", recipe, re.MULTILINE)
    hooks = re.findall(r"entry: \.venv/bin/(.+)$", (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"), re.MULTILINE)

    assert makes and hooks == makes


def test_hooks_come_from_here_alone():
    text = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")

    assert re.findall(r"repo: (\S+)", text) == ["local"]


@pytest.mark.parametrize("name", LOCKS)
def test_every_package_that_is_asked_for_is_locked_with_a_hash_and_no_address(name):
    text = (ROOT / "requirements" / name).read_text(encoding="utf-8")
    asked = [*PROJECT["project"]["dependencies"], *(PROJECT["dependency-groups"]["dev"] if name == "test.lock" else ())]
    names = {re.split(r"[<>=\[ ]", one)[0].lower() for one in asked}

    assert names - set(locked(name)) == set()
    assert "://" not in text and "index-url" not in text
    assert [block for block in re.split(r"\n(?=[a-z0-9])", text) if "==" in block and "--hash=sha256:" not in block] == []


def test_what_the_bench_runs_with_is_what_the_tests_run_with():
    run, test = (locked(name) for name in LOCKS)

    assert {name: version for name, version in run.items() if test.get(name) != version} == {}


def test_the_change_log_begins_with_what_is_not_released_and_holds_this_version():
    heads = re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)

    assert heads[0] == "Unreleased" and any(head.split()[0] == soundedge.__version__ for head in heads[1:])


def test_container_and_service_name_no_host():
    for file in (ROOT / "packaging").iterdir():
        assert not re.search(r"://|\b[a-z0-9-]+\.(?:io|com|org|net|dev)\b", file.read_text(encoding="utf-8")), file.name
