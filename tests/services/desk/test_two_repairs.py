"""Two chips at the desk: an entry that does not say which of them it is of is refused; a signature is of one."""

from datetime import timedelta

import pytest

from soundedge.basis.errors import Missing, Refused, Unknown
from soundedge.services.desk import enter, jobs, sign
from soundedge.services.desk.may import may_on
from soundedge.services.desk.state import state

from ...job.two_repairs import two
from .bench import INES, NUMBER, TOBIAS, WORDS, a_shop, at, opened

CHIPS = {"A": {"x": -60, "y": 35, "d": 20}, "B": {"x": 100, "y": -150, "d": 16}}


@pytest.fixture(scope="module")
def two_chips(tmp_path_factory):
    """A job with both chips outlined as found and as prepared; nothing else."""
    with pytest.MonkeyPatch.context() as patch:
        data = a_shop(tmp_path_factory.mktemp("two"), patch)
        opened(data)
        for stage, hour in (("as_found", "06:55"), ("as_prepared", "07:55")):
            for letter, circle in CHIPS.items():
                assert put(data, "damage.outlined", hour, {"id": letter, "stage": stage, "circle_mm": circle,
                                                           "pit_depth_mm": 0.1})["error"] is None
        put(data, "surface.prepared", "07:50", {"method": "blasted"})
        yield data


def put(data, kind, when, body, actor=INES):
    """One entry at the desk; its answer."""
    put.n = getattr(put, "n", 0) + 1
    said = {"id": f"{actor.device}-a1b2c3-{put.n}", "kind": kind, "at": at(when).isoformat(), "body": body}
    return enter.enter(data, actor, NUMBER, [said], now=at(when) + timedelta(seconds=20))[0]


def signed(data, when, what, **how):
    """A signature of the inspector."""
    put.n += 1
    return sign.sign(data, TOBIAS, NUMBER, what=what, meaning="I looked.", passphrase=WORDS["tobias"],
                     on_head=jobs.head(data, NUMBER), id=f"{TOBIAS.device}-a1b2c3-{put.n}", now=at(when), **how)


ENTRIES = {
    "layer.fused": {"number": 1, "lot": "P-311"},
    "heat.logged": {"readings": [{"time_s": 0, "reading_c": 250, "aimed_at": "painted_dot"}]},
    "film.measured": {"instrument": "G7", "spots": [{"id": "R1", "readings_um": [1250]}]},
    "holiday.tested": {"instrument": "HD3", "voltage_v": 8000, "grounded": True},
    "visual.looked": {"stage": "layer", "layer": 1, "accepted": True},
}


@pytest.mark.parametrize("kind", ENTRIES)
def test_an_entry_without_a_letter_is_refused_with_the_choice_and_not_kept(two_chips, kind):
    head = jobs.head(two_chips, NUMBER)
    answer = put(two_chips, kind, "09:05", ENTRIES[kind])

    assert (answer["outcome"], answer["error"]["field"]) == ("refused", "body.repair")
    assert "A, B" in answer["error"]["message"] and answer["error"]["message"].text("de").startswith("Zu welcher Reparatur")
    assert jobs.head(two_chips, NUMBER) == head


def test_a_letter_that_is_no_damage_is_refused(two_chips):
    answer = put(two_chips, "layer.fused", "09:05", {"number": 1, "lot": "P-311", "repair": "D"})
    assert (answer["outcome"], answer["error"]["field"]) == ("refused", "body.repair")


def test_a_signature_is_asked_for_its_repair_and_is_of_that_one(two_chips, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(two_chips.parents[1] / "keys"))
    with pytest.raises(Missing, match="A, B"):
        signed(two_chips, "08:12", "disposition")
    with pytest.raises(Unknown, match="Known: A, B"):
        signed(two_chips, "08:12", "disposition", repair="D")

    signed(two_chips, "08:12", "disposition", repair="A")
    points = {(point.name, point.repair): point for point in sign.review(two_chips, NUMBER, actor=TOBIAS).points}
    assert points["disposition", "A"].status == "done" and points["disposition", "B"].may
    with pytest.raises(Refused):
        signed(two_chips, "08:13", "disposition", repair="A")
    assert [act.repair for act in may_on(two_chips, NUMBER).acts if act.hold_point == "disposition"] == ["B"]


def test_an_outline_and_a_layer_sent_together_are_asked_as_well(tmp_path, monkeypatch):
    data = a_shop(tmp_path, monkeypatch)
    opened(data)
    sent = [{"id": f"{INES.device}-b1b2c3-{n}", "kind": kind, "at": at("07:00").isoformat(), "body": body}
            for n, (kind, body) in enumerate([
                *(("damage.outlined", {"id": letter, "stage": "as_prepared", "circle_mm": circle}) for letter, circle in
                  CHIPS.items()), ("layer.fused", ENTRIES["layer.fused"])], 1)]
    answers = enter.enter(data, INES, NUMBER, sent, now=at("07:10"))

    assert [one["outcome"] for one in answers] == ["stored", "stored", "refused"]


def test_one_chip_is_never_asked(tmp_path, monkeypatch):
    data = a_shop(tmp_path, monkeypatch)
    opened(data)
    put(data, "damage.outlined", "06:55", {"id": "A", "stage": "as_prepared", "circle_mm": CHIPS["A"]})
    assert put(data, "layer.fused", "09:05", ENTRIES["layer.fused"])["outcome"] == "stored"


@pytest.mark.release
def test_the_day_of_two_chips_is_released_at_the_desk(tmp_path, monkeypatch):
    """Every entry of the sheet of two repairs, by the person who did it; released, and B's film is not asked of A."""
    from .bench import SECTIONS, do

    data = a_shop(tmp_path, monkeypatch)
    opened(data)
    typed = two()
    for damage in typed["damage"]:
        for key in ("survey", "photo", "photo_sha256", "measured"):
            damage.pop(key, None)
    acts = sorted(((entry["at"], rank, entry["by"], kind.name, {k: v for k, v in entry.items() if k not in ("at", "by")})
                   for rank, (name, kind) in enumerate(SECTIONS.items()) if kind.acted and name in typed
                   for entry in (typed[name] if isinstance(typed[name], list) else [typed[name]])), key=lambda one: one[:2])
    for number, (when, _, by, kind, body) in enumerate(acts, 1):
        answer = do(data, when, by, kind, body, number)
        assert answer["outcome"] == "stored", (kind, body, answer)
    assert state(data, NUMBER).verdict == "released"
