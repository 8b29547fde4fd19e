"""The table's question: what would be read from this text, and what would be kept aside?"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic_core import PydanticCustomError, core_schema

from ..basis.quantity import NotThat, Quantity, Word
from ..basis.question import Answer, AnswerPart, Request
from ..basis.sentences import say

TEXT_MAX = 4_000_000


class _TableText:
    """Text of a table: any length up to 4 million signs, line ends and tabs welcome, no zero signs."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any) -> str:
            try:
                if not isinstance(value, str) or not value.strip():
                    raise NotThat("missing", say("thickness.text_missing"))
                if len(value) > TEXT_MAX:
                    raise NotThat("out_of_range", say("thickness.text_too_long", n=len(value), most=TEXT_MAX))
                if "\x00" in value:
                    raise NotThat("unreadable", say("thickness.table_not_text"))
            except NotThat as bad:
                raise PydanticCustomError(bad.kind, "{message}", {"message": bad.message}) from None
            return value

        return core_schema.no_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": TEXT_MAX}


class TableRequest(Request):
    """Text with readings: a table, or (``typed``) numbers as a gauge types or a clipboard holds them."""

    table: Annotated[str, _TableText()]
    typed: bool = False
    columns: dict[str, Word | list[Word]] | None = None
    unit: Literal["um", "mil", "mm"] | None = None
    decimal: Literal[".", ","] | None = None
    delimiter: Literal[",", ";", "\t"] | None = None
    per_spot: Annotated[int, Quantity("Readings per spot", "", at_least=1, at_most=1000, whole=True)] | None = None


class RowAnswer(AnswerPart):
    """One reading that would be taken."""

    line: int
    spot: str
    value_um: float
    where: str
    at: str | None


class AsideAnswer(AnswerPart):
    """One line that would be kept aside."""

    line: int
    text: str
    because: str


class TableAnswer(Answer):
    """The preview: how the text was understood, what is taken, what is kept aside, and the spots for a film request."""

    columns: dict[str, list[str]]
    unused: list[str]
    unit: str
    unit_from: str
    decimal: str
    delimiter: str
    preview: list[list[str]]
    readings: int
    rows: list[RowAnswer]
    set_aside: list[AsideAnswer]
    spots: list[dict[str, Any]]


def preview_table(request: TableRequest) -> TableAnswer:
    """Read the text as it would be read in earnest.

    Raises
    ------
    Missing, Unknown, Contradiction, Unreadable
        As ``intake.read_table``.
    """
    from .intake import read_table, read_typed, spots_of

    if request.typed:
        table = read_typed(request.table, request.unit, request.decimal)
    else:
        table = read_table(request.table, columns=request.columns, unit=request.unit, decimal=request.decimal,
                           delimiter=request.delimiter, per_spot=request.per_spot)
    return TableAnswer(
        columns=table.columns, unused=table.unused, unit=table.unit, unit_from=table.unit_from, decimal=table.decimal,
        delimiter=table.delimiter, preview=table.preview, readings=len(table.rows),
        rows=[RowAnswer(line=r.line, spot=r.spot, value_um=r.value_um, where=r.where, at=r.at) for r in table.rows],
        set_aside=[AsideAnswer(line=a.line, text=a.text[:200], because=a.because) for a in table.aside],
        spots=spots_of(table.rows),
    )
