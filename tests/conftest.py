"""No test sees the keys or the language of the person who runs it, and none depends on a clock."""

import gc
import os

import pytest
from hypothesis import settings

from soundedge.heat import compiled, march

from .postgres import OWNER_URL, another
from .tries import PROFILES

# A slow machine is no fault of the code; in CI the same examples are tried every time.
for name, tried in PROFILES.items():
    settings.register_profile(name, max_examples=tried, deadline=None, derandomize=bool(os.environ.get("CI")))

# Only a database that was made for the tests (python -m tests.postgres …) is ever written to; each process has its own.
IN_DATABASE = OWNER_URL in os.environ
if IN_DATABASE:
    os.environ.update(another())
else:
    os.environ.pop("SOUNDEDGE_DATABASE_URL", None)


def pytest_addoption(parser):
    parser.addoption("--release", action="store_true", help="all of it: tests marked so too, every made-up example")


def pytest_configure(config):
    """Hypothesis' own ``--hypothesis-profile`` is read after this and wins."""
    settings.load_profile("release" if config.getoption("release") else "change")


def heat(section, values, program):
    """The heat model is woken by whoever asks it first, and then marches compiled, as at a bench that serves (tests/heat
    holds both ways against each other)."""
    compiled.wake()
    return compiled.march_all(section, values, program)


march.compiled = heat


def pytest_collection_finish():
    """What was read for all tests stays until the end: nobody looks through it for what could be thrown away."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    """What only a release asks for is left out of a run for a change (make test); nothing else is."""
    if not config.getoption("release"):
        left = [item for item in items if item.get_closest_marker("release")]
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if not item.get_closest_marker("release")]


def pytest_runtest_setup(item):
    """What is about one store alone is left out, with its reason, when the suite runs on the other."""
    about_file = item.get_closest_marker("sqlite_only")
    if IN_DATABASE and about_file:
        pytest.skip(f"the ledger is in PostgreSQL: {about_file.args[0]}")
    if not IN_DATABASE and item.get_closest_marker("postgres_only"):
        pytest.skip("the ledger is a file; python -m tests.postgres runs this")


@pytest.fixture(autouse=True)
def no_keys_of_ours(monkeypatch, tmp_path_factory):
    """``SOUNDEDGE_KEYS`` names an empty place and ``SOUNDEDGE_DATA`` nothing, unless a test says otherwise."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path_factory.getbasetemp() / "no-keys-here"))
    monkeypatch.delenv("SOUNDEDGE_DATA", raising=False)
    monkeypatch.setenv("SOUNDEDGE_LANGUAGE", "en")
    monkeypatch.delenv("SOUNDEDGE_UNITS", raising=False)
