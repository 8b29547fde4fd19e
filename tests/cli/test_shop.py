"""The shops of an installation from the terminal: opened, listed, an account opened again."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from soundedge.services.evidence.ledger_place import there

from ..postgres import OWNER_URL, another

BENCH = Path(sys.executable).with_name("soundedge")


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    return tmp_path_factory.mktemp("installation")


@pytest.fixture(scope="module")
def bench(root):
    """``soundedge shop …`` in one installation; every test here uses shops and names of its own in it."""
    given = {name: value for name, value in os.environ.items() if not name.startswith("SOUNDEDGE_") or "_URL" in name}
    given |= {"SOUNDEDGE_KEYS": str(root / "keys"), "SOUNDEDGE_LANGUAGE": "en"}
    if OWNER_URL in os.environ:
        given |= another()

    def run(*words, due=0):
        done = subprocess.run([BENCH, "shop", *words, "--root", root / "bench"], capture_output=True, text=True, env=given)
        assert done.returncode == due, done.stderr
        return done

    return run


@pytest.fixture(scope="module")
def first(bench):
    """The first shop of the installation: what was said when it was opened, and both lists just after."""
    made = bench("new", "basin-two", "Basin Two", "--manager", "Mara Lindqvist", "--login", "Mara", "--json").stdout
    return json.loads(made), json.loads(bench("list", "--json").stdout), bench("list").stdout


@pytest.mark.store_contract
def test_a_shop_is_opened_with_a_manager_whose_password_is_shown_once(first):
    made, shops, listed = first
    assert made["login"] == "mara" and len(made["one_time_password"]) == 19
    assert [(one["slug"], [who["role"] for who in one["accounts"]]) for one in shops] == [("basin-two", ["manager"])]
    assert made["one_time_password"] not in listed


@pytest.mark.store_contract
def test_a_second_shop_has_its_own_keys_and_ledger(bench, first, root):
    bench("new", "basin-one", "basin-one", "--manager", "Mara of basin-one", "--login", "mara.basin-one")
    keys = [(root / "keys" / slug / "log.pub").read_text() for slug in ("basin-one", "basin-two")]
    assert keys[0] != keys[1]
    assert there(root / "bench" / "shops" / "basin-one")
    assert there(root / "bench" / "shops" / "basin-two")


def test_a_name_that_is_taken_or_cannot_be_one_is_refused_in_words(bench, first):
    assert "already" in bench("new", "basin-two", "Two", "--manager", "M", "--login", "other", due=2).stderr
    assert "Choose another" in bench("new", "../x", "One", "--manager", "M", "--login", "other", due=2).stderr
    assert "no account" in bench("unlock", "nobody", due=2).stderr


@pytest.mark.store_contract
def test_a_manager_whom_nobody_can_help_gets_a_new_password_at_the_machine_and_the_ledger_says_so(bench, first, root):
    again = json.loads(bench("reset", "Mara", "--because", "forgot it,\nno other", "--json").stdout)
    assert again["login"] == "mara" and again["one_time_password"] != first[0]["one_time_password"]
    if OWNER_URL not in os.environ:
        ledger = (root / "bench" / "shops" / "basin-two" / "ledger.sqlite3").read_bytes()
        wal = root / "bench" / "shops" / "basin-two" / "ledger.sqlite3-wal"
        assert b"At the machine itself: forgot it, no other" in ledger + (wal.read_bytes() if wal.exists() else b"")
    assert "no account" in bench("reset", "nobody", "--because", "x", due=2).stderr
    assert "A reason is needed" in bench("reset", "mara", "--because", " ", due=2).stderr
