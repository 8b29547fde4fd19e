"""What will the steel under the lining do, and what should be read while working?

>>> from soundedge.basis.question import answer
>>> told = answer(FORMS, {"gloss_rule": {"h_w_m2k": 60, "air_c": 500, "emissivity": 0.9, "melt_c": 176,
...     "thickness_mm": 0.8, "k_w_mk": 0.2, "surroundings_c": 20, "surface_limit_c": 260}})
>>> round(told.flux_w_m2), round(told.gloss_bond_c, 2), round(told.limit_bond_c, 2)
(17740, 105.04, 217.39)
"""

from __future__ import annotations

from ..basis.question import Form
from .answers import GlossAnswer, HeatAnswer, InfraredAnswer, gloss_work, heat_work, infrared_work
from .ask_dose import DoseAnswer, dose_work
from .ask_gun import GunLabelAnswer, PlateTestAnswer, gun_label_work, plate_test_work
from .ask_log import LogAnswer, log_work
from .ask_plan import PlanAnswer, plan_work
from .ask_readings import LearnAnswer, learn_work
from .ask_trial import TrialAnswer, TrialRequest, trial_work
from .given import (
    DoseRequest,
    GlossRequest,
    GunLabelRequest,
    HeatRequest,
    InfraredRequest,
    LearnRequest,
    LogRequest,
    PlanRequest,
    PlateTestRequest,
)

FORMS: tuple[Form, ...] = (
    Form("gloss_rule", GlossRequest, GlossAnswer, gloss_work, marked_by="gloss_rule"),
    Form("infrared", InfraredRequest, InfraredAnswer, infrared_work, marked_by="infrared"),
    Form("gun_label", GunLabelRequest, GunLabelAnswer, gun_label_work, marked_by="gun_label"),
    Form("plate_test", PlateTestRequest, PlateTestAnswer, plate_test_work, marked_by="plate_test"),
    Form("trial", TrialRequest, TrialAnswer, trial_work, marked_by="trial"),
    Form("dose", DoseRequest, DoseAnswer, dose_work, marked_by="dose"),
    Form("log", LogRequest, LogAnswer, log_work, marked_by="log"),
    Form("plan", PlanRequest, PlanAnswer, plan_work, marked_by="plan"),
    Form("readings", LearnRequest, LearnAnswer, learn_work, marked_by="readings"),
    Form("heat", HeatRequest, HeatAnswer, heat_work),
)
