"""The values that several kinds of entries share, each with its unit and its fence."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from ...basis.quantity import Quantity

AirC = Annotated[float, Quantity("Air temperature", "°C", at_least=-45, at_most=60)]
RhPct = Annotated[
    float,
    Quantity("Relative humidity", "%", above=0, at_most=100,
             next_move="A hygrometer that shows more is wet: dry it and read again."),
]
SteelC = Annotated[float, Quantity("Steel temperature", "°C", at_least=-60, at_most=150)]
FilmC = Annotated[float, Quantity("Film temperature", "°C", at_least=-60, at_most=400)]
AreaMm2 = Annotated[float, Quantity("Area", "mm2", above=0, at_most=1e8)]
FilmUm = Annotated[
    float, Quantity("Film thickness", "um", above=0, at_most=20000, next_move="1 mil is 25.4 µm; check the unit.")
]
OldFilmUm = Annotated[
    float, Quantity("Thinnest old film accepted", "um", above=0, at_most=20000, next_move="1 mil is 25.4 µm; check the unit.")
]
PlateMm = Annotated[
    float, Quantity("Plate thickness", "mm", above=0.3, at_most=500, next_move="1 in is 25.4 mm; check the unit.")
]
VoltageV = Annotated[float, Quantity("Test voltage", "V", at_least=5, at_most=60000, next_move="Voltages are in V, not kV.")]
Edition = Annotated[int, Quantity("Edition of the rules", "", at_least=1, at_most=10000, whole=True)]
Count = Annotated[int, Quantity("A count", "", at_least=0, at_most=100000, whole=True)]
Percent = Annotated[float, Quantity("A share", "%", at_least=0, at_most=100)]
Zone = Literal["repair", "overlap", "parent"]
HoldPoint = Literal["disposition", "surface", "film", "holiday"]
HOLD_POINTS: tuple[str, ...] = get_args(HoldPoint)
Role = Literal["technician", "inspector", "engineer", "manager", "auditor"]
# What is only looked at and has no value, said on the entry of the act itself.
Looked = Literal["extraction", "gel", "no_tobacco", "others_told", "watch", "solvent_out", "cavity_vented", "earth",
                 "second_person", "dry"]
Ph = Annotated[float, Quantity("pH", "", at_least=0, at_most=14)]
WidthMm = Annotated[float, Quantity("Width", "mm", at_least=0, at_most=1000)]
