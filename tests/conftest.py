"""No test sees the keys of the person who runs it: keys are looked for where there are none."""

import pytest


@pytest.fixture(autouse=True)
def no_keys_of_ours(monkeypatch, tmp_path_factory):
    """``SOUNDEDGE_KEYS`` names an empty place and ``SOUNDEDGE_DATA`` nothing, unless a test says otherwise."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path_factory.getbasetemp() / "no-keys-here"))
    monkeypatch.delenv("SOUNDEDGE_DATA", raising=False)
