"""After a start, does the first who asks find the jobs read already, in every shop, also beside one that cannot be read?"""

from soundedge.record.entry import Said
from soundedge.services.desk import affected, board, kept, state
from soundedge.services.desk import affected as recalled
from soundedge.services.desk.shop_place import new_shop
from soundedge.services.desk.warm import warm
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.people import serve

from . import bench
from .bench import DAY


def counted(monkeypatch, room, name):
    """How often a function is called from now on, one entry for each."""
    work, calls = getattr(room, name), []
    monkeypatch.setattr(room, name, lambda *given, **more: (calls.append(name), work(*given, **more))[1])
    return calls


def test_after_the_start_board_and_recall_judge_and_fold_no_job(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    bench.opened(data, "KBW-2036-002")
    rests = []
    assert warm(data, rest=rests.append) == 2 == len(rests)

    judged, folded = counted(monkeypatch, state, "as_it_stands"), counted(monkeypatch, affected, "fold")
    assert {line.number for line in board.listed(data)} == {bench.NUMBER, "KBW-2036-002"}
    assert recalled.falls_with_lot(data, "P-311") == []
    assert not judged and not folded


def test_a_released_job_is_not_judged_at_the_start_nor_for_the_board(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    bench.opened(data, "KBW-2036-002")
    with open_ledger(data) as ledger:
        ledger.append(bench.NUMBER, [Said("judged-1", "job.judged", "bench", DAY, {"verdict": "released"})], now=DAY)

    judged = counted(monkeypatch, state, "as_it_stands")
    assert warm(data, rest=lambda seconds: None) == 1
    assert [(line.number, line.verdict) for line in board.listed(data)][-1] == (bench.NUMBER, "released")
    assert len(judged) == 1


def test_what_was_read_at_the_start_leaves_no_whole_job_in_memory(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    before = kept.held_bytes()
    warm(data, rest=lambda seconds: None)
    assert kept.held_bytes() == before
    state.state(data, bench.NUMBER)
    assert kept.held_bytes() > before


def test_a_shop_that_cannot_be_read_holds_up_no_other(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    root = data.parents[1]
    bench.opened(data)
    (root / "shops" / "a-broken-shop").mkdir()
    new_shop(root, "other-shop", "Kelderbeck Basin Works, yard", DAY)
    monkeypatch.setenv("SOUNDEDGE_ROOT", str(root))
    serve.wake()
    judged = counted(monkeypatch, state, "as_it_stands")
    assert [line.number for line in board.listed(data)] == [bench.NUMBER] and not judged


def test_a_job_that_moved_on_after_the_start_is_judged_again(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    warm(data, rest=lambda seconds: None)
    (before,) = board.listed(data)
    bench.play(data, upto=1)
    (after,) = board.listed(data)
    assert after.events > before.events and after.head != before.head
