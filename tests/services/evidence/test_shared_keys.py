"""Two hosts, one set of keys, photos and checkpoints in PostgreSQL: what one writes the other has; it lies there sealed."""

import os
import shutil
from types import SimpleNamespace

import pytest

from soundedge.basis.errors import Conflict, Missing, NotEnough, RecordBroken, Refused, Unknown, Unreadable
from soundedge.services.evidence import backup, keyring, person_keys, sharing
from soundedge.services.evidence.doctor import examine
from soundedge.services.evidence.key_files import key_folder
from soundedge.services.evidence.key_rotation import rotate_keys
from soundedge.services.evidence.ledger_place import MARKER, files_of, find_shops, open_ledger
from soundedge.services.evidence.shared_keys import SECRET, bring, shared_by
from soundedge.services.evidence.witness import guard, last_signed, sign_checkpoint
from soundedge.store.blobs import Blobs

from ...postgres import OWNER_URL
from ..shopfloor import BOTH, NOW, WHY, WORDS, cheap_passphrases, everything_in, keys_in, write_job

pytestmark = [pytest.mark.store_contract, pytest.mark.postgres_only]
PAGE = b"%PDF-1.7 a page of the Kelderbeck Basin Works"


@pytest.fixture
def hosts(tmp_path, monkeypatch):
    """Two hosts: the first has a shop, its keys and a photo; both share them. ``at`` sits down at one."""
    here = {}
    for name in ("first", "second"):
        here[name] = SimpleNamespace(root=tmp_path / name / "bench", base=tmp_path / name / "keys")
        here[name].data = here[name].root / "shops" / "kelderbeck"
        here[name].keys = here[name].base / "kelderbeck"
    first, second = here["first"], here["second"]
    first.base.mkdir(parents=True, mode=0o700)
    shutil.move(keys_in(tmp_path), first.keys)

    def at(host):
        monkeypatch.setenv("SOUNDEDGE_KEYS", str(host.base))
        return host

    at(first)
    write_job(first.data)
    first.photo = Blobs(first.data / "blobs").put(PAGE)
    first.said = sharing.share(first.root)
    second.base.mkdir(parents=True, mode=0o700)
    shutil.copy2(first.base / SECRET, second.base / SECRET)
    return SimpleNamespace(first=first, second=second, at=at)


def owner(question, *values):
    """Asked by the database's administrator, whom no wall holds."""
    import psycopg

    with psycopg.connect(os.environ[OWNER_URL], user="postgres", autocommit=True) as db:
        done = db.execute(question, values)
        return done.fetchall() if done.description else []


def installation(host):
    return shared_by(host.base).place


def test_the_second_host_has_keys_shop_and_photo_from_the_secret_alone(hosts):
    hosts.at(hosts.second)
    find_shops(hosts.second.root)

    assert keyring.load(hosts.second.keys) .key == keyring.load(hosts.first.keys).key
    assert keyring.load(hosts.second.keys).signing == keyring.load(hosts.first.keys).signing
    assert files_of(hosts.second.data).get(hosts.first.photo) == PAGE
    with open_ledger(hosts.second.data, make=False) as ledger, open_ledger(hosts.first.data, make=False) as other:
        assert ledger.link() == other.link() and ledger.size() > 0
    for file in hosts.second.base.rglob("*"):
        assert file.stat().st_mode & 0o077 == 0, file


def test_a_shop_that_is_made_later_is_found_without_a_restart(hosts):
    later = [host.root / "shops" / "annex" for host in (hosts.first, hosts.second)]
    hosts.at(hosts.first)
    with open_ledger(later[0]) as ledger:
        tenant = ledger.tenant
    digest = files_of(later[0]).put(PAGE)

    hosts.at(hosts.second)
    with open_ledger(later[1], make=False) as ledger:
        assert ledger.tenant == tenant
    assert files_of(later[1]).get(digest) == PAGE and not (later[0] / "blobs").exists()


def test_a_password_changed_at_one_counts_at_the_other_and_a_retired_key_is_gone_there(hosts):
    hosts.at(hosts.second)
    with cheap_passphrases():
        seed = person_keys.person_seed("amara", WORDS["amara"], folder=hosts.second.keys)
        person_keys.reseal_person("amara", WORDS["amara"], "a third set of words", folder=hosts.second.keys)
        person_keys.retire_person("tobias", folder=hosts.second.keys)

    hosts.at(hosts.first)
    with pytest.raises(Refused):
        person_keys.person_seed("amara", WORDS["amara"], folder=hosts.first.keys)
    assert person_keys.person_seed("amara", "a third set of words", folder=hosts.first.keys) == seed
    with pytest.raises(Unknown):
        person_keys.person_seed("tobias", WORDS["tobias"], folder=hosts.first.keys)
    assert len(person_keys.person_keys(hosts.first.keys)) == 2  # what tobias signed before still counts


def test_a_log_key_changed_at_one_signs_at_the_other_and_each_goes_on_from_the_others_checkpoint(hosts):
    hosts.at(hosts.first)
    fresh = rotate_keys(hosts.first.data, BOTH, WHY, now=NOW, keys=hosts.first.keys)

    hosts.at(hosts.second)
    find_shops(hosts.second.root)
    held = keyring.load(hosts.second.keys)
    assert held.key == fresh.key and last_signed(hosts.second.keys) == last_signed(hosts.first.keys) != ""
    guard(hosts.second.data, folder=hosts.second.keys)
    write_job(hosts.second.data, "KBW-2031-015")
    with open_ledger(hosts.second.data, make=False) as ledger:
        note = sign_checkpoint(ledger, held, data=hosts.second.data)

    hosts.at(hosts.first)
    assert last_signed(hosts.first.keys) == note
    assert guard(hosts.first.data, folder=hosts.first.keys).fault is None


def test_what_lies_in_the_database_tells_nothing_and_moves_nowhere(hosts):
    place = installation(hosts.first)
    rows = owner("SELECT name, revision, sealed FROM soundedge.shared WHERE tenant = %s ORDER BY revision", place)
    secret = (hosts.first.keys / "log.key").read_bytes()
    assert "keys/kelderbeck/log.key" in [name for name, _, _ in rows] and f"keys/{SECRET}" not in [row[0] for row in rows]
    for _, _, sealed in rows:
        assert b"PRIVATE" not in sealed and secret[20:60] not in sealed

    owner("UPDATE soundedge.shared SET sealed = %s WHERE tenant = %s AND name = %s", rows[0][2], place, rows[1][0])
    hosts.at(hosts.second)
    with pytest.raises(RecordBroken, match="does not open"):
        key_folder(hosts.second.keys)
    assert not hosts.second.keys.exists()


def test_an_older_copy_of_the_database_is_noticed(hosts):
    hosts.at(hosts.second)
    bring(hosts.second.base)
    before = everything_in(hosts.second.base)
    owner("DELETE FROM soundedge.shared WHERE tenant = %s AND revision > 2", installation(hosts.first))

    with pytest.raises(RecordBroken, match="older copy"):
        key_folder(hosts.second.keys)
    assert everything_in(hosts.second.base) == before


def test_a_folder_with_keys_of_its_own_is_not_covered(hosts, tmp_path):
    own = hosts.second.keys
    own.mkdir(mode=0o700)
    (own / "log.key").write_text("mine\n")
    hosts.at(hosts.second)

    with pytest.raises(Refused, match="of its own"):
        key_folder(own)
    assert (own / "log.key").read_text() == "mine\n"


def test_a_secret_others_may_read_is_refused_and_so_is_one_that_is_damaged(hosts):
    hosts.at(hosts.second)
    (hosts.second.base / SECRET).chmod(0o640)
    with pytest.raises(Refused, match="0640"):
        key_folder(hosts.second.base)
    (hosts.second.base / SECRET).chmod(0o600)
    (hosts.second.base / SECRET).write_text("soundedge-host-secret-1\nabc\n\n")
    with pytest.raises(Unreadable, match="no host secret"):
        key_folder(hosts.second.base)


def test_without_the_database_nothing_of_what_is_shared_is_read(hosts, monkeypatch):
    monkeypatch.delenv("SOUNDEDGE_DATABASE_URL")
    with pytest.raises(Missing, match="SOUNDEDGE_DATABASE_URL"):
        keyring.load(hosts.first.keys)


def test_a_ledger_in_a_file_is_not_shared(hosts, tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "others"))
    (tmp_path / "bench" / "shops" / "annex").mkdir(parents=True)
    with pytest.raises(NotEnough, match="database move"):
        sharing.share(tmp_path / "bench")
    assert not (tmp_path / "others").exists()


def test_sharing_again_brings_what_is_new_and_the_old_folder_stays_beside(hosts):
    assert "1 file of 1 shops" in hosts.first.said and (hosts.first.data / "blobs.moved").is_dir()
    hosts.at(hosts.first)
    assert "0 files of 1 shops" in sharing.share(hosts.first.root)
    assert "1 shops and 1 photos" in sharing.state(hosts.first.root)


def test_a_backup_holds_the_photos_and_comes_back_at_either_host(hosts, tmp_path):
    hosts.at(hosts.first)
    copy = backup.make(hosts.first.data, tmp_path / "stick", now=NOW, keys=keyring.load(hosts.first.keys))
    assert copy.files == 1
    assert backup.drill(tmp_path / "stick")[0].files == 1
    assert not list((tmp_path / "stick").rglob("*.key")) and not list((tmp_path / "stick").rglob(SECRET))

    hosts.at(hosts.second)
    again = hosts.second.root / "shops" / "kelderbeck-2"
    backup.restore(tmp_path / "stick", again, keys_folder=hosts.second.keys)
    assert files_of(again).get(hosts.first.photo) == PAGE and not (again / "blobs").exists()
    find_shops(hosts.second.root)
    with pytest.raises(Conflict):
        backup.restore(tmp_path / "stick", hosts.second.data, keys_folder=hosts.second.keys)


def test_the_doctor_reads_the_photos_where_they_lie(hosts):
    hosts.at(hosts.second)
    find_shops(hosts.second.root)
    looks = {look.name: look for look in examine(hosts.second.data, now=NOW, folder=hosts.second.keys)}
    assert looks["verified"].well and "All 1 files" in looks["verified"].said
    assert looks["keys"].well

    tenant = (hosts.second.data / MARKER).read_text().split()[0]
    owner("ALTER TABLE soundedge.files DROP CONSTRAINT true_digest")
    try:
        owner("UPDATE soundedge.files SET content = 'another photo' WHERE tenant = %s", tenant)
        look = next(look for look in examine(hosts.second.data, now=NOW, folder=hosts.second.keys) if look.name == "verified")
        assert not look.well and "table" in look.said
        with pytest.raises(RecordBroken):
            files_of(hosts.second.data).get(hosts.first.photo)
    finally:
        owner("DELETE FROM soundedge.files WHERE tenant = %s", tenant)
        owner("ALTER TABLE soundedge.files ADD CONSTRAINT true_digest CHECK (digest = encode(sha256(content), 'hex'))")


def test_the_bench_can_neither_change_nor_remove_a_photo_nor_keep_one_under_a_false_digest(hosts):
    import psycopg

    tenant = (hosts.first.data / MARKER).read_text().split()[0]
    for question in ("UPDATE soundedge.files SET content = ''", "DELETE FROM soundedge.files",
                     f"INSERT INTO soundedge.files VALUES ('{tenant}', '{'0' * 64}', 'x')",
                     "DELETE FROM soundedge.shared"):
        with psycopg.connect(os.environ["SOUNDEDGE_DATABASE_URL"]) as db:
            db.execute(f"SELECT set_config('soundedge.tenant', '{tenant}', true)")
            with pytest.raises((psycopg.errors.InsufficientPrivilege, psycopg.errors.CheckViolation)):
                db.execute(question)
    with psycopg.connect(os.environ["SOUNDEDGE_DATABASE_URL"]) as db:
        assert db.execute("SELECT count(*) FROM soundedge.files").fetchone() == (0,)  # who names no shop sees none
