"""The lines of a written entry, as its reader reads them: {% with lines=row|lines_for:units %}"""

from __future__ import annotations

from typing import Any

from django import template

from ..entry_lines import lines_of

register = template.Library()


@register.filter
def lines_for(row: dict[str, Any], units: str) -> list[dict[str, Any]]:
    """The values of a row of desk/rows.py, each under its name in words."""
    return lines_of(row, units)
