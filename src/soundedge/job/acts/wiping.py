"""May I wipe with solvent here? Which, how much, and where does the vapour go?

    3 ml acetone in a 50-litre nozzle, no exhaust      → no: the estimate is 76 % of the explosive limit; change the plan
    4 ml in 4 m³ with exhaust                           → go; the gas reading is void from the first drop

An estimate may say no. It never says yes: before heat the meter decides.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.on_paper import words
from ...basis.sentences import say
from ...hazards.ask import FORMS
from ..case import clock_time
from ..steps.hazards import question
from .gauging import COOL_C_MAX, COOL_SOURCE
from .moment import Moment
from .point import Point, Until

KETONES = ("acetone", "mek", "mibk")
SWELL = ("pvdf", "pvdf_copolymer")


def wipe(now: Moment) -> Iterator[Point | Until]:
    """Solvent on the part, in the amount that ``given`` plans."""
    yield from _steel(now)
    plan = {key: now.given[key] for key in ("solvent", "ml", "space_l", "air_c", "air_changes_per_h", "mixing_factor")
            if now.given.get(key) is not None}
    polymer = now.job.the("lining.identified").polymer
    if not {"solvent", "ml", "space_l"} <= set(plan):
        yield Point("A3.2", "P", "vapour_estimate", "missing", say("acts.wipe_not_planned"), "measure", say("acts.wipe_plan"),
                    "technician", "informs", source="estimate")
    else:
        answer = now.case.ask(FORMS, question(now.case) | plan)
        if plan["solvent"] in KETONES and polymer in SWELL:
            yield Point("A3.3", "Q", "solvent_suits", "failing",
                        say("acts.wipe_swells", solvent=words(plan["solvent"]), polymer=polymer.upper()), "correct",
                        say("acts.wipe_other_solvent"), "technician", source="from memory: ketones swell PVDF")
        if answer.lel_pct > answer.lel_limit_pct:
            most = plan["ml"] * answer.lel_limit_pct / answer.lel_pct
            yield Point("A3.2", "P", "vapour_estimate", "failing",
                        say("acts.wipe_too_much", ml=plan["ml"], solvent=words(plan["solvent"]), pct=answer.lel_pct,
                            limit=answer.lel_limit_pct), "correct", say("acts.wipe_less", ml=most), "technician",
                        value=answer.lel_pct, unit="%", limit=answer.lel_limit_pct,
                        source=now.case.procedure.cite("lel_pct_max"))
    read = now.job.last("vapour.read")
    if read is not None:
        yield Point("A3", "P", "gas", "dead", say("acts.wipe_voids_gas", at=clock_time(read.at, now.at)), "measure",
                    say("acts.gas_measure_after"), "gas_tester", "informs", source="common practice, no source")


def _steel(now: Moment) -> Iterator[Point]:
    """Not on hot steel: read after the last heat, where there was any."""
    limit, source = now.limit("wipe_steel_c_max")
    steel, heat = now.given.get("steel_c"), now.last_heat
    if steel is None and heat is not None:
        most = COOL_C_MAX if limit is None else limit
        read = [event.body.film_c if event.kind == "film.cooled" else event.body.probe_c
                for event in now.of("film.cooled", "probe.read") if event.at >= heat]
        if not read:
            yield Point("A3.1", "P", "steel", "missing", say("acts.wipe_not_read", at=clock_time(heat, now.at)), "measure",
                        say("acts.wipe_read", limit=most), "technician", unit="°C", limit=most,
                        source=source if limit is not None else COOL_SOURCE)
        else:
            steel, limit = read[-1], most
    if limit is not None and steel is not None and steel > limit:
        yield Point("A3.1", "P", "steel", "failing", say("acts.wipe_hot", steel=steel, limit=limit), "wait_until",
                    say("acts.wipe_wait"), "technician", value=steel, unit="°C", limit=limit, source=source)
