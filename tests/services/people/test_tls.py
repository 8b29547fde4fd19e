"""The shop's own authority: it vouches for the bench on the shop's network, and for nothing in the world outside."""

import os
import socket
import ssl
import stat
import subprocess
import threading
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from shutil import which

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from cryptography.x509 import verification
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Refused, Unreadable
from soundedge.services.people import machine_names, tls

NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)
SHOP = "Kelderbeck Basin Works"
NAMES = ["bench-2", "bench-2.local", "localhost", "127.0.0.1", "::1", "192.168.14.20", "fd00::2"]


def made(folder, names=NAMES, *, now=NOW, **more):
    return tls.make_shop_tls(folder / "keys", names, now=now, shop=SHOP, **more)


def accepted(shop_tls, name, *, at=NOW, leaf=None):
    """Whether the library's own path validation (RFC 5280, CA/B profile) takes the server's certificate for a name."""
    store = verification.Store([x509.load_der_x509_certificate(shop_tls.authority_der)])
    try:
        subject = x509.IPAddress(ip_address(name))
    except ValueError:
        subject = x509.DNSName(name)
    leaf = leaf or x509.load_pem_x509_certificate(shop_tls.server_file.read_bytes())
    verifier = verification.PolicyBuilder().store(store).time(at).build_server_verifier(subject)
    try:
        verifier.verify(leaf, [])
    except verification.VerificationError:
        return False
    return True


def stolen(shop_tls, name):
    """A certificate for ``name`` by somebody who has the authority's key."""
    key = load_pem_private_key((shop_tls.folder / tls.AUTHORITY_KEY).read_bytes(), None)
    authority = x509.load_pem_x509_certificate(shop_tls.authority_pem)
    return tls._make_server(shop_tls.folder, authority, key, [name], now=NOW, shop="nobody")


@pytest.fixture(scope="module")
def shop_tls(tmp_path_factory):
    return made(tmp_path_factory.mktemp("shop"))


@pytest.mark.parametrize("name", NAMES)
def test_the_certificate_is_taken_for_every_name_of_the_machine(shop_tls, name):
    assert accepted(shop_tls, name)


@pytest.mark.parametrize("name", ["bench-3.local", "kelderbeck-basin.example", "192.168.14.21", "x.bench-2", "fd00::3"])
def test_the_certificate_is_refused_for_every_other_name(shop_tls, name):
    assert not accepted(shop_tls, name)


@pytest.mark.parametrize("name", ["bank.example", "bench-2.example", "8.8.8.8", "2001:db8::1", "local.example", "com"])
def test_a_stolen_authority_cannot_play_a_site_outside(tmp_path, name):
    held = made(tmp_path)

    assert not accepted(held, name, leaf=stolen(held, name))
    assert not tls.vouches_for(x509.load_pem_x509_certificate(held.authority_pem), name)


def test_the_same_stolen_key_would_play_another_bench_inside(tmp_path):
    """The check above is not empty: within the shop's own network the same certificate counts."""
    held = made(tmp_path)

    assert accepted(held, "other.local", leaf=stolen(held, "other.local"))


@pytest.mark.skipif(which("openssl") is None, reason="the openssl command is not here")
@pytest.mark.parametrize(("name", "good"), [("bench-2.local", True), ("192.168.14.20", True), ("bank.example", False)])
def test_the_openssl_command_says_the_same(tmp_path, name, good):
    held = made(tmp_path)
    if not good:
        stolen(held, name)
    flag = "-verify_ip" if name[0].isdigit() else "-verify_hostname"

    ran = subprocess.run(["openssl", "verify", "-x509_strict", "-purpose", "sslserver", "-attime", str(int(NOW.timestamp())),
                          "-CAfile", str(held.folder / tls.AUTHORITY), flag, name, str(held.server_file)],
                         capture_output=True, text=True, check=False)

    assert (ran.returncode == 0) is good, ran.stdout + ran.stderr
    assert good or "permitted subtree violation" in ran.stdout + ran.stderr


def test_the_authority_may_sign_servers_and_nothing_else(shop_tls):
    held = x509.load_der_x509_certificate(shop_tls.authority_der).extensions
    constraints, usage = (held.get_extension_for_class(kind) for kind in (x509.BasicConstraints, x509.KeyUsage))

    assert constraints.critical and constraints.value == x509.BasicConstraints(ca=True, path_length=0)
    assert usage.critical and usage.value.key_cert_sign
    assert not (usage.value.crl_sign or usage.value.digital_signature or usage.value.key_agreement)
    assert held.get_extension_for_class(x509.NameConstraints).critical


def test_the_terms_are_ten_years_and_at_most_398_days(shop_tls):
    authority = x509.load_pem_x509_certificate(shop_tls.authority_pem)
    server = x509.load_pem_x509_certificate(shop_tls.server_file.read_bytes())

    assert authority.not_valid_after_utc.date() == datetime(2041, 5, 3).date()
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=398)
    assert isinstance(server.public_key().curve, ec.SECP256R1) and isinstance(server.signature_hash_algorithm, hashes.SHA256)


def test_the_fingerprint_is_that_of_the_authority_in_sixteen_groups(shop_tls):
    printed = x509.load_pem_x509_certificate(shop_tls.authority_pem).fingerprint(hashes.SHA256()).hex().upper()

    assert shop_tls.fingerprint.replace(" ", "") == printed
    assert [len(group) for group in shop_tls.fingerprint.split(" ")] == [4] * 16


def test_what_a_tablet_installs_is_the_authority_and_never_a_key(shop_tls, tmp_path):
    assert tls.authority_der(shop_tls.folder.parent) == shop_tls.authority_der
    assert b"PRIVATE" not in shop_tls.authority_der + shop_tls.authority_pem
    assert tls.authority_der(tmp_path) is None
    (tmp_path / "tls").mkdir()
    (tmp_path / "tls" / tls.AUTHORITY).write_text("nothing")
    with pytest.raises(Unreadable, match="damaged"):
        tls.authority_der(tmp_path)


# ---------------------------------------------------------------------------- again and again


def test_what_is_good_is_kept_to_the_byte(tmp_path):
    first = made(tmp_path)
    before = {file.name: file.read_bytes() for file in first.folder.iterdir()}

    again = made(tmp_path, list(reversed(NAMES)), now=NOW + timedelta(days=300))

    assert {file.name: file.read_bytes() for file in again.folder.iterdir()} == before
    assert again.notes == ()


def test_with_less_than_30_days_left_the_server_is_renewed_and_the_authority_kept(tmp_path):
    first = made(tmp_path)
    old = first.server_file.read_bytes()

    at = first.until - timedelta(days=30) + timedelta(minutes=1)
    again = made(tmp_path, now=at)

    assert first.server_file.read_bytes() != old
    assert again.authority_pem == first.authority_pem
    assert accepted(again, "bench-2.local", at=at + timedelta(days=390))
    assert not accepted(first, "bench-2.local", at=again.until + timedelta(days=1))


def test_a_new_address_renews_the_server_and_the_tablets_need_nothing(tmp_path):
    first = made(tmp_path)

    again = made(tmp_path, ["bench-2.local", "10.4.0.9"])

    assert again.authority_pem == first.authority_pem
    assert accepted(again, "10.4.0.9") and not accepted(again, "192.168.14.20")


def test_a_name_outside_the_authority_is_left_out_and_said(tmp_path):
    made(tmp_path)

    again = made(tmp_path, ["bench-9", "bench-9.local"])

    assert again.left_out == ("bench-9",) and again.names == ("bench-9.local",)
    assert "--new-authority" in again.notes[0] and "bench-9.local" in again.notes[0]


def test_when_no_name_is_left_the_next_move_is_said(tmp_path):
    made(tmp_path)

    with pytest.raises(Refused, match="--new-authority"):
        made(tmp_path, ["bench-9.kelderbeck-basin.example"])


def test_a_name_of_the_shops_own_and_a_public_address_are_vouched_for_when_given_first(tmp_path):
    held = made(tmp_path, ["bench.kelderbeck-basin.example", "198.51.100.7"])

    assert accepted(held, "bench.kelderbeck-basin.example") and accepted(held, "198.51.100.7")
    assert not accepted(held, "198.51.100.8", leaf=stolen(held, "198.51.100.8"))


def test_a_new_authority_puts_the_old_one_aside_and_says_what_to_do(tmp_path):
    first = made(tmp_path)

    again = made(tmp_path, anew=True, now=NOW + timedelta(hours=1))

    assert again.fingerprint != first.fingerprint
    assert [file.read_bytes() for file in again.folder.glob("authority-until-*.pem")] == [first.authority_pem]
    assert "every tablet" in again.notes[0]
    assert accepted(again, "bench-2.local", at=NOW + timedelta(hours=1)) and not accepted(first, "bench-2.local")


def test_an_authority_at_its_end_is_made_again_after_a_warning(tmp_path):
    first = made(tmp_path)
    warned = made(tmp_path, now=first.authority_until - timedelta(days=100))
    at = first.authority_until - timedelta(days=29)
    again = made(tmp_path, now=at)

    assert warned.authority_pem == first.authority_pem and "quiet week" in warned.notes[-1]
    assert warned.until <= first.authority_until
    assert again.authority_pem != first.authority_pem and len(again.notes) == 2
    assert accepted(again, "bench-2.local", at=at)


@pytest.mark.parametrize("broken", ["server.pem", "server.key"])
@pytest.mark.parametrize("how", ["gone", "rubbish"])
def test_a_broken_server_certificate_is_made_again(tmp_path, broken, how):
    first = made(tmp_path)
    (first.folder / broken).unlink() if how == "gone" else (first.folder / broken).write_bytes(b"not a key")

    again = made(tmp_path)

    assert accepted(again, "bench-2.local") and again.authority_pem == first.authority_pem
    tls.server_context(again.server_file, again.key_file)


def test_a_server_certificate_of_another_key_or_another_authority_is_made_again(tmp_path):
    first, other = made(tmp_path), made(tmp_path / "other")
    first.key_file.write_bytes(other.key_file.read_bytes())
    assert accepted(made(tmp_path), "bench-2.local")
    tls.server_context(first.server_file, first.key_file)

    first.key_file.write_bytes(other.key_file.read_bytes())
    first.server_file.write_bytes(other.server_file.read_bytes())
    assert accepted(made(tmp_path), "bench-2.local")


def test_a_damaged_authority_is_told_and_not_silently_replaced(tmp_path):
    first = made(tmp_path)
    (first.folder / tls.AUTHORITY).write_bytes(b"-----BEGIN CERTIFICATE-----\n")

    with pytest.raises(Unreadable, match="--new-authority"):
        made(tmp_path)


def test_an_authority_without_its_key_is_made_again_and_that_is_said(tmp_path):
    first = made(tmp_path)
    (first.folder / tls.AUTHORITY_KEY).unlink()

    again = made(tmp_path)

    assert again.fingerprint != first.fingerprint and "every tablet" in again.notes[0]


def test_a_foreign_authority_without_limits_is_refused(tmp_path):
    first = made(tmp_path)
    key = ec.generate_private_key(ec.SECP256R1())
    name = tls._name("any", "any")
    foreign = (x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key()).serial_number(7)
               .not_valid_before(NOW).not_valid_after(NOW + timedelta(days=900)).sign(key, hashes.SHA256()))
    (first.folder / tls.AUTHORITY).write_bytes(tls._encoded(foreign)[0])
    (first.folder / tls.AUTHORITY_KEY).write_bytes(tls._key_pem(key))

    with pytest.raises(Unreadable, match="not made here"):
        made(tmp_path)


# ---------------------------------------------------------------------------- files


def test_keys_are_private_whatever_the_umask(tmp_path):
    before = os.umask(0)
    try:
        held = made(tmp_path)
    finally:
        os.umask(before)

    assert {stat.S_IMODE(file.stat().st_mode) for file in held.folder.iterdir()} == {0o600}
    assert {stat.S_IMODE(folder.stat().st_mode) for folder in (held.folder, held.folder.parent)} == {0o700}


@pytest.mark.parametrize("name", ["authority.key", "server.key", ".", ".."])
def test_keys_that_others_may_read_are_refused_by_name(tmp_path, name):
    file = (made(tmp_path).folder / name).resolve()
    file.chmod(stat.S_IMODE(file.stat().st_mode) | 0o040)

    with pytest.raises(Refused, match="chmod") as told:
        made(tmp_path)

    assert str(file) in told.value.message


def test_keys_in_the_data_folder_are_refused(tmp_path):
    (tmp_path / "keys" / "data").mkdir(parents=True)
    for data in (tmp_path, tmp_path / "keys", tmp_path / "keys" / "data"):
        with pytest.raises(Refused, match="must not hold the other"):
            made(tmp_path, data=data)

    assert not (tmp_path / "keys" / "tls").exists()


def test_the_place_is_that_of_the_shops_keys(tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "elsewhere"))

    assert tls.make_shop_tls(None, NAMES, now=NOW, shop=SHOP).folder == tmp_path / "elsewhere" / "tls"


# ---------------------------------------------------------------------------- names


@pytest.mark.parametrize("name", ["", " ", "a b", "*.local", "bench_2", "-a", "a..b", "1.2.3", "0.0.0.0", "::", "fe80::1%eth0",
                                  "224.0.0.1", "ü", "a" * 64, "bench\n2", "256.1.1.1"])
def test_what_is_no_name_is_refused(tmp_path, name):
    with pytest.raises(Unreadable):
        made(tmp_path, [name])


@given(st.lists(st.text(max_size=70), max_size=4), st.text(max_size=90))
def test_any_text_as_a_name_or_a_shop_never_breaks(tmp_path_factory, names, shop):
    folder = tmp_path_factory.mktemp("any")
    try:
        held = tls.make_shop_tls(folder / "keys", names, now=NOW, shop=shop)
    except BenchError:
        return
    assert held.names and all(accepted(held, name) for name in held.names)


def test_a_bare_word_that_could_end_a_name_is_never_vouched_for(tmp_path):
    held = made(tmp_path, ["dev", "dev.local"])

    assert held.left_out == ("dev",)
    assert not accepted(held, "bank.dev", leaf=stolen(held, "bank.dev"))


def test_this_machine_has_names_that_an_authority_can_vouch_for(tmp_path):
    names = machine_names.names_of_this_machine()

    assert {"localhost", "127.0.0.1", "::1"} <= set(names) and len(names) == len(set(names))
    assert made(tmp_path, names).left_out == ()


def test_a_machine_called_like_an_ending_is_reached_as_local(monkeypatch):
    monkeypatch.setattr(socket, "gethostname", lambda: "Dev")

    assert machine_names.names_of_this_machine()[:2] == ["dev.local", "localhost"]


def test_public_and_link_local_addresses_are_left_out(monkeypatch):
    told = ["8.8.4.4", "192.168.14.20", "127.0.0.1", "2001:db8::5", "fe80::1", "fd00::2"]
    monkeypatch.setattr(machine_names, "_addresses", lambda: told)
    monkeypatch.setattr(socket, "gethostname", lambda: "bench-2")

    assert machine_names.names_of_this_machine() == NAMES


def test_the_addresses_are_those_the_system_tells():
    listed = subprocess.run(["ip", "-o", "addr"], capture_output=True, text=True, check=False) if which("ip") else None
    if listed is None or listed.returncode != 0:
        pytest.skip("the ip command is not here")
    told = {line.split()[3].partition("/")[0] for line in listed.stdout.splitlines()}

    assert set(machine_names._addresses()) == told


# ---------------------------------------------------------------------------- the talk itself


def talk(server, client, name):
    """One handshake over a pair of sockets in this process; the version spoken."""
    ours, theirs = socket.socketpair()

    def serve():
        try:
            with server.wrap_socket(ours, server_side=True) as spoken:
                spoken.recv(1)
        except (ssl.SSLError, OSError):
            ours.close()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with client.wrap_socket(theirs, server_hostname=name) as spoken:
            spoken.sendall(b"x")
            return spoken.version(), spoken.cipher()[0]
    finally:
        theirs.close()
        thread.join(5)


def trusting(shop_tls):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.verify_flags |= 0x200000  # X509_V_FLAG_NO_CHECK_TIME: the terms are checked above, without the machine's clock
    context.load_verify_locations(cadata=shop_tls.authority_pem.decode())
    return context


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_authority_talks_under_every_name(shop_tls, name):
    version, cipher = talk(tls.server_context(shop_tls.server_file, shop_tls.key_file), trusting(shop_tls), name)

    assert version == "TLSv1.3" and cipher.startswith("TLS_")


def test_a_client_refuses_another_name_and_an_authority_it_does_not_know(shop_tls, tmp_path):
    server = tls.server_context(shop_tls.server_file, shop_tls.key_file)

    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        talk(server, trusting(shop_tls), "bench-3.local")
    with pytest.raises(ssl.SSLCertVerificationError):
        talk(server, trusting(made(tmp_path)), "bench-2.local")


@pytest.mark.parametrize(("version", "good"), [("TLSv1_2", True), ("TLSv1_1", False), ("TLSv1", False)])
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_nothing_older_than_tls_1_2_is_spoken(shop_tls, version, good):
    client = trusting(shop_tls)
    client.set_ciphers("ALL:@SECLEVEL=0")
    client.minimum_version = client.maximum_version = ssl.TLSVersion[version]
    server = tls.server_context(shop_tls.server_file, shop_tls.key_file)

    if good:
        spoken, cipher = talk(server, client, "localhost")
        assert spoken == "TLSv1.2" and cipher.startswith("ECDHE-ECDSA-")
    else:
        with pytest.raises((ssl.SSLError, OSError)):
            talk(server, client, "localhost")


def test_files_that_are_no_pair_are_told(tmp_path):
    (tmp_path / "a").write_text("x")

    with pytest.raises(Unreadable, match="made again"):
        tls.server_context(tmp_path / "a", tmp_path / "a")
