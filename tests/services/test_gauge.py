"""Readings over a real pair of pseudo-terminals, and from files."""

import os
import threading
import time

import pytest

from soundedge.basis.errors import BenchError
from soundedge.services.folder.readings import as_read, keep_readings, need_readings, readings_file
from soundedge.services.gauge import listen


@pytest.fixture
def cable():
    """Both ends of a line: the gauge's end to write on, and the name of the bench's end."""
    import tty

    gauge, bench = os.openpty()
    tty.setraw(bench)
    yield gauge, os.ttyname(bench)
    os.close(gauge)
    os.close(bench)


def speak(gauge, *pieces):
    def talk():
        time.sleep(0.15)
        for piece in pieces:
            os.write(gauge, piece)
            time.sleep(0.02)

    voice = threading.Thread(target=talk)
    voice.start()
    return voice


def test_a_gauge_speaks_and_every_line_arrives(cable):
    gauge, port = cable
    voice = speak(gauge, b"1: 1200 um\r\n2: 43", b".3 mil\r\nLOW BATTERY\r\n3: 1190 um\r\n")
    heard = []

    found = listen(port, pattern="{spot}: {value} {unit}", readings=3, seconds=10, heard=heard.append)
    voice.join()

    assert [(r.spot, round(r.value_um, 2)) for r in found["rows"]] == [("1", 1200), ("2", 1099.82), ("3", 1190)]
    assert [a.text for a in found["aside"]] == ["LOW BATTERY"] and found["ended"] == "enough"
    assert all(r.at.endswith("Z") for r in found["rows"]) and heard == found["rows"]
    assert as_read(found)["spots"][0] == {"id": "1", "readings_um": [1200.0], "where": "repair", "area": "1"}


def test_time_ends_the_listening_and_the_half_line_is_kept(cable):
    gauge, port = cable
    voice = speak(gauge, b"1200 um\n13")

    found = listen(port, pattern="{value} {unit}", seconds=0.6)
    voice.join()

    assert found["ended"] == "time" and len(found["rows"]) == 1 and found["aside"][0].text == "13"


def test_a_port_that_is_not_there_is_named():
    with pytest.raises(BenchError, match="no-such-port"):
        listen("no-such-port", pattern="{value} {unit}")


def test_a_file_is_read_with_its_encoding_and_kept_lines(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_bytes("spot;DFT µm\n1;1200\n1;x\n".encode("cp1252"))

    read = readings_file(path)

    assert read["encoding"] == "cp1252" and read["spots"][0]["readings_um"] == [1200] and len(read["set_aside"]) == 1
    out = tmp_path / "kept.csv"
    keep_readings(out, read["rows"])
    assert readings_file(out)["spots"] == read["spots"]
    with pytest.raises(BenchError, match="never overwritten"):
        keep_readings(out, read["rows"])


def test_a_file_without_a_usable_reading_says_why(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("spot,reading um\n1,x\n")

    with pytest.raises(BenchError, match="is not a number"):
        need_readings(readings_file(path))
