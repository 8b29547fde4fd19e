"""A shop that does everything in any order, against a model of twenty lines: they never differ."""

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from soundedge.basis.errors import Conflict
from soundedge.basis.on_paper import counted
from soundedge.record.entry import NOBODY_BEFORE
from soundedge.record.verify import verify
from soundedge.services.evidence.ledger_place import bring_back, open_ledger
from soundedge.store.sqlite import check_file

from ..record.jobs import NOW, fact
from ..tries import tries

pytestmark = pytest.mark.store_contract

JOBS_OF_SHOP = st.sampled_from(["KBW-1", "KBW-2", "KBW-3"])


class Shop(RuleBasedStateMachine):
    """The model: job → the facts it holds, in order; and the order over all jobs."""

    def __init__(self):
        super().__init__()
        self.place = Path(tempfile.mkdtemp(prefix="shop-"))
        self.ledger = open_ledger(self.place / "data")
        self.model: dict[str, list] = {}
        self.order: list[tuple[str, str]] = []
        self.count = 0

    def teardown(self):
        self.ledger.close()
        shutil.rmtree(self.place)

    @rule(job=JOBS_OF_SHOP, many=st.integers(1, 3), air_c=st.floats(-20, 40))
    def write(self, job, many, air_c):
        facts = []
        for _ in range(many):
            self.count += 1
            facts.append(fact(self.count, "air.read", "ines", {"air_c": air_c}))
        self.ledger.append(job, facts, now=NOW, on_head=self.ledger.head(job))
        self.model.setdefault(job, []).extend(facts)
        self.order += [(job, f.id) for f in facts]

    @precondition(lambda self: self.order)
    @rule(data=st.data())
    def send_again(self, data):
        job = data.draw(st.sampled_from(sorted(self.model)))
        again = data.draw(st.lists(st.sampled_from(self.model[job]), max_size=4))
        got = self.ledger.append(job, again, now=NOW, on_head=NOBODY_BEFORE)

        assert [entry.id for entry in got] == [f.id for f in again]

    @precondition(lambda self: self.order)
    @rule(data=st.data())
    def send_something_else_under_the_same_id(self, data):
        job = data.draw(st.sampled_from(sorted(self.model)))
        old = data.draw(st.sampled_from(self.model[job]))
        other = type(old)(old.id, "film.measured", old.by, old.at, {})
        with pytest.raises(Conflict):
            self.ledger.append(job, [fact(9999, "air.read", "ines", {}), other], now=NOW)

    @precondition(lambda self: self.order)
    @rule(data=st.data())
    def release_what_has_moved_on(self, data):
        job = data.draw(st.sampled_from(sorted(self.model)))
        with pytest.raises(Conflict):
            self.ledger.append(job, [fact(9998, "release.signed", "tobias", {})], now=NOW, on_head="ab" * 32)

    @rule()
    def open_again(self):
        self.ledger.close()
        self.ledger = open_ledger(self.place / "data")

    @rule()
    def rebuild(self):
        before = self.ledger.derived()
        self.ledger.rebuild()

        assert self.ledger.derived() == before

    @precondition(lambda self: self.order)
    @rule()
    def move_to_a_backup(self):
        self.ledger.backup(self.place / "copy")
        check_file(self.place / "copy")
        self.ledger.close()
        shutil.rmtree(self.place / "data")
        (self.place / "data").mkdir()
        bring_back(self.place / "copy", self.place / "data")
        self.ledger = open_ledger(self.place / "data")

    @precondition(lambda self: self.order)
    @rule(data=st.data())
    def take_over_an_own_record(self, data):
        job = data.draw(st.sampled_from(sorted(self.model)))

        assert self.ledger.import_record(self.ledger.record(job).raw) == 0

    @invariant()
    def the_ledger_holds_what_the_model_holds(self):
        assert self.ledger.size() == len(self.order)
        for job, facts in self.model.items():
            held = verify(self.ledger.record(job).raw)
            assert [entry.id for entry in held.entries()] == [f.id for f in facts]
        assert sorted(self.ledger.jobs()) == sorted(self.model)
        assert f"{counted(len(self.order), 'entry', 'entries')} of {counted(len(self.model), 'job')}," in self.ledger.verify()


TestShop = Shop.TestCase
TestShop.settings = tries(15, stateful_step_count=15)
TestShop = pytest.mark.slow(TestShop)
