"""The register of a shop: folded from its own chain, by rules that hold for everybody."""

from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Conflict, Contradiction, NotEnough, Refused, Unknown, Unreadable
from soundedge.basis.procedure import load_procedure, read_procedure
from soundedge.basis.quantity import read_instant
from soundedge.history.procedure_changes import compare_procedures as compare
from soundedge.history.register import Register, admit, folded, text_digest
from soundedge.history.register_bodies import BODIES

TEXT = """[procedure]
id = "KBW-LP-21"
edition = "1"
[limits.feather_mm]
value = 15
unit = "mm"
source = "KBW-LP-21, 5.1"
"""
AT = "2026-05-04T07:00:00Z"
TOOL = {"id": "G7", "kind": "film_gauge", "calibrated_on": "2026-01-01T00:00:00Z", "calibration_due": "2027-01-01T00:00:00Z"}
WHY = "a reason that says something"


@dataclass
class Said:
    no: int
    kind: str
    by: str
    at: str
    body: Any


def chain(*said):
    return [Said(n, kind, by, AT, body) for n, (kind, by, body) in enumerate(said, 1)]


def person(name, role="technician", **more):
    return ("person.enrolled", "odile", {"id": name, "name": f"{name} of the yard", "role": role} | more)


def proposed(by="amara", name="one", text=TEXT):
    return ("procedure.proposed", by, {"id": name, "text": text, "sha256": text_digest(text), "because": WHY})


def may(register, kind, body, by="odile"):
    return admit(register, kind, body, by=by, at=read_instant(AT))


def test_a_person_is_what_their_last_change_says():
    held = folded(
        chain(person("ines"), ("person.changed", "odile", {"id": "ines", "name": "Ines Marlow", "role": "inspector"}))
    )

    assert (held.people["ines"].name, held.people["ines"].role) == ("Ines Marlow", "inspector")
    assert held.faults == ()


@pytest.mark.parametrize("other", ["Ines Marlow", "ines  marlow", "INES MARLOW"])
def test_two_people_of_one_name_are_refused(other):
    held = folded(chain(("person.enrolled", "odile", {"id": "ines", "name": "Ines Marlow", "role": "technician"})))

    with pytest.raises(Contradiction):
        may(held, "person.enrolled", {"id": "ines2", "name": other, "role": "inspector"})


def test_two_people_of_one_certificate_are_refused_and_a_change_to_it_too():
    held = folded(chain(person("ines", certificate="Q-1"), person("tobias", certificate="Q-2")))

    with pytest.raises(Contradiction):
        may(held, "person.enrolled", {"id": "x", "name": "Xaver", "role": "inspector", "certificate": "q-1"})
    with pytest.raises(Contradiction):
        may(held, "person.changed", {"id": "tobias", "name": "Tobias", "role": "inspector", "certificate": "Q-1"})


@pytest.mark.parametrize("name", ["", "bench", "sheet", "shop", "a b", "a/b", "../x", "ä", "x" * 41, "-a"])
def test_an_id_that_cannot_name_a_person_is_refused(name):
    with pytest.raises(BenchError):
        may(Register(), "person.enrolled", {"id": name, "name": "Somebody", "role": "technician"})


def test_the_only_manager_is_not_disabled():
    held = folded(chain(person("odile", "manager"), person("ines")))

    with pytest.raises(Refused):
        may(held, "person.disabled", {"id": "odile", "because": WHY})
    both = folded(chain(person("odile", "manager"), person("berta", "manager")))
    assert may(both, "person.disabled", {"id": "odile", "because": WHY})


def test_nobody_signs_with_anothers_key():
    held = folded(chain(person("ines"), person("tobias"), ("person.key_given", "ines", {"id": "ines", "key": "0" * 16})))

    assert held.people["ines"].key == "0" * 16
    with pytest.raises(Contradiction):
        may(held, "person.key_given", {"id": "tobias", "key": "0" * 16})


def test_an_older_key_stays_known_when_a_newer_one_signs():
    held = folded(
        chain(
            person("ines"),
            ("person.key_given", "ines", {"id": "ines", "key": "0" * 16}),
            ("person.key_reset", "odile", {"id": "ines", "because": WHY}),
            ("person.key_given", "ines", {"id": "ines", "key": "1" * 16}),
        )
    )

    assert held.people["ines"].keys == ("0" * 16, "1" * 16) and held.people["ines"].key == "1" * 16


def test_a_procedure_counts_when_a_second_person_has_approved_it():
    waiting = folded(chain(proposed()))
    assert list(waiting.proposals) == ["one"] and waiting.procedures == {}

    with pytest.raises(Refused):
        may(waiting, "procedure.approved", {"proposal": "one", "sha256": text_digest(TEXT)}, by="amara")
    with pytest.raises(Conflict):
        may(waiting, "procedure.approved", {"proposal": "one", "sha256": "0" * 64})
    approved = folded(chain(proposed(), ("procedure.approved", "odile", {"proposal": "one", "sha256": text_digest(TEXT)})))
    assert approved.procedures["KBW-LP-21"].stands and approved.proposals == {}
    gone = folded(
        chain(
            proposed(),
            ("procedure.approved", "odile", {"proposal": "one", "sha256": text_digest(TEXT)}),
            ("procedure.withdrawn", "odile", {"id": "one", "because": WHY}),
        )
    )
    assert not gone.procedures["KBW-LP-21"].stands and gone.procedures["KBW-LP-21"].word == "withdrawn"


def test_the_revision_approved_last_is_the_procedure():
    newer = TEXT.replace("15", "20").replace('"1"', '"2"')
    held = folded(
        chain(
            proposed(),
            ("procedure.approved", "odile", {"proposal": "one", "sha256": text_digest(TEXT)}),
            proposed(name="two", text=newer),
            ("procedure.approved", "odile", {"proposal": "two", "sha256": text_digest(newer)}),
        )
    )

    # both were approved at the same moment of this chain; the one that came later counts
    assert held.procedures["KBW-LP-21"].revision == "two" and held.procedures["KBW-LP-21"].edition == "2"


def test_an_approval_by_the_proposer_that_stands_in_a_chain_counts_for_nothing():
    """Whoever writes past the desk gains nothing: the same rules are asked when the chain is read."""
    held = folded(chain(proposed(), ("procedure.approved", "amara", {"proposal": "one", "sha256": text_digest(TEXT)})))

    assert held.procedures == {} and "does not count" in held.faults[0] and "Entry 2" in held.faults[0]


def test_a_text_that_is_not_its_digest_or_no_procedure_is_refused():
    body = proposed()[2]
    with pytest.raises(Contradiction):
        may(Register(), "procedure.proposed", body | {"sha256": "0" * 64})
    for text in ("not toml [", "[procedure]\nid='x'\n[limits.nothing]\nvalue=1\n", "x=1\n"):
        with pytest.raises(BenchError):
            may(Register(), "procedure.proposed", body | {"text": text, "sha256": text_digest(text)})


def test_a_calibration_replaces_the_older_one_and_keeps_what_it_does_not_say():
    held = folded(
        chain(
            ("instrument.listed", "odile", TOOL | {"tol_pct": "3"}),
            (
                "instrument.calibrated",
                "odile",
                {"id": "G7", "calibrated_on": "2026-06-01T00:00:00Z", "calibration_due": "2027-06-01T00:00:00Z"},
            ),
        )
    )

    assert held.instruments["G7"].listed.tol_pct == 3 and held.instruments["G7"].calibration_due.year == 2027
    assert held.faults == ()
    with pytest.raises(Contradiction):
        may(
            held,
            "instrument.calibrated",
            {"id": "G7", "calibrated_on": "2026-02-01T00:00:00Z", "calibration_due": "2027-02-01T00:00:00Z"},
        )


def test_what_is_withdrawn_needs_a_reason_and_is_withdrawn_once():
    held = folded(chain(("instrument.listed", "odile", TOOL)))
    with pytest.raises(NotEnough):
        may(held, "instrument.withdrawn", {"id": "G7", "because": "broken"})
    gone = folded(chain(("instrument.listed", "odile", TOOL), ("instrument.withdrawn", "odile", {"id": "G7", "because": WHY})))
    assert gone.instruments["G7"].withdrawn_because == WHY
    with pytest.raises(Conflict):
        may(gone, "instrument.withdrawn", {"id": "G7", "because": WHY})


@pytest.mark.parametrize(
    "kind", [kind for kind in BODIES if kind.split(".")[1] not in ("enrolled", "listed", "received", "proposed")]
)
def test_nothing_happens_to_what_is_not_there(kind):
    body = {
        "id": "none",
        "because": WHY,
        "key": "0" * 16,
        "what": "key_reset",
        "name": "N",
        "role": "technician",
        "calibrated_on": AT,
        "opened_on": AT,
        "calibration_due": "2027-01-01T00:00:00Z",
        "proposal": "none",
        "sha256": "0" * 64,
    }
    wanted = {key: body[key] for key in BODIES[kind].model_fields if key in body}

    with pytest.raises(Unknown):
        may(Register(), kind, wanted)


NAMING = [("person.enrolled", {"name": "Another One", "role": "technician"}), ("instrument.listed", TOOL),
          ("lot.received", {"kind": "powder", "expires": "2027-01-01T00:00:00Z"})]


@pytest.mark.parametrize(("kind", "body"), NAMING)
def test_a_new_id_is_no_other_in_capitals_and_none_that_a_file_system_keeps(kind, body):
    there = (kind, "odile", body | {"id": "One-1"} | ({"name": "One"} if "name" in body else {}))
    held = folded(chain(there, (kind, "odile", body | {"id": "CON"})))
    assert held.faults == ()  # what an older chain holds stays

    for name, error in (("oNE-1", Contradiction), ("nul", Unreadable)):
        with pytest.raises(error) as refused:
            may(held, kind, body | {"id": name} | ({"name": "A Third"} if "name" in body else {}))
        assert refused.value.field == "id"
    with pytest.raises(Unreadable):
        may(held, "device.enrolled", {"id": "com1", "name": "the tablet"})
    with pytest.raises((Contradiction, Unreadable)):
        may(held, "person.enrolled", {"id": "Bench", "name": "B", "role": "technician"})
    with pytest.raises(Unreadable):
        may(held, "procedure.proposed", proposed(name="prn")[2])


def test_asking_changes_nothing():
    held = folded(chain(person("ines")))

    may(held, "person.enrolled", {"id": "tobias", "name": "Tobias", "role": "inspector"})

    assert list(held.people) == ["ines"]


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(
    st.sampled_from(sorted(BODIES)),
    st.dictionaries(st.sampled_from(["id", "name", "role", "because", "key", "text", "sha256", "x"]), anything, max_size=6)
    | anything,
)
def test_whatever_the_body_is_there_is_a_sentence_and_no_trace(kind, body):
    try:
        may(Register(), kind, body)
    except BenchError as fault:
        assert fault.message
    assert isinstance(folded([Said(1, kind, "odile", AT, body)]), Register)


def test_an_older_chain_keeps_a_day_of_approval_in_words_and_a_new_text_needs_a_date():
    words = TEXT.replace("[limits", 'approved_on = "spring 2031"\n[limits', 1)
    held = folded(chain(person("odile", "manager"), person("amara", "engineer"), proposed(text=words)))

    assert held.faults == () and held.revisions["one"].procedure.approved_on == "spring 2031"
    with pytest.raises(Unreadable, match="no date"):
        may(held, *proposed(name="two", text=words)[::2], by="amara")
    may(held, *proposed(name="two", text=words.replace("spring 2031", "2031-03-02"))[::2], by="amara")


# ------------------------------------------------------------------ two procedures side by side


def test_two_revisions_differ_where_they_differ():
    one, other = load_procedure(TEXT), load_procedure(TEXT.replace("15", "20").replace('edition = "1"', 'edition = "2"'))

    assert [(d.key, d.old, d.new, d.unit) for d in compare(one, other)] == [
        ("edition", "1", "2", ""),
        ("feather_mm", 15.0, 20.0, "mm"),
    ]
    assert compare(one, one) == []


def test_a_limit_that_is_taken_out_is_a_difference_to_nothing():
    one, other = read_procedure({"feather_mm": 15, "keep_out_mm": 20}), read_procedure({"feather_mm": 15})

    assert [(d.key, d.old, d.new) for d in compare(one, other)] == [("keep_out_mm", 20.0, None)]


@given(st.floats(1, 400), st.floats(1, 400))
def test_what_changes_one_way_changes_back_the_other(a, b):
    one, other = read_procedure({"feather_mm": a}), read_procedure({"feather_mm": b})

    assert [(d.key, d.old, d.new) for d in compare(one, other)] == [(d.key, d.new, d.old) for d in compare(other, one)]


def test_who_is_enabled_again_is_as_they_were_but_for_their_key():
    gone = (
        person("odile", "manager"),
        person("ines", certificate="Q-1"),
        ("person.key_given", "ines", {"id": "ines", "key": "0" * 16}),
        ("person.disabled", "odile", {"id": "ines", "because": WHY}),
    )
    away = folded(chain(*gone))
    assert (away.people["ines"].disabled_by, away.people["ines"].disabled_because) == ("odile", WHY)
    for kind, body in (
        ("person.changed", {"id": "ines", "name": "Ines Marlow", "role": "inspector"}),
        ("person.key_reset", {"id": "ines", "because": WHY}),
        ("person.disabled", {"id": "ines", "because": WHY}),
    ):
        with pytest.raises(Refused, match="was disabled on 04 May 2026"):
            may(away, kind, body)
    with pytest.raises(NotEnough):
        may(away, "person.enabled", {"id": "ines", "because": "back"})
    back = folded(chain(*gone, ("person.enabled", "odile", {"id": "ines", "because": WHY})))
    ines = back.people["ines"]
    assert not ines.disabled and (ines.disabled_because, ines.disabled_by) == ("", "") and back.faults == ()
    assert (ines.key, ines.keys, ines.certificate) == ("", ("0" * 16,), "Q-1")
    with pytest.raises(Conflict):
        may(back, "person.enabled", {"id": "ines", "because": WHY})
    may(back, "person.key_given", {"id": "ines", "key": "1" * 16}, by="ines")


KEYED = ("person.key_given", "odile", {"id": "odile", "key": "a" * 16})
ASKED = ("person.reset_asked", "odile", {"id": "ines", "what": "key_reset", "because": WHY})
RESET = {"id": "ines", "because": WHY}
LATER = read_instant("2026-05-06T07:00:00Z")


def shop_of(*more, tove="technician"):
    return folded(chain(person("odile", "manager"), person("ines", "inspector"), person("tove", tove), KEYED,
                        ("person.key_given", "tove", {"id": "tove", "key": "b" * 16}), *more))


def test_a_new_password_is_one_persons_word_only_where_the_shop_has_no_second():
    for held, at in (
        (folded(chain(person("odile", "manager"), person("ines", "inspector"), KEYED)), LATER),  # nobody else
        (shop_of(tove="auditor"), LATER),  # who only looks
        (shop_of(), read_instant(AT)),  # enrolled on the same day
        (shop_of(("person.disabled", "odile", {"id": "tove", "because": WHY})), LATER),
        (shop_of(("person.key_reset", "odile", {"id": "tove", "because": WHY})), LATER),  # no password of their own
    ):
        assert admit(held, "person.key_reset", RESET, by="odile", at=at)
    with pytest.raises(Refused, match="confirmed by a second person: tove of the yard"):
        admit(shop_of(), "person.key_reset", RESET, by="odile", at=LATER)
    with pytest.raises(Refused, match="confirmed by a second person"):
        admit(shop_of(("person.disabled", "odile", RESET)), "person.enabled", RESET, by="odile", at=LATER)
    assert admit(shop_of(), "person.key_reset", RESET, by="ines", at=LATER)  # at the machine itself, in their own name
    assert shop_of(("person.key_reset", "odile", RESET)).faults == ()  # an older chain counts as it is


@pytest.mark.parametrize(("by", "asked_by", "at", "error"), [
    ("odile", "odile", "2026-05-05T07:00:00Z", Refused),  # who asked
    ("ines", "odile", "2026-05-05T07:00:00Z", Refused),  # who is to get it
    ("tove", "amara", "2026-05-05T07:00:00Z", Conflict),  # nobody of that name asked
    ("tove", "odile", "2026-05-11T07:00:01Z", Conflict),  # too long ago
    ("tove", "odile", "2026-05-04T08:00:00Z", Refused),  # came to the shop an hour ago
    ("tove", "odile", "2026-05-11T07:00:00Z", None),
])
def test_who_confirms_neither_asked_nor_is_new_and_does_so_within_seven_days(by, asked_by, at, error):
    held, body = shop_of(ASKED), RESET | {"asked_by": asked_by}
    if error is None:
        assert admit(held, "person.key_reset", body, by=by, at=read_instant(at))
        return
    with pytest.raises(error):
        admit(held, "person.key_reset", body, by=by, at=read_instant(at))


def test_what_was_asked_is_done_once_and_nothing_else():
    held = shop_of(ASKED)
    with pytest.raises(Conflict):  # a new password was asked for, not that she comes back
        admit(shop_of(ASKED, ("person.disabled", "odile", RESET)), "person.enabled", RESET | {"asked_by": "odile"}, by="tove",
              at=LATER)
    assert held.people["ines"].asked.because == WHY
    done = shop_of(ASKED, ("person.key_reset", "tove", RESET | {"asked_by": "odile"}))
    assert done.people["ines"].asked is None and done.faults == ()
    with pytest.raises(Conflict):
        admit(done, "person.key_reset", RESET | {"asked_by": "odile"}, by="tove", at=LATER)
    with pytest.raises(Conflict, match="can already sign in"):
        admit(held, "person.reset_asked", RESET | {"what": "enabled"}, by="odile", at=LATER)


def test_what_an_older_chain_says_of_a_person_who_is_gone_still_counts():
    held = folded(
        chain(
            person("ines"),
            ("person.disabled", "odile", {"id": "ines", "because": WHY}),
            ("person.changed", "odile", {"id": "ines", "name": "Ines Marlow", "role": "inspector"}),
            ("person.key_reset", "odile", {"id": "ines", "because": WHY}),
        )
    )
    assert held.faults == () and held.people["ines"].name == "Ines Marlow" and held.people["ines"].disabled


UNSEEN = ["Ines\u200b Marlow", "Ines\u2060 Marlow", "\u202eInes Marlow\u202c", "Ines\u00a0Marlow", "Ines\nMarlow",
          "Ines\u2028Marlow", "Ines\u3164Marlow", "Ines\ufe0f Marlow", "Ines\ue000 Marlow",
          "Ines\U000e0101 Marlow", "Ines\u00adMarlow"]


@pytest.mark.parametrize("name", UNSEEN)
def test_a_name_with_a_sign_that_nobody_sees_is_refused(name):
    for kind, body in (
        ("person.enrolled", {"id": "x", "name": name, "role": "technician"}),
        ("person.enrolled", {"id": "x", "name": "Xaver", "role": "technician", "certificate": name}),
        ("device.enrolled", {"id": "d1", "name": name}),
    ):
        with pytest.raises(Unreadable, match=r"U\+.*nobody can see"):
            may(Register(), kind, body)
    with pytest.raises(Unreadable):
        may(folded(chain(person("ines"))), "person.changed", {"id": "ines", "name": name, "role": "technician"})


@pytest.mark.parametrize("name", ["Ines Marl\u043ew", "\u0391ron Vega", "\u041e'Neil", "Ines Marlo\u03bd"])
def test_a_word_of_two_alphabets_is_refused(name):
    with pytest.raises(Unreadable, match="two alphabets"):
        may(Register(), "person.enrolled", {"id": "x", "name": name, "role": "technician"})


@pytest.mark.parametrize("name", ["Ольга Петрова-Иванова", "Ελένη Παππά", "Jürgen Straße-Łoś", "José Ñáñez", "山田 太郎",
                                  "Nguyễn Thị Ánh", "عمر خالد", "D'Arcy O’Neil", "Zoe\u0308 Kay"])
def test_a_name_in_its_own_alphabet_is_taken(name):
    assert may(Register(), "person.enrolled", {"id": "x", "name": name, "role": "technician"}).id == "x"


def test_a_device_may_have_a_unit_in_its_name():
    assert may(Register(), "device.enrolled", {"id": "d1", "name": "gauge in \u00b5m"}).id == "d1"


def test_two_people_whose_names_look_the_same_are_refused_though_an_older_chain_holds_such():
    wide = "\uff29\uff4e\uff45\uff53 Marlow"
    with pytest.raises(Contradiction):
        may(folded(chain(("person.enrolled", "odile", {"id": "ines", "name": "Ines Marlow", "role": "technician"}))),
            "person.enrolled", {"id": "x", "name": wide, "role": "inspector"})
    older = [("person.enrolled", "odile", {"id": f"p{n}", "name": name, "role": "technician"})
             for n, name in enumerate(("Ines Marlow", wide, "Ines\u200b Marlow", "Ines Marl\u043ew"))]
    held = folded(chain(*older, ("device.enrolled", "odile", {"id": "d1", "name": "tab\u200blet"})))
    assert held.faults == () and list(held.people) == ["p0", "p1", "p2", "p3"] and "d1" in held.devices
    with pytest.raises(Contradiction, match="Ines"):  # one with a sign that nobody sees stands in the way of the plain one
        may(folded(chain(older[2])), "person.enrolled", {"id": "x", "name": "INES MARLOW", "role": "inspector"})
