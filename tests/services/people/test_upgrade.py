"""Does an installation of every earlier version open with this one? Three, each made by its own program, lie here."""

import hashlib
import os
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

import soundedge.store.accounts.migrations as folder

STORED = sorted((Path(__file__).parent / "installations").glob("*.tar.gz"))
# A migration that is out is never edited: an installation counts it as applied and looks no further. Add the next one.
HELD = {
    "0001_initial.py": "6cceeb629344f36debdaeee81fbab760a39f29c3043de509c48ae0a60b79442c",
    "0002_what_earlier_firsts_left.py": "5e4989bc3f9167bc0a4ab8025299020f1bfbfa25b4cd0b23c48550ece49ccf87",
}
OPEN = """
from soundedge.services.people import installation
installation.migrate()
from django.test import Client
from soundedge.store.accounts.models import Account, Device, SignedIn
client = Client(HTTP_HOST="localhost", SERVER_NAME="localhost")
signing_in = client.post("/sign-in/", {"login": "mara", "password": "four quiet harbour words"}, secure=True)
assert signing_in.status_code == 302, (signing_in.status_code, signing_in.content[:400])
assert Account.objects.get().login == "mara" and SignedIn.objects.get().seen_at is not None
assert Device.objects.get().photo_bytes == 0
from django.core.management import call_command
call_command("makemigrations", check=True, dry_run=True, verbosity=0)
print("open")
"""


@pytest.mark.sqlite_only("these installations are files")
@pytest.mark.parametrize("stored", STORED, ids=lambda file: file.name.split(".")[0])
def test_an_installation_of_every_version_opens_and_lets_its_people_in(stored, tmp_path):
    with tarfile.open(stored) as held:
        held.extractall(tmp_path, filter="data")
    given = {name: value for name, value in os.environ.items() if not name.startswith("SOUNDEDGE_")}
    given |= {"SOUNDEDGE_ROOT": str(tmp_path / "bench"), "SOUNDEDGE_KEYS": str(tmp_path / "keys")}

    done = subprocess.run([sys.executable, "-c", OPEN], capture_output=True, text=True, env=given)

    assert done.stdout == "open\n", done.stderr[-1500:]


def test_three_stored_installations_are_tried():
    assert len(STORED) == 3


def test_a_migration_that_is_out_is_not_edited():
    here = {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in Path(folder.__path__[0]).glob("0*.py")}

    assert here == HELD
