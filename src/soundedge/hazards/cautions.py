"""What is said beside every number of this room, whatever the number is?"""

from __future__ import annotations

from ..basis.finding import Finding

METER_DECIDES = "Estimate; the meter decides. Measure with a flammable-gas meter at the lowest point before any heat."
PYROMETER_DECIDES = "Estimate; a contact thermometer decides. Touch nothing with bare skin to find out."
FUME_METER_DECIDES = "Estimate; a gas meter decides, never the nose: fume is not smelt in time. Exhaust at the spot."
WATCH_DECIDES = "Estimate; the clock does not see embers. The person on watch decides, gas meter in hand."
NO_TOBACCO = "No smoking and no tobacco on the person: polymer dust on a cigarette makes fume fever."

# The two accidents everybody at this bench should know (accident reports of 2020 and 2007, second hand).
LESSONS = (
    "2020: on a cool night resin in a vessel cured too slowly. Somebody warmed it with an electric heat gun; the gun fell "
    "into the resin and burnt. Two people of another crew, in the vessel connected to it, died. The heat gun had not been "
    "recognised as hot work, and the crews had not told each other.",
    "2007: the solvent used for cleaning in a tunnel being recoated flashed. Five people died: the fire stood between them "
    "and the only way out.",
    "So: a heat gun is hot work. No heat while solvent or wet resin is near. Tell the other crew. Keep the way out behind you.",
)


def estimate(found: Finding, go_on: str) -> Finding:
    """A finding from a model never says just "go on": it names the instrument that decides."""
    move = go_on if found.verdict == "conforms" else found.next_move
    return found.model_copy(update={"because": f"Estimate: {found.because}", "next_move": move})
