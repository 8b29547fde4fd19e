"""What must be known before anybody switches the voltage on?

>>> usual_cautions(lel_pct=None)[0]
'High voltage. The electrode gives a painful shock and a startle: no test on a ladder or beside moving machinery.'
"""

from __future__ import annotations

from ..basis.finding import Finding
from ..basis.procedure import LEL_PCT_MAX
from ..basis.quantity import shown
from ..basis.sources import cite
from .plain import judge_plain


def usual_cautions(lel_pct: float | None) -> list[str]:
    """The cautions of a high-voltage test as sentences, worst first; they come before every voltage."""
    vapour = (
        "Flammable vapour was not stated. A spark ignites it: measure before switching on, and wait until "
        "cleaning solvent is gone."
        if lel_pct is None
        else f"Vapour was measured at {shown(lel_pct)} % of the lower explosive limit. A spark ignites it: measure "
        "again where the electrode goes."
    )
    return [
        "High voltage. The electrode gives a painful shock and a startle: no test on a ladder or beside moving "
        "machinery.",
        "Nobody with a pacemaker, another implanted device or a heart condition operates the set or stands near.",
        vapour,
        "Ground the part and the set to the same earth before switching on; keep one hand away.",
        "The film stays charged after the electrode has passed. Wipe it with a grounded damp cloth and ground the "
        "part before touching it or testing again.",
        "Keep others behind a barrier, and electronics away from the part. In a vessel: entry permit and attendant.",
    ]


def vapour_finding(lel_pct: float, limit_pct: float | None, source: str) -> Finding:
    """Is a spark allowed at all at this share of the lower explosive limit?"""
    return judge_plain(
        "flammable_vapour", lel_pct, limit=LEL_PCT_MAX if limit_pct is None else limit_pct, sense="at_most", unit="%",
        name="Vapour, as a share of the lower explosive limit,",
        source=source if limit_pct is not None else cite("common_practice", "10 % of the lower explosive limit"),
        next_move="Do not switch on. Ventilate until it is below, and measure again.",
    )


def stored_mj_m2(voltage_v: float, film_um: float, permittivity: float) -> float:
    """Energy left in charged film, mJ per m² swept: ½·ε0·ε·V²/t.

    >>> round(stored_mj_m2(2000, 635, 8.5))
    237
    """
    capacity_f_m2 = 8.8541878128e-12 * permittivity / (film_um * 1e-6)
    return 0.5 * capacity_f_m2 * voltage_v**2 * 1000.0
