"""The bench opens, answers over TLS to who trusts the shop, is not held up by slow clients, and leaves nothing behind."""

import http.client
import json
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from soundedge.cli.bench import run

from ..postgres import OWNER_URL, another

pytestmark = pytest.mark.slow


class Open:
    """A bench that was started, what it said, and how to talk to it."""

    def __init__(self, process, said, keys, err):
        self.process, self.said, self.keys, self.err = process, said, keys, err
        self.port = int(re.search(r"port (\d+)\.", said)[1])
        self.tls = "https://" in said

    def context(self):
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.load_verify_locations(self.keys / "tls" / "authority.pem")
        return context

    def get(self, path="/sign-in/", *, host="127.0.0.1", headers=None, timeout=10):
        kind = http.client.HTTPSConnection if self.tls else http.client.HTTPConnection
        link = kind(host, self.port, timeout=timeout, **({"context": self.context()} if self.tls else {}))
        try:
            link.request("GET", path, headers=headers or {})
            answer = link.getresponse()
            return answer.status, answer.read()
        finally:
            link.close()

    def lines(self):
        return [json.loads(line) for line in self.err.read_text(encoding="utf-8").splitlines()]

    def children(self):
        listed = subprocess.run(["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True,
                                check=False).stdout
        return [int(pid) for pid in listed.split()]

    def stop(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        return self.process.wait(20)


@contextmanager
def serving(tmp_path, *options):
    keys, out, err = tmp_path / "keys", tmp_path / "said", tmp_path / "err"
    environment = {**os.environ, "SOUNDEDGE_KEYS": str(keys), "PYTHONUNBUFFERED": "1"}
    environment.pop("SOUNDEDGE_ROOT", None)
    if OWNER_URL in os.environ:
        environment |= another()
    with open(out, "wb") as says, open(err, "wb") as logs:
        command = [sys.executable, "-m", "soundedge", "serve", "--root", str(tmp_path / "bench"), "--port", "0", *options]
        process = subprocess.Popen(command, stdout=says, stderr=logs, env=environment)
    try:
        for _ in range(600):
            if "  stop  " in out.read_text(encoding="utf-8") or process.poll() is not None:
                break
            time.sleep(0.05)
        assert process.poll() is None, err.read_text(encoding="utf-8")
        yield Open(process, out.read_text(encoding="utf-8"), keys, err)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait(10)


def from_elsewhere(port):
    """A connection from another address than the tests' own."""
    link = socket.socket()
    link.bind(("127.0.0.2", 0))
    link.connect(("127.0.0.1", port))
    return link


def gone(pid):
    """Whether a process is gone, or only waits to be counted."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def test_on_this_machine_it_answers_without_tls_and_ctrl_c_closes_it_with_a_line(tmp_path):
    with serving(tmp_path, "--workers", "1", "--threads", "4") as bench:
        assert bench.get()[0] == 200
        no_answer_names_its_server(bench.port, b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n\r\n",
                                   b"GET /none HTTP/1.1\r\nHost: localhost\r\n\r\n", b"no request\r\n\r\n")
        assert re.search(r"http://127\.0\.0\.1:\d+/first-start/", bench.said)
        assert re.search(r"^ +[a-z2-9]{4}(-[a-z2-9]{4}){4}$", bench.said, re.M)

        assert bench.stop(signal.SIGINT) == 0

    assert (tmp_path / "said").read_text(encoding="utf-8").count("The bench is closed.") == 1


def test_over_tls_it_answers_who_trusts_the_shop_and_nobody_without_tls(tmp_path):
    with serving(tmp_path, "--tls", "--host", "0.0.0.0", "--name", "bench.kelderbeck-basin.example") as bench:
        assert bench.get()[0] == 200
        assert bench.get(host="localhost")[0] == 200
        status, raw = bench.get("/authority.cer")
        assert (status, ssl.DER_cert_to_PEM_cert(raw)) == (200, (bench.keys / "tls" / "authority.pem").read_text())
        _fingerprint_is_printed(bench.said, raw)
        assert ".local:" in bench.said

        with pytest.raises(ssl.SSLCertVerificationError):
            ssl.create_default_context().wrap_socket(socket.create_connection(("127.0.0.1", bench.port), 5),
                                                     server_hostname="localhost")
        with socket.create_connection(("127.0.0.1", bench.port), 5) as plain:
            plain.sendall(b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n\r\n")
            assert b" 200 " not in plain.recv(4000)
        with bench.context().wrap_socket(socket.create_connection(("127.0.0.1", bench.port), 5),
                                         server_hostname="localhost") as spoken:
            assert spoken.version() == "TLSv1.3"

        children = bench.children()
        assert len(children) == 2
        assert bench.stop() == 0
        assert all(gone(pid) for pid in children)
        with pytest.raises(OSError):
            socket.create_connection(("127.0.0.1", bench.port), 2).close()


@pytest.mark.store_contract
@pytest.mark.postgres_only
def test_more_threads_than_the_database_gives_connections_for_are_told_at_the_start(tmp_path):
    with serving(tmp_path) as bench:
        assert "connections" not in bench.said
        bench.stop()
    with serving(tmp_path, "--workers", "2", "--threads", "64") as bench:
        assert ("! 2 workers with 64 threads each can want 256 connections of the database; it gives 97. Take fewer threads, "
                "or let the database's administrator allow more.") in bench.said
        bench.stop()


def no_answer_names_its_server(port, *requests):
    for request in requests:
        with socket.create_connection(("127.0.0.1", port), timeout=10) as link:
            link.sendall(request)
            head = b""
            while b"\r\n\r\n" not in head and (more := link.recv(4096)):
                head += more
        assert head.startswith(b"HTTP/1.1 ") and b"gunicorn" not in head.lower(), head
        assert not any(line.lower().startswith(b"server:") for line in head.split(b"\r\n")), head


@pytest.mark.release
def test_a_code_for_the_first_start_counts_only_once_started_anew(tmp_path):
    with serving(tmp_path, "--workers", "1") as bench:
        first = re.search(r"^ +([a-z2-9-]{24})$", bench.said, re.M)[1]
        bench.stop()
    with serving(tmp_path, "--workers", "1") as bench:
        assert re.search(r"^ +([a-z2-9-]{24})$", bench.said, re.M)[1] != first
        bench.stop()


def test_what_the_log_keeps_is_json_in_utc_without_secrets_or_claims_of_the_client(tmp_path):
    with serving(tmp_path, "--workers", "1") as bench:
        bench.get("/sign-in/?password=hunter2", headers={"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "https",
                                                         "Cookie": "__Host-session=hunter3", "Authorization": "hunter4"})
        bench.get("/nowhere/")
        bench.stop()
        lines, raw = bench.lines(), bench.err.read_text(encoding="utf-8")

    asked = [line for line in lines if line["event"] == "request"]
    assert [(line["path"], line["status"], line["client"]) for line in asked] == [
        ("/sign-in/", 200, "127.0.0.1"), ("/nowhere/", asked[1]["status"], "127.0.0.1")]
    assert asked[1]["status"] in (302, 403, 404)
    assert all(line["timestamp"].endswith("Z") for line in lines)
    assert "hunter" not in raw and "203.0.113.9" not in raw


@pytest.mark.parametrize("tls", [pytest.param(False, marks=pytest.mark.release), True])
def test_slow_clients_hold_up_nobody_else(tmp_path, tls):
    """80 connections from one address begin a request and do not end it; another address is answered at once."""
    with serving(tmp_path, "--workers", "1", "--threads", "8", *(["--tls"] if tls else [])) as bench:
        bench.get()
        held = []
        for n in range(80):
            slow = from_elsewhere(bench.port)
            if not tls:
                slow.sendall(b"GET /sign-in/ HTTP/1.1\r\nX-Slow: ")
            elif n % 2:
                slow.sendall(b"\x16\x03\x01")  # the beginning of a handshake
            held.append(slow)
        time.sleep(0.5)
        took = []
        for _ in range(5):
            began = time.monotonic()
            assert bench.get(timeout=9)[0] == 200
            took.append(time.monotonic() - began)

        stop = threading.Event()

        def drip():
            while not stop.wait(0.5):
                for slow in held:
                    try:
                        slow.sendall(b"x")
                    except OSError:
                        pass

        dripping = threading.Thread(target=drip)
        dripping.start()
        try:
            time.sleep(2)
            began = time.monotonic()
            assert bench.get(timeout=9)[0] == 200
            took.append(time.monotonic() - began)
        finally:
            stop.set()
            dripping.join()
        assert max(took) < 2.5, took
        for slow in held:
            slow.close()
        assert bench.stop() == 0


@pytest.mark.release
def test_a_head_that_does_not_come_is_cut_after_ten_seconds_and_a_head_too_long_is_refused(tmp_path):
    with serving(tmp_path, "--workers", "1", "--threads", "2") as bench:
        slow = from_elsewhere(bench.port)
        slow.sendall(b"GET /sign-in/ HTTP/1.1\r\nX-Slow: ")
        began = time.monotonic()
        assert bench.get(headers={"X-Long": "a" * 9000})[0] in (400, 431)
        assert bench.get("/" + "a" * 5000)[0] in (400, 414)
        while time.monotonic() - began < 18:
            try:
                slow.sendall(b"x")
                slow.settimeout(0.5)
                if slow.recv(100) == b"":
                    break
            except TimeoutError:
                continue
            except OSError:
                break
        assert 8 < time.monotonic() - began < 15
        slow.close()
        assert bench.get()[0] == 200
        assert bench.stop() == 0


# ---------------------------------------------------------------------------- refused before anything is done


def refused(arguments, capsys):
    code = run(["serve", *arguments])
    return code, capsys.readouterr().err


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "keys"))
    monkeypatch.delenv("SOUNDEDGE_ROOT", raising=False)
    before = os.umask(0o022)
    yield tmp_path
    os.umask(before)


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.14.20", "::", "bench-2.local"])
def test_other_devices_need_tls_and_the_whole_command_is_said(kept, capsys, host):
    code, told = refused(["--host", host, "--root", str(kept / "bench")], capsys)

    assert code == 2
    assert f"soundedge serve --tls --host {host} --port 8741 --root '{kept / 'bench'}'" in told
    assert not (kept / "bench").exists() and not (kept / "keys").exists()


def test_an_occupied_port_is_said(kept, capsys):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        code, told = refused(["--port", str(other.getsockname()[1]), "--root", str(kept / "bench")], capsys)

    assert code == 2 and "is in use" in told and "--port" in told
    assert not (kept / "bench").exists()


def test_a_root_that_cannot_be_written_is_said(kept, capsys):
    (kept / "file").write_text("x")

    code, told = refused(["--port", "0", "--root", str(kept / "file" / "bench")], capsys)

    assert code == 2 and "cannot be written" in told and "--root" in told


@pytest.mark.parametrize("arguments", [["--port", "70000"], ["--port", "-1"], ["--workers", "0"], ["--threads", "900"],
                                       ["--host", "198.51.100.7", "--tls"], ["--host", "no such host", "--tls"],
                                       ["--port", "many"], ["--log", "{root}/no/such/log"]])
def test_what_cannot_be_is_refused_in_words(kept, capsys, arguments):
    code, told = refused([one.format(root=kept) for one in arguments] + ["--root", str(kept / "bench")], capsys)

    assert code == 2 and told and "Traceback" not in told
    assert not (kept / "bench").exists()


def test_keys_in_the_installation_are_refused(kept, capsys, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(kept / "bench" / "keys"))

    code, told = refused(["--port", "0", "--root", str(kept / "bench")], capsys)

    assert code == 3 and "must not hold the other" in told


def test_a_ledger_that_was_rolled_back_is_told_and_its_shop_is_read_only(tmp_path, monkeypatch):
    from soundedge.services.evidence import keyring, witness
    from soundedge.services.people.serve import standing

    from ..services.shopfloor import NOW, keys_in, write_job

    folder = keys_in(tmp_path)
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(folder))
    data = tmp_path / "data"
    write_job(data, "KBW-2031-014")
    (tmp_path / "stick").mkdir()
    witness.witness(tmp_path / "stick", data, keys=keyring.load(folder), now=NOW)
    assert not standing(data).read_only

    for file in data.glob("ledger*"):
        file.unlink()
    write_job(data, "KBW-2031-014", upto=3)
    held = standing(data)

    assert held.read_only and "Nothing is written until this is cleared" in held.said


def _fingerprint_is_printed(said, raw):
    from soundedge.services.people.tls import fingerprint

    printed = fingerprint(raw)
    assert printed[:39] in said and printed[40:] in said
