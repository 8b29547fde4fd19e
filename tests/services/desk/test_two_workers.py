"""Two workers take entries of one job at the same moment: what the bench adds by itself is no conflict between people."""

from dataclasses import replace
from datetime import timedelta

import pytest

from soundedge.services.desk import enter

from . import bench
from .bench import INES, NUMBER, TOBIAS, at, standing

pytestmark = pytest.mark.store_contract
READ = {"air_c": 20.0, "rh_pct": 50, "steel_c": 19.0, "instrument": "H2"}


def reading(actor, n, clock):
    return {"id": f"{actor.device}-c3d4e5-{n}", "kind": "air.read", "at": at(clock).isoformat(), "body": READ}


def test_two_who_name_an_instrument_for_the_first_time_are_both_stored(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)
    real, other = enter.append, []

    def meanwhile(ledger, held, facts, **how):
        """The other worker writes between what this one saw and what it writes; it knows nothing of this one's memory."""
        if not other:
            other.append("writing")
            later = [replace(fact, at=fact.at + timedelta(seconds=7)) if fact.by == enter.BENCH else
                     replace(fact, id=f"{TOBIAS.device}-c3d4e5-9", by=TOBIAS.person) for fact in facts]
            assert [fact.kind for fact in later if fact.by == enter.BENCH] == ["person.named", "instrument.listed"]
            ledger.append(held.number, [fact for fact in later if fact.kind != "person.named"], now=how["now"])
        return real(ledger, held, facts, **how)

    monkeypatch.setattr(enter, "append", meanwhile)
    answer = enter.enter(data, INES, NUMBER, [reading(INES, 1, "07:05")], now=at("07:06"))[0]

    assert (answer["outcome"], other) == ("stored", ["writing"])
    events = standing(data).outcome.job.of("air.read")
    assert sorted(event.by for event in events if event.body.instrument == "H2") == ["ines", "tobias"]
