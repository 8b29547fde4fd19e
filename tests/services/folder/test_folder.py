"""Does a bad job folder end in one sentence, with nothing written?"""

import errno
import json
import os
import shutil
import subprocess
import sys
import tomllib

import pytest

from soundedge.basis.errors import BenchError, Contradiction
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.folder.contents import read_folder
from soundedge.services.folder.job import new_job, run_job

from ...job.sheets import EXAMPLES


@pytest.fixture
def folder(tmp_path):
    """The example whose work is held early, copied beside its procedure: small, without photos."""
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    shutil.copytree(EXAMPLES / "dosing-nozzle", tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture
def full(tmp_path):
    """The rejected example: film and heat tables, no photo."""
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    shutil.copytree(EXAMPLES / "thin-edge-cover", tmp_path / "job")
    return tmp_path / "job"


def change(folder, old, new):
    sheet = folder / "job.toml"
    text = sheet.read_text(encoding="utf-8")
    assert old in text
    sheet.write_text(text.replace(old, new), encoding="utf-8")


def refused(folder):
    """The sentence with which a folder is refused; nothing may have been written."""
    before = sorted(p.name for p in folder.parent.rglob("*"))
    with pytest.raises(BenchError) as caught:
        run_job(folder, folder / "out")
    assert sorted(p.name for p in folder.parent.rglob("*")) == before
    assert caught.value.exit_code == 2
    assert len(caught.value.message) > 20 and "\n" not in caught.value.message.strip()
    return caught.value.message


def test_a_folder_that_is_not_there(tmp_path):
    assert "no job folder" in refused_path(tmp_path / "nowhere")


def test_a_folder_that_is_a_file(tmp_path):
    (tmp_path / "file").write_text("x")
    assert "no job folder" in refused_path(tmp_path / "file")


def test_a_folder_without_a_sheet(tmp_path):
    assert "job.toml" in refused_path(tmp_path)


def refused_path(path):
    with pytest.raises(BenchError) as caught:
        read_folder(path)
    return caught.value.message


@pytest.mark.parametrize(
    "raw, words",
    [
        (b"", "no [job]"),
        (b"[job", "not TOML"),
        (b"[job]\n[job]\n", "not TOML"),
        (b"\xff\xfe[\x00j\x00", "UTF-8"),
        ("[job]\nsite = \"M\u00fchle\"".encode("cp1252"), "UTF-8"),
        (b"x = " + b"9" * 6000, "cannot be read"),
        (b"x = " + b"[" * 4000 + b"]" * 4000, "nested too deep"),
        (b"a = 1\x00", "not TOML"),
        (b"at = 2031-13-45T99:00:00Z", "not TOML"),
        (b"job = 3", "single brackets"),
        (b"[job]\nnumber = 'x'\n", "procedure"),
        (b"[[job]]\nnumber = 'x'\n", "single brackets"),
        (b"[job]\nat = 1e400\nprocedure = '../procedures/kbw-lp-04.toml'", "time"),
        (b"[job]\nat = 2031-05-04\nprocedure = '../procedures/kbw-lp-04.toml'", "time"),
        (b"[job]\nat = 0001-01-01T00:00:00+14:00\nprocedure = '../procedures/kbw-lp-04.toml'", "time"),
        (b"[job]\nprocedure = 3", "name of a file"),
        (b"[job]\nprocedure = ''", "name of a file"),
        (b"[job]\nprocedure = '/etc/hostname'", "absolute path"),
        (b"[job]\nprocedure = '..'", "not a file"),
        (b"[job]\nprocedure = 'not-there.toml'", "no file"),
        (b"[job]\nprocedure = 'job.toml'", "no [procedure]"),
        (b"[job]\nprocedure = \"a\\u0000b\"", "name of a file"),
    ],
)
def test_a_sheet_that_cannot_be_read_is_refused_with_its_reason(folder, raw, words):
    (folder / "job.toml").write_bytes(raw)

    assert words in refused(folder)


def test_a_sheet_with_a_byte_order_mark_is_read(folder):
    sheet = folder / "job.toml"
    sheet.write_bytes(b"\xef\xbb\xbf" + sheet.read_bytes())

    assert read_folder(folder).sheet["job"]["number"]


def test_a_sheet_larger_than_its_fence(folder):
    (folder / "job.toml").write_bytes(b"#" * 4_000_001)

    assert "at most" in refused(folder)


@pytest.mark.parametrize("name", ["job.toml", "air.csv"])
def test_a_pipe_where_a_file_belongs_does_not_hang_the_bench(folder, name):
    (folder / name).unlink()
    os.mkfifo(folder / name)

    assert "not a file" in refused(folder)


@pytest.mark.parametrize("name", ["job.toml", "air.csv"])
def test_a_folder_where_a_file_belongs(folder, name):
    (folder / name).unlink()
    (folder / name).mkdir()

    assert "not a file" in refused(folder)


def test_a_procedure_of_a_number_too_long(folder):
    (folder.parent / "procedures" / "kbw-lp-04.toml").write_bytes(b"x = " + b"9" * 6000)

    assert "cannot be read" in refused(folder)


HEADER = "at,air_c,rh_pct,steel_c\n"


@pytest.mark.parametrize(
    "text, words",
    [
        ("", "no line"),
        (HEADER, "no line"),
        ("at,air,rh_pct,steel_c\n2026-01-01T00:00Z,1,2,3\n", "no column 'air_c'"),
        ("at,air_c,rh_pct,steel_c,mood\n2026-01-01T00:00Z,20,50,20,good\n", "'mood' that is not known"),
        ("at,air_c,air_c,rh_pct,steel_c\n2026-01-01T00:00Z,20,20,50,20\n", "twice"),
        (HEADER + "2026-01-01T00:00Z,20,50\n", "line 2"),
        (HEADER + "2026-01-01T00:00Z,20,50,warm\n", "'warm'"),
        (HEADER + "2026-01-01T00:00Z,20,,19\n", "empty"),
        (HEADER + "2026-01-01T00:00Z,nan,50,19\n", "'nan'"),
        (HEADER + "2026-01-01T00:00Z,inf,50,19\n", "'inf'"),
        (HEADER + "2026-01-01T00:00Z,2_0,50,19\n", "'2_0'"),
        (HEADER + "2026-01-01T00:00Z,1e300,50,19\n", "Air temperature"),
        (HEADER + "noon,20,50,19\n", "time"),
        (HEADER + "2026-01-01T00:00Z," + "9" * 200_000 + ",50,19\n", "not a table"),
        (HEADER + "2026-01-01T00:00Z,20,50,\x00\n", "steel_c"),
    ],
)
def test_an_air_log_that_cannot_be_read(folder, text, words):
    (folder / "air.csv").write_text(text, encoding="utf-8")

    assert words in refused(folder)


def test_an_air_log_as_a_german_spreadsheet_saves_it(folder):
    table = (folder / "air.csv").read_text(encoding="utf-8")
    rows = [line.replace(",", ";").replace(".", ",") for line in table.splitlines() if not line.startswith("#")]
    plain = read_folder(folder).sheet["air"]
    (folder / "air.csv").write_bytes(b"\xef\xbb\xbf" + "\r\n".join(rows).encode())

    assert [one["air_c"] for one in read_folder(folder).sheet["air"]] == [one["air_c"] for one in plain]


def outcome_of(folder):
    return judge_job(events_of(read_folder(folder).sheet), estimates=False)


def test_film_in_mil_is_read_in_mil(full):
    def as_mil(line):
        cells = line.split(",")
        return ",".join([*cells[:-1], f"{float(cells[-1]) / 25.4:.6f}"])

    lines = (full / "film.csv").read_text(encoding="utf-8").splitlines()
    micrometre = [s["readings_um"] for s in read_folder(full).sheet["film"][0]["spots"]]
    (full / "film.csv").write_text("\n".join([lines[0].replace("reading_um", "reading_mil"), *map(as_mil, lines[1:])]))

    mil = [s["readings_um"] for s in read_folder(full).sheet["film"][0]["spots"]]

    assert [[round(v) for v in s] for s in mil] == [[round(v) for v in s] for s in micrometre]


def test_a_mil_value_in_a_micrometre_column_does_not_pass_in_silence(full):
    lines = (full / "film.csv").read_text(encoding="utf-8").splitlines()
    (full / "film.csv").write_text("\n".join([lines[0], *(f"{line.rpartition(',')[0]},47.2" for line in lines[1:])]))

    try:
        outcome = outcome_of(full)
    except BenchError as fault:
        assert fault.message
    else:
        assert outcome.verdict == "rejected"


@pytest.mark.parametrize(
    "raw",
    [b"", b"\x00\x01\x02", b"spot;reading\n", b"spot,where,x_mm,y_mm,reading_um\n", b"\xff" * 300, b"hello\nthere\n",
     b"spot,reading_um\nR1," + b"9" * 200_000 + b"\n", b"spot,reading_um\n\"R1,1200\n",
     "spot,where,x_mm,y_mm,reading_um\nR\u00e4nd,repair,1,2,1200\n".encode("cp1252")],
)
def test_film_readings_that_cannot_be_read_are_refused_or_hold_the_job(full, raw):
    (full / "film.csv").write_bytes(raw)

    try:
        outcome = outcome_of(full)
    except BenchError as fault:
        assert fault.exit_code == 2 and fault.message
    else:
        assert outcome.verdict != "released"


@pytest.mark.parametrize("name", ["film.csv", "heat.csv"])
def test_a_table_that_is_not_there(full, name):
    (full / name).unlink()

    assert name in refused(full)


@pytest.mark.parametrize("name", ["film.csv", "heat.csv"])
def test_a_table_by_an_absolute_path(full, name):
    change(full, f'"{name}"', f'"{full / name}"')

    assert "absolute" in refused(full)


def test_a_photo_that_is_no_photo(folder):
    (folder / "a.jpg").write_bytes(b"not a photo")
    with open(folder / "job.toml", "a", encoding="utf-8") as sheet:
        sheet.write('\n[[damage]]\nat = 2026-05-04T08:00:00Z\nby = "ines"\nid = "Z"\nstage = "as_found"\nphoto = "a.jpg"\n')

    assert refused(folder)


def test_a_picture_that_is_no_picture_is_refused_or_left_as_it_is(folder):
    raw = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))
    (folder / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n broken")
    with open(folder / "job.toml", "a", encoding="utf-8") as sheet:
        sheet.write(f'\n[[picture]]\nat = 2026-05-04T08:00:00Z\nby = "{raw["person"][0]["id"]}"\nfile = "a.png"\n'
                    'caption = "broken"\n')

    try:
        run_job(folder, folder / "out")
    except BenchError as fault:
        assert fault.message
        assert not (folder / "out").exists()


# ── where it is written ──

def test_an_out_that_is_a_file(folder):
    (folder / "out").write_text("mine")

    with pytest.raises(BenchError, match="cannot be made"):
        run_job(folder, folder / "out")
    assert (folder / "out").read_text() == "mine"


def test_an_out_below_a_file(folder):
    (folder / "out").write_text("mine")

    with pytest.raises(BenchError, match="cannot be made"):
        run_job(folder, folder / "out" / "deeper")


def test_an_out_whose_parents_are_not_there_is_made(folder):
    run_job(folder, folder / "a" / "b")

    assert sorted(p.name for p in (folder / "a" / "b").iterdir()) == ["certificate.pdf", "job.json", "record.json"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_an_out_that_may_not_be_written(folder, tmp_path):
    (tmp_path / "locked").mkdir(mode=0o500)

    with pytest.raises(BenchError, match=r"cannot be made|could not be written"):
        run_job(folder, tmp_path / "locked" / "out")


def test_a_folder_that_stands_in_the_place_of_a_file_leaves_the_old_set_whole(folder):
    (folder / "out" / "job.json").mkdir(parents=True)
    (folder / "out" / "certificate.pdf").write_text("old")

    with pytest.raises(BenchError, match=r"job\.json"):
        run_job(folder, folder / "out")
    assert sorted(p.name for p in (folder / "out").iterdir()) == ["certificate.pdf", "job.json"]
    assert (folder / "out" / "certificate.pdf").read_text() == "old"


FULL_DISK = """
import resource, sys
from pathlib import Path
from soundedge.basis.errors import BenchError
from soundedge.services.folder.job import run_job
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
try:
    run_job(Path(sys.argv[1]), Path(sys.argv[1]) / "out")
except BenchError as fault:
    print(fault.message)
    sys.exit(fault.exit_code)
"""


@pytest.mark.slow
@pytest.mark.parametrize("room", [1, 60_000])
def test_a_full_disk_leaves_the_old_set_as_it_was(folder, room):
    out = folder / "out"
    out.mkdir()
    for name in ("certificate.pdf", "job.json"):
        (out / name).write_text("old")

    done = subprocess.run([sys.executable, "-c", FULL_DISK, str(folder), str(room)], capture_output=True, text=True)

    assert done.returncode == 2, done.stderr
    assert "could not be" in done.stdout and "Traceback" not in done.stderr
    assert {p.name: p.read_text() for p in out.iterdir()} == {"certificate.pdf": "old", "job.json": "old"}


@pytest.mark.parametrize("which", [1, 2, 3])
def test_a_disk_that_fills_at_any_file_leaves_the_old_set_as_it_was(folder, monkeypatch, which):
    out = folder / "out"
    out.mkdir()
    for name in ("certificate.pdf", "job.json"):
        (out / name).write_text("old")
    calls = []

    def full(handle):
        calls.append(handle)
        if len(calls) == which:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("soundedge.services.files.os.fsync", full)
    with pytest.raises(BenchError, match="No space left"):
        run_job(folder, out)

    assert {p.name: p.read_text() for p in out.iterdir()} == {"certificate.pdf": "old", "job.json": "old"}


# ── what stands there already ──

@pytest.mark.slow
def test_a_released_job_run_again_and_then_changed(full):
    """Same sheet, same bytes; a changed one keeps the old set and says so; the changed one again, same bytes."""
    for name in ("film.csv", "heat.csv"):
        (full / name).unlink()
    shutil.rmtree(full)
    shutil.copytree(EXAMPLES / "mixer-cover", full)
    out = full / "out"

    def read():
        return {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()}

    assert run_job(full, out)["verdict"] == "released"
    first = read()
    run_job(full, out)
    assert read() == first
    assert not list(out.glob("superseded-*"))

    change(full, 'tag = "MC-7"', 'tag = "MC-8"')
    plain = run_job(full, out)
    kept = {p.name: p.read_bytes() for p in (out / "superseded-1").iterdir()}
    assert kept == first
    second = read()
    assert plain["certificate"].endswith("-A")
    assert json.loads(first["job.json"])["certificate"].encode() in second["record.json"]

    run_job(full, out)
    assert read() == second
    assert [p.name for p in out.glob("superseded-*")] == ["superseded-1"]

    change(full, 'number = "KBW-', 'number = "OTHER-')
    with pytest.raises(BenchError, match="another folder"):
        run_job(full, out)
    (out / "record.json").write_bytes(second["record.json"][:-3])
    with pytest.raises(BenchError, match="not written over"):
        run_job(full, out)


def test_a_new_sheet_whose_names_are_others_in_capitals_is_not_kept(folder, tmp_path):
    run_job(folder, folder / "out", data=tmp_path / "data")
    for old, new in (('number = "KBW-2026-019"', 'number = "kbw-2026-019"'), ('tag = "DN-22"', 'tag = "dn-22"')):
        shutil.rmtree(tmp_path / "other", ignore_errors=True)
        shutil.copytree(folder, tmp_path / "other", ignore=shutil.ignore_patterns("out"))
        change(tmp_path / "other", old, new)
        if "tag" in old:
            change(tmp_path / "other", 'number = "KBW-2026-019"', 'number = "KBW-2026-020"')
        with pytest.raises(Contradiction, match=f"only in capitals from '{old.split(chr(34))[1]}'"):
            run_job(tmp_path / "other", tmp_path / "other" / "out", data=tmp_path / "data")
        assert not (tmp_path / "other" / "out").exists()
    run_job(folder, folder / "out", data=tmp_path / "data")


def test_a_held_job_is_simply_replaced(folder):
    out = folder / "out"
    run_job(folder, out)
    change(folder, "[part]", "# looked at again\n[part]")
    change(folder, 'name = "', 'name = "the same ')

    run_job(folder, out)

    assert sorted(p.name for p in out.iterdir()) == ["certificate.pdf", "job.json", "record.json"]


def test_a_new_folder_touches_nothing_that_is_there(tmp_path):
    (tmp_path / "film.csv").write_text("mine")

    new_job(tmp_path)

    assert (tmp_path / "film.csv").read_text() == "mine"
    assert (tmp_path / "job.toml").is_file()
    with pytest.raises(BenchError, match=r"holds a job\.toml already"):
        new_job(tmp_path)


def test_a_new_folder_below_a_file_is_refused(tmp_path):
    (tmp_path / "file").write_text("x")

    with pytest.raises(BenchError):
        new_job(tmp_path / "file" / "job")


def test_the_empty_sheet_is_read_and_says_what_it_lacks(tmp_path):
    new_job(tmp_path / "job", procedure=EXAMPLES / "procedures" / "kbw-lp-04.toml")

    try:
        outcome = outcome_of(tmp_path / "job")
    except BenchError as fault:
        assert fault.message
    else:
        assert outcome.verdict == "held"
