"""Witnesses: what was changed, cut off or put back is seen by whoever has seen the ledger before."""

import random
import shutil
from concurrent.futures import ThreadPoolExecutor

import pytest

from soundedge.basis.errors import BenchError, Conflict, NotEnough, RecordBroken, Refused, Unreadable
from soundedge.record.checkpoint import Checkpoint, make_checkpoint
from soundedge.record.claim import make_claim
from soundedge.record.tree import root
from soundedge.record.witness import Forked, RolledBack
from soundedge.services.evidence import backup, keyring, person_keys, shop_chain, witness
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.folder.job import run_job

from ...hand import cut, reworded, unguarded, written_anew
from ...record.jobs import released
from ..shopfloor import BOTH, NOW, ORIGIN, WHY, everything_in, keys_in, later, write_job

pytestmark = pytest.mark.store_contract


@pytest.fixture
def keys(tmp_path):
    return keyring.load(keys_in(tmp_path))


@pytest.fixture
def data(tmp_path):
    write_job(tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def stick(tmp_path, data, keys):
    """A stick that has seen the first job and the shop's own first event: 24 events."""
    (tmp_path / "stick").mkdir()
    witness.witness(tmp_path / "stick", data, keys=keys, now=later(1))
    return tmp_path / "stick"


def only(stick, keys):
    """Forget every other witness than the stick: what beside the keys lies is taken away."""
    for file in (keys.folder / "checkpoints").glob("*.checkpoint"):
        file.unlink()
    return stick


def test_without_any_witness_it_says_so(data, tmp_path):
    found = witness.guard(data, folder=tmp_path / "no-keys")

    assert found.said.startswith("No witness has seen this ledger yet")


def test_a_ledger_that_went_on_continues_what_everybody_has_seen(data, keys, stick):
    write_job(data, "KBW-2031-015", minutes=5)

    said = witness.guard(data, folder=keys.folder).said

    assert said == f"Unchanged up to entry 24 of 47, seen by the keys' folder, '{stick}'."
    assert witness.witness(stick, data, keys=keys, now=later(6)).endswith("has now seen 47 entries.")


@pytest.mark.parametrize("lost", [1, 2, 5, 23, 24])
def test_a_tail_that_was_cut_off_is_seen(data, keys, stick, lost):
    cut(data, lost)

    with pytest.raises(RolledBack, match=f"holds {24 - lost} entries; the keys' folder has seen 24.*declare-restore"):
        witness.guard(data, folder=keys.folder)


def test_a_data_folder_that_is_gone_is_seen(data, keys, stick):
    shutil.rmtree(data)

    with pytest.raises(RolledBack, match="holds 0 entries"):
        witness.guard(data, folder=keys.folder)


@pytest.mark.parametrize("other_witness", ["the keys", "the stick"])
def test_a_chain_written_anew_from_its_first_event_is_seen_by_one_witness_alone(data, keys, stick, other_witness):
    """The owner of the file changes one reading, drops the guards and makes every hash anew: the ledger verifies."""
    if other_witness == "the stick":
        only(stick, keys)
    else:
        shutil.rmtree(stick)
    shutil.rmtree(data)
    facts = released()
    facts[17].body["spots"][0]["readings_um"][0] = 1310.0
    with open_ledger(data) as ledger:
        ledger.append("KBW-2031-014", facts, now=NOW)
        shop_chain.enrol(ledger, keys, now=later(1))
        write_more(ledger)
        assert "holds" in ledger.verify()

    with pytest.raises(Forked, match="changed, added or taken out"):
        witness.guard(data, folder=keys.folder)


def write_more(ledger):
    ledger.append("KBW-2031-015", released("KBW-2031-015"), now=later(3))


def test_an_event_changed_under_its_old_hashes_is_seen_too(data, keys, stick):
    """The leaf column is left as it was: the leaves are taken from the events' own bytes."""
    reworded(data, 18, b"1251", b"1215")

    with pytest.raises(Forked):
        witness.guard(data, folder=keys.folder)


def test_a_hundred_random_edits_by_hand_are_all_seen(data, keys, stick, tmp_path):
    """Deleted rows, swapped rows, changed bytes, with the hashes made anew each time."""
    rng, seen = random.Random(4711), 0
    with unguarded(data) as db:
        whole = db.execute("SELECT job, no, id, entry FROM ledger ORDER BY seq").fetchall()
    for _ in range(100):
        with unguarded(data) as db:
            rows = list(whole)
            what, at = rng.choice(["delete", "swap", "change", "add"]), rng.randrange(len(rows) - 1)
            if what == "delete":
                del rows[at]
            elif what == "swap":
                rows[at], rows[at + 1] = rows[at + 1], rows[at]
            elif what == "change":
                raw = bytearray(rows[at][3])
                raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
                rows[at] = (*rows[at][:3], bytes(raw))
            else:
                rows.insert(at, ("KBW-2031-099", 1, "x", b'{"at":"2031"}'))
            written_anew(db, rows)
        with pytest.raises(RecordBroken):
            witness.guard(data, folder=keys.folder)
        seen += 1

    assert seen == 100


def test_a_job_is_not_run_on_a_ledger_that_was_rolled_back(data, keys, stick, tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(keys.folder))
    cut(data, 3)
    before = everything_in(data)
    folder = tmp_path / "job"
    folder.mkdir()

    with pytest.raises(RolledBack) as told:
        run_job(_example("dosing-nozzle"), tmp_path / "out", data=data)

    assert told.value.exit_code == 4
    assert everything_in(data) == before
    assert not (tmp_path / "out").exists()


def test_a_stick_in_the_cabinet_is_named_and_no_alarm(data, keys, stick):
    shutil.rmtree(stick)

    found = witness.guard(data, folder=keys.folder)

    assert found.away == (str(stick),)
    assert found.said == "Unchanged up to entry 24 of 24, seen by the keys' folder."


def test_witnesses_are_remembered_beside_the_keys_when_older_data_has_forgotten_them(data, keys, stick):
    (data / "settings.json").unlink()
    only(stick, keys)
    cut(data, 1)

    with pytest.raises(RolledBack, match="stick"):
        witness.guard(data, folder=keys.folder)


def test_settings_that_are_damaged_are_not_taken_for_none(data, keys, stick):
    (data / "settings.json").write_bytes(b"{")

    with pytest.raises(Unreadable, match="damaged"):
        witness.guard(data, folder=keys.folder)


def test_another_shops_checkpoint_on_the_same_stick_says_nothing(data, keys, stick):
    other = make_checkpoint("another.example/ledger", [bytes(32)] * 90, bytes(range(32)))
    (stick / "another.example_ledger.checkpoint").write_text(other)

    assert witness.guard(data, folder=keys.folder).size == 24


def test_a_checkpoint_that_no_key_of_the_shop_signed_is_an_alarm(data, keys, stick):
    forged = make_checkpoint(ORIGIN, [bytes(32)] * 3, bytes(range(32)))
    (stick / "kelderbeck-basin.example_ledger.checkpoint").write_text(forged)

    with pytest.raises(RecordBroken, match="No key that is trusted here signed this"):
        witness.guard(data, folder=keys.folder)


def test_every_changed_byte_of_a_checkpoint_is_seen(data, keys, stick):
    file = next(stick.glob("*.checkpoint"))
    whole = file.read_bytes()
    for place in range(len(whole)):
        for bit in (0, 5, 7):
            file.write_bytes(whole[:place] + bytes([whole[place] ^ (1 << bit)]) + whole[place + 1 :])
            with pytest.raises(BenchError):
                witness.read_checkpoints(stick, keys.public)


def test_a_proof_handed_out_with_a_certificate_is_a_witness_too(data, keys, stick):
    with open_ledger(data) as ledger:
        leaves = witness.leaves_of(ledger)
    from soundedge.record.proof import make_proof

    with open_ledger(data) as ledger:
        entry = ledger.record("KBW-2031-014").entries[0].raw
    (stick / "certificate.proof").write_text(make_proof(entry, 0, leaves, make_checkpoint(ORIGIN, leaves, keys.seed)))
    next(stick.glob("*.checkpoint")).unlink()
    only(stick, keys)
    cut(data, 1)

    with pytest.raises(RolledBack, match="stick"):
        witness.guard(data, folder=keys.folder)


def test_a_witness_in_the_data_folder_or_a_folder_that_is_not_there_is_refused(data, keys, tmp_path):
    (data / "inside").mkdir()
    for folder in (data, data / "inside", tmp_path / "not-there"):
        with pytest.raises(Unreadable):
            witness.witness(folder, data, keys=keys, now=later(1))
    assert witness.witness_folders(data, folder=keys.folder) == []


def test_keys_that_signed_one_ledger_do_not_sign_another(data, keys, stick, tmp_path):
    write_job(tmp_path / "trial", "KBW-2031-099")

    with pytest.raises(BenchError, match="keys of its own"):
        witness.guard(tmp_path / "trial", folder=keys.folder)


# ------------------------------------------------------------------------ paper


def test_the_square_code_of_a_printed_certificate_is_a_witness(data, keys):
    with open_ledger(data) as ledger:
        leaves = witness.leaves_of(ledger)
    code = make_claim(Checkpoint(ORIGIN, 20, root(leaves[:20])), keys.seed, certificate="KBW-2031-014", part="MC-7",
                      verdict="released", date="2031-05-04", released_by="Tobias Renn", record="ab" * 32)

    assert witness.check_claim(code, data, folder=keys.folder) == (
        "Unchanged up to entry 20 of 23, seen by certificate KBW-2031-014 on paper.")
    with unguarded(data) as db:
        rows = db.execute("SELECT job, no, id, entry FROM ledger ORDER BY seq").fetchall()
        rows[4] = (*rows[4][:3], rows[4][3].replace(b"Tobias", b"Thomas"))
        written_anew(db, rows)
    with pytest.raises(Forked, match="certificate KBW-2031-014"):
        witness.check_claim(code, data, folder=keys.folder)
    cut(data, 4)
    with pytest.raises(RolledBack, match="printed over 20"):
        witness.check_claim(code, data, folder=keys.folder)
    with pytest.raises(RecordBroken, match="not signed by a known key"):
        witness.check_claim(code.replace("released", "rejected"), data, folder=keys.folder)


# ------------------------------------------------------------------------ a restore, declared


def test_an_older_backup_put_back_is_seen_and_two_people_declare_it(data, keys, stick, tmp_path):
    backup.make(data, tmp_path / "backup", now=later(2), keys=keys)
    write_job(data, "KBW-2031-015", minutes=5)
    witness.witness(stick, data, keys=keys, now=later(6))
    shutil.rmtree(data)

    _, found = backup.restore(tmp_path / "backup", data, keys_folder=keys.folder)

    assert isinstance(found.fault, RolledBack) and found.size == 25
    before = everything_in(data)
    for who, kind in (([BOTH[0]], Refused), ([BOTH[0], ("amara", "not her passphrase")], Refused)):
        with pytest.raises(kind):
            backup.declare(data, who, WHY, keys=keys, now=later(8))
    with pytest.raises(NotEnough):
        backup.declare(data, BOTH, "why", keys=keys, now=later(8))
    assert everything_in(data) == before

    said = backup.declare(data, BOTH, WHY, keys=keys, now=later(9))

    assert said == f"Restored to 25 entries on 2031-05-04, declared by tobias and amara; 23 later entries are lost: {WHY}"
    assert witness.guard(data, folder=keys.folder).said.startswith("Unchanged up to entry 27 of 27")
    assert [file.suffix for file in sorted(stick.glob("*before-restore*"))] == [".before-restore-48"]
    with pytest.raises(Conflict, match="nothing to declare"):
        backup.declare(data, BOTH, WHY, keys=keys, now=later(10))
    cut(data, 2)  # the declaration itself, taken away again
    with pytest.raises(RolledBack):
        witness.guard(data, folder=keys.folder)


def test_a_restore_that_nobody_with_a_key_signed_does_not_count(data, keys, stick):
    cut(data, 2)
    with open_ledger(data) as ledger:
        points = [{"who": "x", "events": 24, "root": one.point.root.hex()}
                  for one in witness.standing(data, folder=keys.folder).contradicted]
        body = {"kept_events": 22, "contradicts": points, "because": WHY}
        first = shop_chain.write(ledger, "restore.proposed", body, now=later(5))
        shop_chain.write(ledger, "ledger.restored", {"proposal": first.id, "proposal_digest": first.digest}, now=later(5))
        ledger.verify()

    with pytest.raises(Forked):
        witness.guard(data, folder=keys.folder)


def test_a_restore_that_one_person_signed_twice_does_not_count(data, keys, stick):
    cut(data, 2)
    point = next(one.point for one in witness.standing(data, folder=keys.folder).contradicted)
    seed = person_keys.person_seed(*BOTH[0], folder=keys.folder)
    with open_ledger(data) as ledger:
        shop_chain._by_two(ledger, [("tobias", seed), ("amara", seed)], ("restore.proposed", "ledger.restored"),
                     {"kept_events": 22, "contradicts": [{"who": "x", "events": point.size, "root": point.root.hex()}]},
                     WHY, now=later(5))

    with pytest.raises(Forked):
        witness.guard(data, folder=keys.folder)


def test_a_restore_signed_by_two_invented_people_does_not_count(data, keys, stick):
    """Two good signatures, under the right names, with keys that are nobody's here."""
    cut(data, 2)
    point = next(one.point for one in witness.standing(data, folder=keys.folder).contradicted)
    body = {"kept_events": 22, "contradicts": [{"who": "x", "events": point.size, "root": point.root.hex()}]}
    with open_ledger(data) as ledger:
        shop_chain._by_two(ledger, [("tobias", bytes(range(32))), ("amara", bytes(range(1, 33)))],
                     ("restore.proposed", "ledger.restored"), body, WHY, now=later(5))

    with pytest.raises(Forked):
        witness.guard(data, folder=keys.folder)


def test_a_restore_confirmed_for_another_proposal_does_not_count(data, keys, stick):
    """Both signed, but the second confirmed something else than the first proposed."""
    cut(data, 2)
    point = next(one.point for one in witness.standing(data, folder=keys.folder).contradicted)
    people = [(name, person_keys.person_seed(name, words, folder=keys.folder)) for name, words in BOTH]
    body = {"kept_events": 22, "contradicts": [{"who": "x", "events": point.size, "root": point.root.hex()}], "because": WHY}
    with open_ledger(data) as ledger:
        first = shop_chain._signed(ledger, "restore.proposed", *people[0], body, later(5))
        shop_chain._signed(ledger, "ledger.restored", *people[1], {"proposal": first.id, "proposal_digest": "0" * 64}, later(5))
    with pytest.raises(Forked):
        witness.guard(data, folder=keys.folder)

    with open_ledger(data) as ledger:
        body = {"proposal": first.id, "proposal_digest": first.digest}
        shop_chain._signed(ledger, "ledger.restored", *people[1], body, later(6))
    assert witness.guard(data, folder=keys.folder).restored[0].by == ("tobias", "amara")


def test_without_the_keys_folder_the_stick_is_read_with_the_key_the_ledger_names(data, keys, stick, tmp_path):
    nowhere = tmp_path / "nowhere"
    write_job(data, "KBW-2031-015", minutes=5)
    assert witness.guard(data, folder=nowhere).said == f"Unchanged up to entry 24 of 47, seen by '{stick}'."
    with unguarded(data) as db:
        rows = db.execute("SELECT job, no, id, entry FROM ledger ORDER BY seq").fetchall()
        written_anew(db, rows[1:22] + rows[23:])
    with pytest.raises(BenchError):
        witness.guard(data, folder=nowhere)


def _example(name):
    from pathlib import Path

    return Path(__file__).parents[3] / "examples" / name


def test_many_who_write_and_sign_at_once_raise_no_alarm_and_leave_the_largest_checkpoint(data, keys, stick):
    """Each looks first, writes, and signs, as whoever issues a certificate does."""

    def issue(number):
        with open_ledger(data) as ledger:
            witness.guard(data, folder=keys.folder)
            body = {"events": number, "root": "00", "files": 0, "folder": f"n{number}"}
            shop_chain.write(ledger, "backup.made", body, now=later(9))
            return witness.sign_checkpoint(ledger, keys, data=data)

    with ThreadPoolExecutor(6) as pool:
        notes = list(pool.map(issue, range(48)))

    seen = witness.guard(data, folder=keys.folder)
    assert len(notes) == 48 and {one.point.size for one in seen.seen} == {seen.size}
    assert not list(stick.glob("*before-restore*")) and not list(stick.glob(".*.part"))


def test_a_smaller_checkpoint_never_takes_the_place_of_a_larger_one(data, keys, stick):
    before = everything_in(stick)
    with open_ledger(data) as ledger:
        witness.sign_leaves(witness.leaves_of(ledger)[:-3], ledger, keys, data=data)

    assert everything_in(stick) == before
