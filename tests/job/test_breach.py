"""What was done against the rules that protect people holds the release until its report is closed by somebody who may."""

import pytest

from .sheets import blocks
from .test_gates import ENGINEER, again, also, at, entry, every, judged

LATE = every(ENGINEER, entry("permit", 0, until=at("09:20")))  # a permit that ended before the later layers


def closes(*entries, by="amara", clock="12:40"):
    """A change: reports of these entries, closed."""
    return every(*(also("breach", at=at(clock), by=by, of=one, report="KBW-BR-7", because="Site safety asked the crew.",
                        closed_by="S. Berg, site safety") for one in entries))


def late_entries():
    return [one.id for one in judged(LATE).job.of("layer.fused") if one.at > at("09:20")]


def test_a_layer_outside_the_permit_waits_for_its_report():
    held = judged(LATE)

    assert (held.verdict, blocks(held)) == ("held", ["permit"])
    assert late_entries()[0] in held.blocked_by[0].next_move

    shut = judged(every(LATE, closes(*late_entries())))
    assert shut.verdict == "released"
    assert any("KBW-BR-7, closed by S. Berg" in one for one in shut.steps["hazards"].cautions)


def test_every_breach_is_closed_by_its_own_report():
    assert len(late_entries()) > 1
    assert judged(every(LATE, closes(late_entries()[0]))).verdict == "held"


def test_a_fire_watch_that_was_too_short_waits_for_its_report():
    short = every(ENGINEER, entry("hot_work_end", 0, fire_watch_until=at("10:10")))

    assert blocks(judged(short)) == ["fire_watch"]
    assert judged(every(short, closes("hot_work_end-1"))).verdict == "released"


def test_heat_over_gas_that_was_too_high_waits_for_its_report():
    high = every(ENGINEER, entry("vapour", 0, lel_pct=30), again("vapour", 0, at=at("11:00"), lel_pct=0))
    layers = [f"layer-{n}" for n in range(1, 6)]

    assert "vapour" in blocks(judged(high))
    assert judged(every(high, closes(*layers[:-1]))).verdict == "held"
    assert judged(every(high, closes(*layers))).verdict == "released"


@pytest.mark.parametrize("by, clock, verdict", [
    ("ines", "12:40", "held"), ("amara", "08:00", "held"), ("amara", "12:40", "released")])
def test_neither_the_one_who_did_it_nor_a_report_from_before_closes_it(by, clock, verdict):
    assert judged(every(LATE, closes(*late_entries(), by=by, clock=clock))).verdict == verdict


@pytest.mark.parametrize("section, rule, words", [
    ("vapour", "vapour_reading", "If it was read"), ("permit", "permit", "If there was one")])
def test_what_was_missing_at_heat_that_is_past_is_entered_or_reported(section, rule, words):
    held = judged(every(ENGINEER, lambda typed: typed.pop(section)))
    (move,) = [block.next_move for block in held.blocked_by if block.rule == rule]

    assert move.startswith(words) and "closed report" in move


def test_gas_that_was_too_high_at_heat_that_is_past_is_reported_and_before_heat_is_ventilated():
    def before_heat(typed):
        for section in ("layer", "heat_log", "hot_work_end", "cooled", "film", "holiday", "gauge_check", "release"):
            typed.pop(section)
        del typed["sign"][2:]

    high = entry("vapour", 0, lel_pct=30)
    past, now = (next(block.next_move for block in judged(change).blocked_by if block.rule == "vapour")
                 for change in (high, every(high, before_heat)))

    assert "closed report for layer-1" in past and now.startswith("Ventilate")
