"""What can hurt somebody here: vapour, a hot surface, fume, a missed time limit? Four questions, told apart by one key.

>>> from soundedge.basis.question import answer
>>> found = answer(FORMS, {"solvent": "acetone", "ml": 6, "space_l": 80, "air_c": 20})
>>> round(found.lel_pct), found.verdict
(98, 'does_not_conform')
>>> found = answer(FORMS, {"surface": "bare_metal", "temperature_c": 58, "contact_s": 1})
>>> found.burn_threshold_c, found.verdict
(65.0, 'conforms')
"""

from __future__ import annotations

from ..basis.question import Form
from .clock_form import ClockAnswer, ClockRequest, clock
from .fume_form import FumeAnswer, FumeRequest, fume
from .touch_form import TouchAnswer, TouchRequest, touch
from .vapour_form import VapourAnswer, VapourRequest, vapour

FORMS = (
    Form("vapour", marked_by="solvent", request=VapourRequest, answer=VapourAnswer, work=vapour),
    Form("touch", marked_by="surface", request=TouchRequest, answer=TouchAnswer, work=touch),
    Form("fume", marked_by="polymer", request=FumeRequest, answer=FumeAnswer, work=fume),
    Form("clock", marked_by="hot_work_ended_at", request=ClockRequest, answer=ClockAnswer, work=clock),
    Form("clock", marked_by="permit", request=ClockRequest, answer=ClockAnswer, work=clock),
)
