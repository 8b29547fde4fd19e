"""Is this film one that a high-voltage test can say anything about?

>>> [reason.name for reason in obstacles({"wet": True, "immersed": True})]
['wet', 'immersed']
"""

from __future__ import annotations

from dataclasses import dataclass

from ..basis.finding import Finding
from ..basis.sources import cite


@dataclass(frozen=True)
class Obstacle:
    """A state of the film that speaks against the test. One that ``bars`` makes high voltage not applicable;
    ``sponge_too`` says whether it rules out the wet sponge as well."""

    name: str
    because: str
    next_move: str
    source: str
    bars: bool = True
    sponge_too: bool = True

    def finding(self) -> Finding:
        """As a finding: the state is there (1) and must not be (0). A mere warning leaves it open."""
        return Finding(
            rule=f"state_{self.name}", value=1.0, u=None, limit=0.0, sense="at_most", as_written="does_not_conform",
            p_conforms=None, verdict="does_not_conform" if self.bars else "indeterminate", because=self.because,
            next_move=self.next_move, source=self.source,
        )


_G62 = ("astm_g62_23", "scope")
_SP0188 = ("nace_sp0188_2006", "1.4")

# state → why, what to do, source, whether it bars high voltage, whether it bars the wet sponge
_HELD: dict[str, tuple[str, str, tuple[str, str], bool, bool]] = {
    "conductive_filler": (
        "The film holds a conductive filler: it carries current where it is sound, so every place looks like a hole.",
        "Do not test it with voltage. Take thickness and inspection, or ask the maker for a method.", _G62, True, True,
    ),
    "carbon_black": (
        "The film holds carbon black: it leaks, and its strength is a fraction of the clear grade's.",
        "Ask the maker whether and at what voltage this grade may be tested; rubber high in carbon black is "
        "tested at 1.5 kV/mm.", ("bs_6374_5", "as quoted"), True, True,
    ),
    "antistatic_grade": (
        "The film is an anti-static grade: it is made to conduct.",
        "Do not test it with voltage. Ask the maker for a method.", _G62, True, True,
    ),
    "conductive_primer": (
        "The primer conducts: the test finds holes down to the primer and says nothing about the primer.",
        "Ask the maker; record that the test ended at the primer.", _G62, False, False,
    ),
    "wet": (
        "The film or its surface is wet: sparks track over the surface and moisture carries current through pores "
        "that are none.",
        "Dry it, wipe it clean of salts, and test then.", ("astm_d5162", "significance"), True, True,
    ),
    "solvent": (
        "The film still holds solvent: it conducts and gives false calls, and its vapour burns.",
        "Wait for the maker's drying time and measure the vapour; test then.", ("astm_d5162", "significance"), True, True,
    ),
    "immersed": (
        "The lining has been in service under liquid: absorbed moisture misleads and a spark can break film that "
        "was sound.",
        "Do not use high voltage on it. Ask the maker; test only the new repair, electrode kept on the patch.",
        _SP0188, True, False,
    ),
    "fabric_backed": (
        "The lining is fabric-backed or loose: air behind it adds a gap, and the spark follows the fabric.",
        "Ask the lining maker for the procedure and its coupon.", ("own_estimate", ""), False, False,
    ),
}
STATES = tuple(_HELD)


def obstacles(states: dict[str, bool]) -> list[Obstacle]:
    """Every obstacle among the states that are true, in the order given."""
    out = []
    for name, there in states.items():
        if there:
            because, move, (key, where), bars, sponge_too = _HELD[name]
            out.append(Obstacle(name, because, move, cite(key, where), bars, sponge_too))
    return out
