"""A record of two repairs: every verifier asks each of them for its own signatures, film and tests."""

from dataclasses import replace
from datetime import timedelta

import pytest

from soundedge.record.replay import replay
from soundedge.record.verify import verify

from .jobs import record, released

OF_EACH = ("layer.fused", "film.measured", "holiday.tested", "hold_point.signed")


def both():
    """The released job with everything of repair A once more for B, a minute later."""
    out = []
    for said in released():
        if said.kind == "damage.outlined":
            out += [said, replace(said, id=f"{said.id}-b", body=said.body | {"id": "B"})]
        elif said.kind in OF_EACH:
            out += [replace(said, body=said.body | {"repair": "A"}),
                    replace(said, id=f"{said.id}-b", at=said.at + timedelta(minutes=1), body=said.body | {"repair": "B"})]
        else:
            out.append(said)
    return out


def moved(facts, kind, repair, **shift):
    """The facts with those of one kind and repair at another time, in order."""
    by = timedelta(**shift)
    changed = [replace(one, at=one.at + by) if one.kind == kind and one.body.get("repair") == repair else one for one in facts]
    judged = [one for one in changed if one.kind == "job.judged"]
    return sorted((one for one in changed if one.kind != "job.judged"), key=lambda one: one.at) + judged


def without(facts, kind, repair, **body):
    return [one for one in facts if not (one.kind == kind and one.body.get("repair") == repair
                                         and all(one.body.get(key) == value for key, value in body.items()))]


# what is wrong → the rule that is broken, and what its sentence names
BROKEN = {
    "nobody signed the film of B": (lambda f: without(f, "hold_point.signed", "B", hold_point="film"), "R2", "film, repair B"),
    "the film of B was read after its signature": (
        lambda f: moved(f, "film.measured", "B", minutes=15), "R2", "film, repair B"),
    "the voltage test of B found a hole, the one of A none": (
        lambda f: [replace(one, body=one.body | {"holidays": [{"x": 1, "y": 2}]})
                   if one.kind == "holiday.tested" and one.body["repair"] == "B" else one for one in f], "R5", "e19-b"),
}


def test_two_repairs_done_in_order_keep_every_rule():
    found = replay(verify(record(both()).raw))
    assert found.released and not found.broken


@pytest.mark.parametrize("what", BROKEN)
def test_what_is_right_for_one_repair_does_not_stand_for_the_other(what):
    change, rule, named = BROKEN[what]
    found = replay(verify(record(change(both())).raw))

    assert [one.name for one in found.broken] == [rule] and named in found.broken[0].because


def test_the_film_of_one_may_be_signed_before_that_of_the_other_is_read():
    """A is signed, then B is read and signed: nothing that A's signature covers has changed."""
    facts = [one for one in both() if one.kind != "holiday.tested" or one.body["repair"] == "A"]
    late = moved(facts, "film.measured", "B", minutes=5)
    late = [replace(one, at=one.at + timedelta(minutes=5)) if one.kind == "hold_point.signed" and one.body["repair"] == "B"
            and one.body["hold_point"] == "film" else one for one in late]
    broken = replay(verify(record(sorted(late[:-1], key=lambda one: one.at) + late[-1:]).raw)).broken
    assert [(one.name, "holiday, repair B" in one.because) for one in broken] == [("R2", True)]  # only its missing test is told
