"""Every line of docs/asvs.md names tests that exist, or says with a date why there is none."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINES = [
    [cell.strip() for cell in line.strip().strip("|").split("|")]
    for line in (ROOT / "docs" / "asvs.md").read_text(encoding="utf-8").splitlines()
    if re.match(r"\| \d+\.\d+\.\d+ ", line)
]


def test_there_are_as_many_lines_as_were_chosen():
    assert len(LINES) >= 75
    assert len({line[0] for line in LINES}) == len(LINES)


@pytest.mark.parametrize("line", LINES, ids=[line[0] for line in LINES])
def test_a_line_names_a_test_that_exists_or_a_dated_reason(line):
    row, level, demand, kept, proof = line
    assert level in ("1", "2", "3") and demand and kept
    named = re.findall(r"`([\w/]+\.py)::(\w+)`", proof)
    for file, name in named:
        text = (ROOT / "tests" / file).read_text(encoding="utf-8")
        assert re.search(rf"^def {name}\(", text, re.MULTILINE), f"{row}: {file} has no {name}"
    if not named:
        assert re.search(r"20\d\d-\d\d-\d\d: .{15,}", proof), f"{row} has neither a test nor a dated reason"


WORDS_OF = {"ed25519": "Ed25519", "rsa": "RSA-3072", "ec": "ECDSA P-256", "Scrypt": "scrypt",
            "ChaCha20Poly1305": "ChaCha20-Poly1305", "EllipticCurvePrivateKey": "ECDSA P-256", "hashes": "SHA-256",
            "Ed25519PrivateKey": "Ed25519", "Ed25519PublicKey": "Ed25519", "PKCS1v15": "PKCS #1 v1.5"}
NO_ALGORITHM = {"serialization", "Encoding", "NoEncryption", "PrivateFormat", "PublicFormat", "load_pem_private_key"}


def test_every_key_file_and_every_algorithm_stands_in_the_inventory():
    from soundedge.services.evidence import key_files, keyring, person_keys
    from soundedge.services.people import setting, tls

    page = (ROOT / "docs" / "keys.md").read_text(encoding="utf-8")
    table = page.split("## Every key, secret and algorithm")[1].split("\n## ")[0]
    files = [keyring.LOG, keyring.PUBLIC, keyring.CERTIFICATE_KEY, keyring.CERTIFICATE, f"{key_files.PERSONS}/", setting.SECRET]
    files += [f"{tls.FOLDER}/{name}" for name in (tls.AUTHORITY_KEY, tls.AUTHORITY, tls.SERVER_KEY, tls.SERVER)]
    assert not [name for name in files if f"`{name}`" not in table]
    used = set()
    for file in (ROOT / "src").rglob("*.py"):
        for names in re.findall(r"from cryptography\.hazmat\.\S+ import ([^\n(]+)", file.read_text(encoding="utf-8")):
            used |= {name.strip() for name in names.split(",")}
    assert len(used) > 5
    assert not [name for name in used - NO_ALGORITHM if WORDS_OF.get(name, name) not in table]
    assert "n = 2^15, r = 8" in table and "_SCRYPT_N, _SCRYPT_R = 2**15, 8" in Path(person_keys.__file__).read_text("utf-8")
    assert f"{tls.SERVER_DAYS} days" in table


def test_everything_that_the_bench_keeps_in_a_browser_stands_in_the_table_of_what_lies_there():
    """OWASP ASVS 5.0, 14.3: each store, database and cache that a script names, by the name that it has there."""
    page = (ROOT / "docs" / "outbox.md").read_text(encoding="utf-8")
    table = page.split("## What lies in the browser")[1].split("\n## ")[0]
    names, writes = set(), 0
    for file in (ROOT / "src/soundedge/web/static").rglob("*.js"):
        text = file.read_text(encoding="utf-8")
        kept = re.findall(r"""["'`]((?:soundedge[-/][\w/-]+|survey-card:|ledger-seen:)[\w-]*)""", text)
        stores = len(re.findall(r"localStorage\.setItem|sessionStorage\.setItem|indexedDB\.open|caches\.open", text))
        assert kept or not stores, f"{file.name} keeps something under a name that this test does not find"
        names |= set(kept)
        writes += stores
    assert writes >= 10 and len(names) >= 8
    assert not [name for name in sorted(names) if f"`{name.removesuffix('-')}" not in table]
