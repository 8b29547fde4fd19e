"""Every test of the web has the installation of its process; ``shop`` is a fresh shop, ``live`` a port for a browser."""

import os

import pytest

from .installation import Live, new_shop, set_up


@pytest.fixture(scope="session")
def installation(tmp_path_factory):
    root = tmp_path_factory.mktemp("bench")
    set_up(root)
    return root


@pytest.fixture(autouse=True)
def in_installation(request, monkeypatch):
    """The keys of the installation, where a test asks for it (tests/conftest.py hides all keys)."""
    if {"installation", "shop", "live"} & set(request.fixturenames):
        root = request.getfixturevalue("installation")
        monkeypatch.setenv("SOUNDEDGE_KEYS", str(root / "keys"))
        monkeypatch.setenv("SOUNDEDGE_ROOT", os.path.join(root, "installation"))


@pytest.fixture(scope="module")
def keys_for_module(installation):
    """The keys of the installation while the shop of a whole module is made and used."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOUNDEDGE_KEYS", str(installation / "keys"))
        patch.setenv("SOUNDEDGE_ROOT", str(installation / "installation"))
        yield


@pytest.fixture
def shop(installation, in_installation):
    return new_shop()


@pytest.fixture(scope="session")
def live_session(installation):
    live = Live()
    yield live
    live.stop()


@pytest.fixture
def live(live_session, in_installation):
    return live_session
