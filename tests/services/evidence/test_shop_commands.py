"""The commands for keys, witnesses and backups, as a person types them: what they print, and how they end."""

import pytest

from soundedge.cli.bench import run
from soundedge.services.evidence import keyring, person_keys

from ...hand import cut
from ..shopfloor import BOTH, ORIGIN, keys_in, write_job

pytestmark = pytest.mark.store_contract


@pytest.fixture
def shop(tmp_path, monkeypatch):
    keys_in(tmp_path)
    write_job(tmp_path / "data")
    for name, words in BOTH:
        (tmp_path / f"{name}.txt").write_text(words + "\n")
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("SOUNDEDGE_DATA", str(tmp_path / "data"))
    return tmp_path


@pytest.fixture
def said(capsys):
    def read():
        got = capsys.readouterr()
        assert "Traceback" not in got.out + got.err
        return got.out + got.err

    return read


def two(shop):
    return ["--by", "tobias", "--by", "amara", "--passphrase-file", str(shop / "tobias.txt"), "--passphrase-file",
            str(shop / "amara.txt"), "--because", "yearly change, as the procedure says"]


def test_the_keys_are_shown_without_anything_secret(shop, said):
    held = keyring.load(shop / "keys")

    assert run(["key", "show"]) == 0

    text = said()
    assert held.key.fingerprint in text and held.key.text in text and "amara, tobias" in text
    assert held.seed.hex() not in text and "PRIVATE" not in text


def test_from_paper_and_back(shop, said, monkeypatch, tmp_path):
    assert run(["key", "show-paper"]) == 0
    paper = said()
    (shop / "typed.txt").write_text("\n".join(line for line in paper.splitlines() if not line.startswith("!")))
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "new machine"))

    assert run(["key", "from-paper", str(shop / "typed.txt")]) == 0

    assert keyring.load(shop / "keys").key.fingerprint in said()
    assert keyring.load().seed == keyring.load(shop / "keys").seed


def test_a_passphrase_can_be_typed_and_is_not_shown(shop, said, monkeypatch):
    typed = iter(["four quite other words", "four quite other words"])
    monkeypatch.setattr("click.termui.hidden_prompt_func", lambda prompt: next(typed))

    assert run(["key", "new", "--person", "ines"]) == 0

    assert "four quite" not in said()
    assert person_keys.person_seed("ines", "four quite other words", folder=shop / "keys")


def test_rotate_witness_backup_restore_declare_in_their_order(shop, said):
    (shop / "stick").mkdir()
    for arguments, code, words in (
        (["witness"], 0, "No witness has seen this ledger yet"),
        (["witness", str(shop / "stick")], 0, "is a witness from now on: it has seen 24 entries"),
        (["backup", str(shop / "copy")], 0, "Backup of 25 entries and 0 files"),
        (["backup", "drill", str(shop / "copy")], 0, "can be brought back"),
        (["key", "rotate", *two(shop)], 0, "signed by tobias and amara"),
        (["key", "rotate", *two(shop)[:2], *two(shop)[4:6], "--because", "x" * 20], 3, "two different"),
        (["key", "rotate", *two(shop)[:-4], "--because", "x" * 20], 2, "1 passphrase file."),
        (["backup", "restore", str(shop / "copy"), str(shop / "back")], 3, "has seen 27"),
        (["backup", "restore", str(shop / "copy"), str(shop / "back")], 2, "not empty"),
        (["witness", "--data", str(shop / "back")], 4, "Nothing is written until this is cleared"),
        (["backup", "make", str(shop / "other"), "--data", str(shop / "back")], 4, "Nothing is written"),
        (["backup", "declare-restore", *two(shop), "--data", str(shop / "back")], 0, "declared by tobias and amara"),
        (["witness", "--data", str(shop / "back")], 0, "Unchanged up to entry 29 of 29"),
    ):
        assert (run(arguments), arguments) == (code, arguments)
        assert words in said(), arguments
    assert keyring.load(shop / "keys").public[-1].text in (shop / "stick" / "kelderbeck-basin.example_ledger.pub").read_text()


@pytest.mark.parametrize("arguments", [
    ["key", "new"], ["key", "new", ORIGIN], ["key", "new", "two words"],
    ["key", "new", "--person", "../x", "--passphrase-file", "tobias.txt"],
    ["key", "new", "--person", "x", "--passphrase-file", "/"],
    ["key", "from-paper", "nowhere.txt"], ["key", "trust", "nowhere.txt"], ["witness", "nowhere"], ["backup"],
    ["backup", "restore", "nowhere", "x"], ["backup", "drill", "nowhere"], ["doctor", "--data", "nowhere"],
    ["witness", "--claim", "SE1|x"], ["witness", "--data", "nowhere"], ["verify", "SE1|x"], ["verify", "x", "--key", "nowhere"],
    ["backup", "export", ".", "--data", "nowhere"], ["verify", "--key", "a+b+c", "SE1|x"],
])
def test_what_cannot_be_used_ends_with_2_and_a_sentence(shop, said, arguments, monkeypatch):
    monkeypatch.chdir(shop)

    assert run(arguments) == 2
    assert said().strip()


def test_a_tail_cut_off_is_said_by_every_command_that_would_write(shop, said):
    (shop / "stick").mkdir()
    assert run(["witness", str(shop / "stick")]) == 0
    cut(shop / "data", 2)
    said()
    for arguments in (["witness", str(shop / "stick")], ["backup", str(shop / "copy")], ["key", "rotate", *two(shop)],
                      ["backup", "export", str(shop / "out")]):
        assert run(arguments) == 4
        assert "the keys' folder has seen 24" in said()
    assert not (shop / "copy").exists() and not (shop / "out").exists()
