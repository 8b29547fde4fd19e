"""Which fact leads to which disposition? The decision table, as data.

It is read from the top; the first row that holds decides. Numbers are not here: they stand in the
procedure. A row says what a fact *means*, and who says so.

>>> [row.then for row in decide({"bare_area_over", "through"})]
['engineering_review']
>>> decide({"through"})[0].then, decide({"not_through"})[0].then
('repair_by_procedure', 'dress_only')
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Disposition = Literal[
    "use_as_is", "dress_only", "repair_by_procedure", "indeterminate", "engineering_review", "strip_and_reline"
]

# From the mildest to the gravest. A part gets the gravest of its repairs.
MILDEST_FIRST: tuple[Disposition, ...] = (
    "use_as_is", "dress_only", "repair_by_procedure", "indeterminate", "engineering_review", "strip_and_reline",
)


@dataclass(frozen=True)
class Row:
    """One row: when ``fact`` holds, the disposition is ``then``; ``source`` is a key of the sources file."""

    fact: str
    then: Disposition
    because: str
    next_move: str
    source: str = "common_practice"


_ENGINEER = "Hold the part and ask the lining engineer; a repair needs the engineer's written instruction."

TABLE: tuple[Row, ...] = (
    # --- gravest first ---
    Row("same_spot_far_over", "strip_and_reline",
        "This place has been repaired two times more often than the procedure allows: the cause is not the spot.",
        "Strip and reline, and find the cause before the new lining is ordered."),
    Row("bare_area_over", "engineering_review",
        "The bare area is above the procedure's limit.", _ENGINEER),
    Row("footprint_area_over", "engineering_review",
        "The footprint is above the procedure's limit.", _ENGINEER),
    Row("keep_out_under", "engineering_review",
        "The footprint comes nearer to a keep-out surface than the procedure allows.", _ENGINEER),
    Row("on_keep_out", "engineering_review",
        "The damage lies on a surface where neither repair nor dressing is allowed unasked.", _ENGINEER),
    Row("pit_depth_over", "engineering_review",
        "The steel is pitted deeper than the procedure allows.",
        "Measure the remaining wall and ask the engineer whether the steel is restored first."),
    Row("same_spot_over", "engineering_review",
        "This place has been repaired more often than the procedure allows.",
        "Find the cause first: bond, service, stress, heat. The engineer decides on one more repair."),
    Row("plate_over", "engineering_review",
        "The plate is thicker than hot air is allowed for by the procedure.",
        "Plan the heat first: preheat from the steel side, or another repair method."),
    Row("repairs_per_part_over", "engineering_review",
        "The part would carry more repairs than the procedure allows.", _ENGINEER),
    Row("repaired_share_over", "engineering_review",
        "More of the lining would be repaired than the procedure allows.",
        "Ask the lining engineer to weigh stripping and relining against one more repair."),
    Row("attacked_lining", "engineering_review",
        "Swelling, staining and burning show a cause in service or heat, which a spot repair does not remove.",
        "Find the cause; probe the lining around the spot before anything is cut."),
    Row("footprints_overlap", "engineering_review",
        "The footprints of two repairs touch, though their defects do not: they cannot be built as two.",
        "Mark the defects between them as one, or let the engineer set the limits of the repair."),
    Row("all_round", "engineering_review",
        "The repair goes all round the bore: its footprint meets itself, so it has no end to feather to.", _ENGINEER,
        "own_estimate"),
    Row("no_area_limit", "engineering_review",
        "The procedure sets no limit on the area of a repair, so nothing allows this one.",
        "Add bare_area_mm2_max or footprint_area_mm2_max to the procedure."),
    Row("no_feather", "engineering_review",
        "The procedure limits the footprint or its distance but sets no feather, so the footprint is not known.",
        "Add feather_mm to the procedure."),
    Row("no_pit_limit", "engineering_review",
        "The steel is pitted and the procedure sets no limit for pits.",
        "Add pit_depth_mm_max to the procedure."),
    Row("no_keep_out_limit", "engineering_review",
        "The footprint reaches a keep-out surface and the procedure sets no distance.",
        "Add keep_out_mm to the procedure."),
    Row("no_same_spot_limit", "engineering_review",
        "There were repairs before and the procedure does not say how often one place may be repaired.",
        "Add same_spot_repairs_max and same_spot_radius_mm to the procedure."),
    # --- not known well enough ---
    Row("through_unknown", "indeterminate",
        "It was not determined whether the damage reaches the steel.",
        "Test the spot with the holiday detector, or open it to see."),
    Row("something_unclear", "indeterminate",
        "A value was not measured, or lies too near its limit for its uncertainty.",
        "Measure what the findings name, or measure it better."),
    Row("smaller_than_found", "indeterminate",
        "The prepared spot is smaller than the one first seen, which grinding cannot do.",
        "Mark both outlines again on the part."),
    Row("prepared_elsewhere", "indeterminate",
        "The prepared spot does not lie over the damage that was found under the same id.",
        "Mark again: both outlines from one zero on the part, or give another damage its own id."),
    Row("steel_unseen", "indeterminate",
        "The damage reached the steel when it was found and is said not to reach it as prepared: steel once seen is not "
        "unseen.",
        "Look at the spot again and correct 'through' at one of the two stages."),
    Row("film_unclear", "indeterminate",
        "It is not clear whether the film left is thick enough.",
        "Measure the film at the spot."),
    # --- what the trade does when nothing stands against it ---
    Row("through", "repair_by_procedure",
        "The damage reaches the steel and keeps every limit of the procedure that could be judged.",
        "Repair it by the procedure."),
    Row("bond_lost", "repair_by_procedure",
        "The film has lost its bond there; sanding does not bring it back.",
        "Open it to the sound edge, mark it again as prepared, and judge it again."),
    Row("film_too_thin", "repair_by_procedure",
        "The film left is below the procedure's least film, so it has to be built up.",
        "Repair it by the procedure."),
    Row("not_through", "dress_only",
        "The damage does not reach the steel.",
        "Sand it flush and smooth, then measure the film left and test for holidays."),
    Row("sound_and_smooth", "use_as_is",
        "The damage does not reach the steel, the film left is thick enough, and the surface is smooth.",
        "Record it and look at it again at the next inspection."),
)


def decide(facts: Iterable[str]) -> list[Row]:
    """The rows that decide: the first one that holds, and every other that holds with the same disposition."""
    held = set(facts)
    holding = [row for row in TABLE if row.fact in held]
    if not holding:
        return []
    return [row for row in holding if row.then == holding[0].then]


def gravest(dispositions: Iterable[Disposition]) -> Disposition:
    """The gravest of several; ``use_as_is`` of none.

    >>> gravest(["dress_only", "engineering_review", "repair_by_procedure"])
    'engineering_review'
    """
    return max(dispositions, key=MILDEST_FIRST.index, default="use_as_is")
