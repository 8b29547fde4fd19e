"""No test sees the keys of the person who runs it, and none depends on a clock."""

import os

import pytest
from hypothesis import settings

# A slow machine is no fault of the code; in CI the same examples are tried every time.
settings.register_profile("house", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("house")


@pytest.fixture(autouse=True)
def no_keys_of_ours(monkeypatch, tmp_path_factory):
    """``SOUNDEDGE_KEYS`` names an empty place and ``SOUNDEDGE_DATA`` nothing, unless a test says otherwise."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path_factory.getbasetemp() / "no-keys-here"))
    monkeypatch.delenv("SOUNDEDGE_DATA", raising=False)
