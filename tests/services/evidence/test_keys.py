"""Keys: made private, refused elsewhere, brought back from paper, changed by two people and never by one."""

import os
import stat

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Conflict, Missing, NotEnough, Refused, Unknown, Unreadable
from soundedge.record.rotation import SHOP
from soundedge.services.evidence import key_files, key_rotation, keyring, person_keys, shop_chain, witness
from soundedge.services.evidence.ledger_place import open_ledger

from ...tries import tries
from ..shopfloor import BOTH, ORIGIN, WHY, WORDS, keys_in, later, size, write_job


@pytest.fixture
def keys(tmp_path):
    return keys_in(tmp_path)


@pytest.fixture
def data(tmp_path):
    write_job(tmp_path / "data")
    return tmp_path / "data"


def test_keys_are_private_from_the_first_moment_whatever_the_umask(tmp_path):
    before = os.umask(0)
    try:
        keyring.write_log_key(_folder(tmp_path / "k"), ORIGIN, bytes(range(32)))
    finally:
        os.umask(before)

    assert {stat.S_IMODE(file.stat().st_mode) for file in (tmp_path / "k").iterdir()} == {0o600}


def test_a_new_keys_folder_belongs_to_its_owner_alone(keys):
    assert stat.S_IMODE(keys.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in keys.rglob("*") if file.is_file()} == {0o600}


@pytest.mark.parametrize("name", ["log.key", "certificate.key", "persons/tobias.key", "."])
@pytest.mark.parametrize("mode", [0o040, 0o004, 0o020, 0o002])
def test_keys_that_others_may_read_or_change_are_refused_by_name(keys, name, mode):
    file = (keys / name).resolve()
    file.chmod(stat.S_IMODE(file.stat().st_mode) | mode)

    with pytest.raises(Refused, match="chmod") as told:
        keyring.load(keys)

    assert str(file) in told.value.message


def test_keys_in_the_data_folder_are_refused_and_so_is_data_among_the_keys(tmp_path):
    keys = keys_in(_folder(tmp_path / "data"))
    link = tmp_path / "looks-elsewhere"
    link.symlink_to(keys)

    for place, data in ((keys, tmp_path / "data"), (link, tmp_path / "data"), (keys, keys), (keys, keys / "data")):
        with pytest.raises(Refused, match="One must not hold the other"):
            keyring.load(place, data=data)
    assert keyring.load(keys, data=tmp_path / "database").origin == ORIGIN  # only a like name, not inside


def test_new_keys_are_not_made_in_the_data_folder(tmp_path, data):
    with pytest.raises(Refused):
        keyring.new(ORIGIN, now=later(0), folder=data / "keys", data=data)

    assert not (data / "keys").exists()


def test_keys_that_are_there_are_never_written_over(keys):
    before = (keys / "log.key").read_bytes()

    with pytest.raises(Conflict, match="already"):
        keyring.new(ORIGIN, now=later(0), folder=keys)
    with pytest.raises(Conflict):
        person_keys.new_person("tobias", "a quite different one", folder=keys)

    assert (keys / "log.key").read_bytes() == before


@pytest.mark.parametrize("name", ["", "two words", "a+b", "a|b", "x" * 61, "line\nend", "kübel.example"])
def test_a_name_that_cannot_stand_in_a_code_is_refused_before_anything_is_made(tmp_path, name):
    with pytest.raises(Unreadable):
        keyring.new(name, now=later(0), folder=tmp_path / "keys")

    assert not (tmp_path / "keys").exists()


def test_no_keys_is_said_with_the_next_move(tmp_path):
    with pytest.raises(Missing, match="soundedge key new"):
        keyring.load(tmp_path / "nowhere")


def test_the_paper_copy_brings_the_key_back(keys, tmp_path):
    held = keyring.load(keys)

    key = keyring.from_paper(keyring.paper(held), folder=tmp_path / "other")

    assert key == held.key
    assert (tmp_path / "other" / "log.key").read_bytes() == (keys / "log.key").read_bytes()
    assert keyring.from_paper(keyring.paper(held), folder=tmp_path / "other") == key  # twice does no harm


def test_every_digit_mistyped_from_the_paper_is_named_by_its_line(keys, tmp_path):
    lines = keyring.paper(keyring.load(keys)).splitlines()
    for number in range(1, 5):
        row = lines[number]
        for place in range(3, 19):
            digit = "0" if row[place] != "0" else "1"
            wrong = [*lines[:number], row[:place] + digit + row[place + 1 :], *lines[number + 1 :]]

            with pytest.raises(Unreadable, match=f"Line {number}|fingerprint"):
                keyring.from_paper("\n".join(wrong), folder=tmp_path / "other")

    assert not (tmp_path / "other" / "log.key").exists()


@given(st.text(max_size=200))
@tries(60)
def test_whatever_is_typed_for_a_paper_or_a_key_is_answered_by_a_sentence(tmp_path_factory, text):
    for read in (keyring.keys_in, lambda typed: keyring.from_paper(typed, folder=tmp_path_factory.getbasetemp() / "none")):
        with pytest.raises(BenchError):
            read(text)


def test_a_persons_key_opens_only_with_their_passphrase(keys):
    seed = person_keys.person_seed("tobias", WORDS["tobias"], folder=keys)

    assert len(seed) == 32
    assert seed not in (keys / "persons" / "tobias.key").read_bytes()
    for wrong in (WORDS["amara"], "", WORDS["tobias"] + " ", WORDS["tobias"].upper()):
        with pytest.raises(Refused, match="not tobias's passphrase"):
            person_keys.person_seed("tobias", wrong, folder=keys)
    with pytest.raises(Unknown, match="amara, tobias"):
        person_keys.person_seed("ines", "whatever it may be", folder=keys)


def test_a_damaged_persons_key_is_refused(keys):
    file = keys / "persons" / "tobias.key"
    whole = file.read_bytes()
    for place in range(0, len(whole), 29):
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        try:
            assert person_keys.person_seed("tobias", WORDS["tobias"], folder=keys) is None
        except BenchError:
            continue


@pytest.mark.parametrize("name", ["", "../log", "a b", "ü", "x" * 41])
def test_a_persons_name_is_never_a_path(tmp_path, name):
    with pytest.raises(Unreadable):
        person_keys.new_person(name, "four ordinary words here", folder=tmp_path)
    assert list(tmp_path.rglob("*.key")) == []


def test_a_short_passphrase_is_refused(tmp_path):
    with pytest.raises(NotEnough, match="at least 12"):
        person_keys.new_person("ines", "eleven char", folder=tmp_path)


# ------------------------------------------------------------------------ rotation


def test_two_people_change_the_key_and_the_old_one_stays_good_for_its_time(keys, data, tmp_path):
    stick = _folder(tmp_path / "stick")
    old = keyring.load(keys)
    witness.witness(stick, data, keys=old, now=later(1))
    kept = next(stick.glob("*.checkpoint")).read_bytes()

    new = key_rotation.rotate_keys(data, BOTH, WHY, now=later(2), keys=keys)

    assert new.key != old.key and list(new.public) == [old.key, new.key]
    assert witness.open_checkpoint(kept, new.public)[0].size == 24
    assert witness.guard(data, folder=keys).size == 26
    with open_ledger(data) as ledger:
        last = shop_chain.chain(ledger, new.persons)[-1]
    assert (last.kind, last.by) == ("key.rotated", "amara")


@pytest.mark.parametrize(("who", "kind"), [
    ([BOTH[0]], Refused), ([BOTH[0], BOTH[0]], Refused), ([], Refused), ([*BOTH, BOTH[0]], Refused),
    ([BOTH[0], ("amara", "not her passphrase")], Refused), ([BOTH[0], ("ines", "has no key at all")], Unknown),
])
def test_one_person_or_a_wrong_passphrase_changes_nothing(keys, data, who, kind):
    before = size(data)

    with pytest.raises(kind):
        key_rotation.rotate_keys(data, who, WHY, now=later(2), keys=keys)

    assert size(data) == before
    assert not (keys / "log.key.next").exists()


def test_a_change_of_key_needs_a_reason(keys, data):
    with pytest.raises(NotEnough, match="at least 10"):
        key_rotation.rotate_keys(data, BOTH, "because", now=later(2), keys=keys)


def test_a_change_that_was_cut_short_before_the_file_was_put_in_place_is_finished(keys, data, monkeypatch):
    def power_goes(_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(key_rotation, "put_next_in_place", power_goes)
        with pytest.raises(KeyboardInterrupt):
            key_rotation.rotate_keys(data, BOTH, WHY, now=later(2), keys=keys)
    old = keyring.load(keys)

    with open_ledger(data) as ledger:
        new = shop_chain.enrol(ledger, old, now=later(3))

    assert new.key != old.key
    assert keyring.load(keys).key == new.key
    assert not (keys / "log.key.next").exists()


def test_a_key_lost_with_its_paper_is_replaced_by_two_people(keys, data, tmp_path):
    stick = _folder(tmp_path / "stick")
    witness.witness(stick, data, keys=keyring.load(keys), now=later(1))
    (keys / "log.key").unlink()
    (keys / "log.pub").unlink()
    keyring.write_log_key(keys, ORIGIN, bytes(range(32)))

    with pytest.raises(BenchError, match="does not hold"):  # nobody here knows who signed the stick's checkpoint
        witness.guard(data, folder=keys)
    keyring.trust(next(stick.glob("*.pub")).read_text(), folder=keys)
    held = key_rotation.rotate_keys(data, BOTH, "log key and paper burnt", now=later(2), keys=keys)

    assert witness.guard(data, folder=keys).said.startswith("Unchanged up to entry 26 of 26")
    assert held.public[-1] == held.key


def test_another_shops_key_is_not_taken(keys):
    with pytest.raises(Conflict, match="another"):
        keyring.trust(keyring.key_of("another.example/ledger", bytes(32)).text, folder=keys)


def test_a_ledger_that_counts_another_key_is_not_sealed(keys, data):
    with open_ledger(data) as ledger:
        shop_chain.enrol(ledger, keyring.load(keys), now=later(1))
    (keys / "log.key").unlink()
    keyring.write_log_key(keys, ORIGIN, bytes(range(32)))

    with open_ledger(data) as ledger, pytest.raises(Conflict, match="from-paper"):
        shop_chain.enrol(ledger, keyring.load(keys), now=later(2))


def test_a_change_that_one_person_wrote_alone_does_not_count(keys, data):
    """Written straight into the ledger, unsigned: the chain holds, the key does not count."""
    held = keyring.load(keys)
    new = keyring.key_of(ORIGIN, bytes(range(32)))
    with open_ledger(data) as ledger:
        shop_chain.enrol(ledger, held, now=later(1))
        change = {"old": held.key.text, "new": new.text, "because": WHY}
        first = shop_chain.write(ledger, "key.rotation_proposed", change, now=later(2))
        shop_chain.write(ledger, "key.rotated", change | {"proposal": first.id, "proposal_digest": first.digest}, now=later(2))
        ledger.verify()

        with pytest.raises(BenchError, match="does not count"):
            shop_chain.enrol(ledger, held, now=later(3))
        assert shop_chain.trusted(shop_chain.chain(ledger), held.persons, held.public) == [held.key]
        assert ledger.record(SHOP).entries[-1].kind == "key.rotated"


def _folder(path):
    path.mkdir(parents=True)
    return path


def test_a_key_sealed_at_another_cost_is_opened_by_what_its_file_says(tmp_path, monkeypatch):
    import json

    folder = tmp_path / "keys"
    monkeypatch.setattr(person_keys, "_SCRYPT_N", 2**10)
    person_keys.new_person("ines", "four quiet harbour words", folder=folder)
    monkeypatch.setattr(person_keys, "_SCRYPT_N", 2**12)

    assert person_keys.person_seed("ines", "four quiet harbour words", folder=folder)
    file = folder / "persons" / "ines.key"
    body = json.loads(file.read_text())
    assert body["scrypt_n"] == 2**10
    for wrong in (2**10 + 1, 2**24, "1024", True, 0):
        key_files.write_private(file, json.dumps(body | {"scrypt_n": wrong}).encode())
        with pytest.raises(Unreadable, match="scrypt_n"):
            person_keys.person_seed("ines", "four quiet harbour words", folder=folder)
