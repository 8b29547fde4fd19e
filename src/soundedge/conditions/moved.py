"""Which texts and formulas moved the answer about air and steel?

>>> from .given import ConditionsRequest
>>> [line.split(":")[0] for line in moved_by(ConditionsRequest(air_c=20, rh_pct=50, steel_c=20), [], True)]
['dew point and frost point', 'why steel near the dew point is left alone']
"""

from __future__ import annotations

from ..basis.finding import Finding
from ..basis.sources import cite
from .given import ConditionsRequest
from .salts import SOURCE


def moved_by(request: ConditionsRequest, findings: list[Finding], air: bool) -> list[str]:
    """Every text and formula that moved the answer, once each: those of the limits, and those of what was reckoned."""
    used = [f"{f.rule.replace('_', ' ')}: {f.source}" for f in findings]
    if air:
        used.append(f"dew point and frost point: {cite('wmo_8')}")
        used.append(f"why steel near the dew point is left alone: {cite('iso_8502_4')}")
    if request.salts is not None and request.salts.volume_ml is not None:
        used.append(f"salts from conductivity: {cite(SOURCE[request.salts.expressed_as])}; for a patch drawn by ISO 8502-6")
    if request.profile_um is not None:
        used.append(f"profile readings: {cite('astm_d4417')}; how clean the steel looks is for the eye and the "
                    "pictures of ISO 8501-1, which a profile says nothing of")
    if request.dust is not None:
        used.append(f"dust rating: {cite('iso_8502_3')}")
    return list(dict.fromkeys(used))
