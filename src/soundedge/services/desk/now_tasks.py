"""The tasks of a job: by which entry each is done, on which page, what it is called, and which open fact asks for it.

    TASKS["gas"]       vapour.read, on the page of hazards: "read the gas meter"
    FACTS["air_log"]   air
    PHASES             Find, Decide, Prepare, Heat and lay, Prove, Release, each with its steps
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ...basis.sentences import Sentence, say

# Six phases of a job, each with the steps that stand in it.
PHASES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("find", ("survey",)), ("decide", ("disposition",)), ("prepare", ("conditions",)),
    ("heat_and_lay", ("hazards", "heat", "buildup")), ("prove", ("thickness", "instruments", "holiday")),
    ("release", ("hold_points", "release")),
)
PHASE_OF = {step: phase for phase, steps in PHASES for step in steps}


@dataclass(frozen=True)
class Task:
    """One thing to do.

    ``kind`` is the entry that does it (empty: none does, or a signature), ``step`` where it belongs, ``only`` the fields that
    are asked for (all when empty). ``page``: the step's own page, where the work needs the photo, the pad, the log there.
    ``by`` the role whose work it always is; ``looked`` what is looked at before it (desk/looked.py).
    """

    name: str
    kind: str
    step: str
    say: Callable[..., Sentence]
    question: Sentence
    by: str = ""
    only: str = ""
    page: str = ""
    of_repair: bool = False
    looked: str = ""


_CUT, _HEAT, _SIGN = say("now.may_cut"), say("now.may_heat"), say("now.may_sign")
_READ, _SPARK, _OPEN, _AFTER = say("now.may_read_film"), say("now.may_spark"), say("now.may_open"), say("now.after_heat")
_JOB = say("now.the_job")
_T, _I = "technician", "inspector"

_EVERY = (
    Task("outline", "damage.outlined", "survey", lambda **_: say("now.outline"), _CUT, _T, page="survey"),
    Task("outline_prepared", "damage.outlined", "disposition", lambda **_: say("now.outline_prepared"), _SIGN, _T,
         page="disposition"),
    Task("permit", "permit.issued", "hazards", lambda **_: say("now.permit"), _HEAT, _T, "number until"),
    Task("gas", "vapour.read", "hazards", lambda **_: say("now.gas"), _HEAT, _T, "lel_pct instrument"),
    Task("bump", "meter.bumped", "hazards", lambda **_: say("now.bump"), _HEAT, _T),
    Task("air", "air.read", "conditions", lambda **_: say("now.air"), _HEAT, _T, "air_c rh_pct steel_c instrument"),
    Task("prepare", "surface.prepared", "conditions", lambda **_: say("now.prepare"), _CUT, _T, of_repair=True, looked="grind"),
    Task("check_surface", "surface.checked", "conditions", lambda **_: say("now.check_surface"), _SIGN, _I,
         "profile_um salt_us_cm salt_water_ml dust_rating dust_size", of_repair=True),
    Task("plan", "heat.planned", "heat", lambda **_: say("now.plan"), _HEAT, _T),
    Task("heat", "heat.started", "heat", lambda **_: say("now.heat"), _HEAT, _T, "by_what watched_by", of_repair=True,
         looked="heat"),
    Task("layer", "layer.fused", "buildup", lambda number="", **_: say("now.layer", number=number), say("now.may_lay"), _T,
         "lot", of_repair=True, looked="layer"),
    Task("log", "heat.logged", "heat", lambda **_: say("now.log"), _AFTER, _T, page="heat"),
    Task("end_heat", "hot_work.ended", "hazards", lambda **_: say("now.end_heat"), _AFTER, _T, "fire_watch_until watched_by",
         looked="watch"),
    Task("cool", "film.cooled", "thickness", lambda **_: say("now.cool"), _READ, _T, "film_c instrument"),
    Task("gauge", "gauge.checked", "thickness", lambda **_: say("now.gauge"), _READ, _I, "instrument reference_um reading_um"),
    Task("film", "film.measured", "thickness", lambda **_: say("now.film"), _READ, _I, page="thickness"),
    Task("sand", "film.sanded", "thickness", lambda **_: say("now.sand"), say("now.may_sand"), _T, of_repair=True,
         looked="sand"),
    Task("spark", "holiday.tested", "holiday", lambda **_: say("now.spark"), _SPARK, _I, page="holiday", looked="spark"),
    Task("wipe", "solvent.used", "hazards", lambda **_: say("now.wipe"), say("now.may_wipe"), _T,
         "solvent ml space_l air_c air_changes_per_h", looked="wipe"),
    Task("open_part", "part.opened", "disposition", lambda **_: say("now.open_part"), _OPEN, looked="open"),
    Task("picture", "picture.taken", "survey", lambda **_: say("now.picture"), _OPEN, _T, page="survey"),
    Task("statement", "decontamination.stated", "disposition", lambda **_: say("now.statement"), _HEAT),
    Task("look", "visual.looked", "disposition", lambda **_: say("now.look"), _SIGN, _I),
    Task("edge", "edge.probed", "disposition", lambda **_: say("now.edge"), _CUT, _I),
    Task("give_back", "service.returned", "release", lambda **_: say("now.give_back"), say("now.may_give_back")),
    Task("decide", "", "disposition", lambda **_: say("now.decide"), say("now.may_repair"), "engineer", page="disposition"),
    Task("elsewhere", "", "release", lambda **_: say("now.elsewhere"), _JOB, page="release"),
    Task("waits", "", "release", lambda **_: say("now.nothing"), _JOB),
    Task("done", "", "release", lambda **_: say("now.nothing"), _JOB),
)
TASKS = {one.name: one for one in _EVERY}

# A signature: hold point → task.
SIGNS = {
    "disposition": Task("sign_disposition", "", "disposition", lambda **_: say("now.sign_disposition"), _SIGN, _I),
    "surface": Task("sign_surface", "", "conditions", lambda **_: say("now.sign_surface"), _SIGN, _I),
    "film": Task("sign_film", "", "thickness", lambda **_: say("now.sign_film"), _SIGN, _I),
    "holiday": Task("sign_holiday", "", "holiday", lambda **_: say("now.sign_holiday"), _SIGN, _I),
    "release": Task("sign_release", "", "release", lambda **_: say("now.sign_release"), say("now.may_release"), _I),
}

# An act that may be done → the task of recording it.
ACTS = {
    "open_part": TASKS["open_part"], "wipe": TASKS["wipe"], "grind": TASKS["prepare"], "heat_on": TASKS["heat"],
    "first_layer": TASKS["layer"], "next_layer": TASKS["layer"], "restart": TASKS["heat"], "sand": TASKS["sand"],
    "check_gauge": TASKS["gauge"], "measure_film": TASKS["film"], "spark_on": TASKS["spark"],
    "return_to_service": TASKS["give_back"], "sign": SIGNS["disposition"], "release": SIGNS["release"],
}

# Whose work an act is.
WORK: dict[str, tuple[str, ...]] = {
    "technician": ("open_part", "grind", "wipe", "heat_on", "first_layer", "restart", "next_layer", "sand"),
    "inspector": ("sign", "check_gauge", "measure_film", "spark_on", "release", "return_to_service"),
    "manager": ("release", "return_to_service"),
    "engineer": (),
    "auditor": (),
}

# An open fact of a gate → the task that answers it.
FACTS: dict[str, str] = {
    "outline": "outline", "damage_outlined": "outline", "disposition": "outline", "as_prepared": "outline_prepared",
    "permit": "permit", "gas": "gas", "lel_zero": "gas", "meter_bumped": "bump", "bump": "bump",
    "air_log": "air", "air": "air", "dew_margin": "air", "humidity": "air", "steel": "air", "dew": "air",
    "surface": "prepare", "prep_clock": "prepare", "prep_to_layer": "prepare",
    "soluble_salts": "check_surface", "profile_min": "check_surface", "profile_max": "check_surface",
    "dust_rating": "check_surface", "dust_size": "check_surface",
    "heat_estimate": "plan", "part_start": "plan", "time_left": "plan",
    "heat_log": "log", "log": "log", "bond": "log", "surface_heat": "log", "fire_watch": "end_heat",
    "film_temp": "cool", "gauge": "gauge", "gauge_check_before": "gauge", "gauge_check_after": "gauge", "gauge_range": "gauge",
    "calibration": "gauge", "film": "film", "holiday": "spark", "holiday_test": "spark", "spark": "spark", "window": "spark",
    "isolation": "open_part", "rinse": "open_part", "picture": "picture", "visual": "look", "edge_probed": "edge",
    "decontamination": "statement", "service": "statement",
}

# What an act stands on, in the order in which it is asked: name → the facts that it has in the answer.
_FIRE = {"permit": ("permit",), "gas": ("gas", "lel_zero", "bump", "meter_bumped")}
_STEEL = {
    "decide": ("damage_outlined", "as_prepared", "outline", "hold_point_disposition", "disposition"),
    "surface": ("surface", "hold_point_surface", "soluble_salts", "profile_min", "profile_max", "dust_rating", "dust_size"),
    "air": ("air_log", "dew_margin", "humidity", "steel", "dew"), "prep_clock": ("prep_clock",),
}
GATES: dict[str, dict[str, tuple[str, ...]]] = {
    "grind": {"outline": ("outline", "damage_outlined"), "permit": ("permit",), "service": ("service", "decontamination")},
    "wipe": {"permit": ("permit",), "steel": ("steel",), "vapour_estimate": ("vapour_estimate",),
             "solvent_suits": ("solvent_suits",)},
    "heat_on": {**_FIRE, "service": ("service", "decontamination"), **_STEEL, "heat_plan": ("heat_estimate",),
                "part_start": ("part_start", "plate")},
    "first_layer": {**_FIRE, "service": ("service", "decontamination"), **_STEEL, "powder": ("powder", "lot")},
    "next_layer": {**_FIRE, "dwell": ("log", "bond", "heat_log"), "film_surface": ("surface_heat",), "air": ("air_log",),
                   "powder": ("powder", "lot")},
    "restart": {**_FIRE, "air": ("air_log", "dew_margin"), "part_start": ("part_start",)},
    "measure_film": {"film_temp": ("film_temp",), "gauge": ("gauge", "gauge_range", "calibration")},
    "spark_on": {**_FIRE, "film": ("film", "hold_point_film"), "film_temp": ("film_temp",), "window": ("window", "voltage"),
                 "service": ("service", "conductive")},
}
