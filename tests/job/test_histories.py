"""Whatever people type in whatever order: is a job ever released that should not be?

Random sheets are made from the released one: entries left out, doubled, moved in time, done by somebody else, roles and
dates changed. The oracle below knows nothing of the judge; it reads the typed sheet and says what every released job must
have.
"""

import copy
from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of

from ..tries import tries
from .sheets import sheet

BASE = sheet()
ACTED = ["damage", "air", "prepared", "surface", "solvent", "vapour", "permit", "heat_plan", "layer", "heat_log",
         "hot_work_end", "cooled", "gauge_check", "film", "holiday", "sign"]
MORE = [
    {"id": "mara", "name": "Mara Lindqvist", "role": "inspector"},
    {"id": "jon", "name": "Jon Ask", "role": "technician"},
    {"id": "amara", "name": "Amara Okoye", "role": "engineer"},
    {"id": "olu", "name": "Olu Brandt", "role": "manager"},
]
QUALIFIED = {"qualified_for": ["ectfe"], "qualified_until": BASE["job"]["at"] + timedelta(days=200)}
PEOPLE = ["ines", "tobias", "mara", "jon", "amara", "olu"]

places = st.sampled_from([(name, n) for name in ACTED for n in range(len(BASE[name]))] + [("release", 0)])
changes = st.one_of(
    st.tuples(st.just("drop"), places),
    st.tuples(st.just("by"), places, st.sampled_from(PEOPLE)),
    st.tuples(st.just("move"), places, st.integers(-300, 300)),
    st.tuples(st.just("double"), places, st.integers(-60, 60)),
    st.tuples(st.just("swap"), places, places),
    st.tuples(st.just("role"), st.sampled_from(PEOPLE), st.sampled_from(
        ["technician", "inspector", "engineer", "manager", "auditor"])),
    st.tuples(st.just("lapse"), st.sampled_from(PEOPLE), st.integers(-600, 900)),
    st.tuples(st.just("void"), places, st.integers(0, 700)),
    st.tuples(st.just("decide"), st.sampled_from(PEOPLE), st.integers(0, 400), st.sampled_from(
        ["repair_as_instructed", "scrap", "strip_and_reline"])),
)


def made(steps):
    """The released sheet after these changes, or as much of them as can be made."""
    typed = copy.deepcopy(BASE)
    typed["person"] += [one | QUALIFIED for one in copy.deepcopy(MORE)]
    for what, *told in steps:
        if what in ("drop", "by", "move", "double", "void"):
            name, n = told[0]
            if name not in typed or (isinstance(typed[name], list) and n >= len(typed[name])):
                continue
            one = typed[name][n] if isinstance(typed[name], list) else typed[name]
            if what == "drop":
                if isinstance(typed[name], list) and len(typed[name]) > 1:
                    del typed[name][n]
                else:
                    del typed[name]
            elif what == "by":
                one["by"] = told[1]
            elif what == "move":
                one["at"] += timedelta(minutes=told[1])
            elif what == "double" and isinstance(typed[name], list):
                typed[name].append(copy.deepcopy(one) | {"at": one["at"] + timedelta(minutes=told[1])})
            elif what == "void":
                entry = name if name == "release" else f"{name}-{n + 1}"
                typed.setdefault("void", []).append(
                    {"at": BASE["job"]["at"] + timedelta(minutes=told[1]), "by": "tobias", "entry": entry, "because": "No."})
        elif what == "swap":
            pair = []
            for name, n in told:
                held = typed.get(name)
                pair.append(held[n] if isinstance(held, list) and n < len(held) else held if isinstance(held, dict) else None)
            if all(isinstance(one, dict) for one in pair):
                pair[0]["at"], pair[1]["at"] = pair[1]["at"], pair[0]["at"]
        elif what == "role":
            next(p for p in typed["person"] if p["id"] == told[0])["role"] = told[1]
        elif what == "lapse":
            next(p for p in typed["person"] if p["id"] == told[0])["qualified_until"] = (
                BASE["job"]["at"] + timedelta(minutes=told[1]))
        elif what == "decide":
            typed.setdefault("engineer", []).append(
                {"by": told[0], "at": BASE["job"]["at"] + timedelta(minutes=told[1]), "decision": told[2], "because": "So."})
    return typed


def complaints(typed) -> list[str]:
    """What a released job must never lack, read from the sheet alone."""
    gone = {void["entry"] for void in typed.get("void", [])}
    people = {one["id"]: one for one in typed["person"]}

    def of(name):
        held = typed.get(name, [])
        if isinstance(held, dict):
            return [] if name in gone else [held]
        return sorted((one for n, one in enumerate(held, 1) if f"{name}-{n}" not in gone), key=lambda one: one["at"])

    def qualified(who, when: datetime):
        one = people[who]
        return "ectfe" in one.get("qualified_for", []) and one["qualified_until"] >= when

    release = of("release")
    needed = ("release", "layer", "film", "holiday", "prepared", "surface", "air", "vapour", "permit", "heat_log",
              "hot_work_end", "cooled", "damage")
    wrong = [f"no {name}" for name in needed if not of(name)]
    if wrong:
        return wrong
    signed = release[0]
    layers, film, tests = of("layer"), of("film"), of("holiday")
    repairers = {one["by"] for name in ("prepared", "layer", "heat_log", "hot_work_end") for one in of(name)}
    if signed["by"] in repairers:
        wrong.append("own work released")
    if people[signed["by"]]["role"] not in ("inspector", "manager"):
        wrong.append("released by the wrong role")
    if any(one["by"] == signed["by"] for one in of("engineer")):
        wrong.append("own decision released")
    if any(one["at"] > signed["at"] for name in [*ACTED, "void", "engineer"] for one in of(name)):
        wrong.append("something after the release")
    if not film[-1]["at"] >= layers[-1]["at"]:
        wrong.append("film before the last layer")
    if not any(layers[-1]["at"] <= one["at"] <= film[-1]["at"] for one in of("cooled")):
        wrong.append("not cooled between")
    if not any(one["at"] >= film[-1]["at"] for one in tests):
        wrong.append("no test after the film")
    for point, before in (("disposition", layers[0]), ("surface", layers[0]), ("film", tests[-1]), ("holiday", signed)):
        mine = [one for one in of("sign") if one["hold_point"] == point and one["at"] <= before["at"]
                and people[one["by"]]["role"] == "inspector" and qualified(one["by"], one["at"])
                and one["by"] not in repairers]
        if not mine:
            wrong.append(f"{point} not signed as it must be")
    if any(people[one["by"]]["role"] != "technician" or not qualified(one["by"], one["at"]) for one in layers):
        wrong.append("a layer by somebody who may not")
    if not any(one["at"] <= layers[0]["at"] for one in of("prepared")):
        wrong.append("not prepared before")
    if not any(one["at"] <= layers[0]["at"] for one in of("vapour")):
        wrong.append("heat before the meter")
    if of("engineer") and of("engineer")[-1]["decision"] != "repair_as_instructed":
        wrong.append("the engineer said no")
    if not any(one["stage"] == "as_prepared" for one in of("damage")):
        wrong.append("not outlined after grinding")
    return wrong


def test_the_oracle_has_nothing_against_the_released_example():
    assert complaints(made([])) == []
    assert judge_job(events_of(made([])), estimates=False).verdict == "released"


@pytest.mark.slow
@tries(300, suppress_health_check=list(HealthCheck))
@given(st.lists(changes, max_size=4))
@example([("by", ("layer", 2), "tobias")])
@example([("by", ("release", 0), "ines"), ("role", "ines", "inspector")])
@example([("void", ("holiday", 0), 345)])
@example([("move", ("release", 0), -60)])
@example([("decide", "amara", 80, "scrap")])
def test_nothing_is_released_that_the_sheet_itself_speaks_against(steps):
    typed = made(steps)
    try:
        outcome = judge_job(events_of(typed), estimates=False)
    except BenchError as fault:
        assert fault.message
        return
    if outcome.verdict == "released":
        assert complaints(typed) == []
    else:
        assert outcome.blocked_by and outcome.because
