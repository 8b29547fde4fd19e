"""How do templates ask for an entry, show a number in the reader's units, and a verdict in words and shape?

{% entry_form "air.read" job=number %}                    a whole form for one kind of entry
{% entry_form "air.read" job=number only="air_c rh_pct" fixed=some_dict instruments=meters %}
{{ step.value|shown:"um" }}                               1 050 µm, or 41.3 mil for a person of US units
{% verdict "does_not_conform" %}                          its sign, does not conform
"""

from __future__ import annotations

import json
from typing import Any

from django import template
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _

from ...basis.materials import shown_name
from ...basis.signs import LOUD, PATHS, sign_of
from ...basis.unit_table import in_units, shown_in
from ...services.desk.entry_fields import Field, fields_of, label_of, pages_of_kinds, plain_words
from ...services.desk.measuring import tools_for
from ...services.desk.which_repair import must_name
from ..reader import in_words, language_of
from .kept import piece

register = template.Library()

# word → what is said. Its sign (basis/signs.py) stands for whoever cannot see the colour, the words for everybody.
WORDS = {
    "conforms": gettext_noop("conforms"),
    "does_not_conform": gettext_noop("does not conform"),
    "indeterminate": gettext_noop("indeterminate"),
    "not_measured": gettext_noop("not measured"),
    "released": gettext_noop("released"),
    "released_with_waivers": gettext_noop("released with waivers"),
    "conditional": gettext_noop("released on conditions"),
    "temporary": gettext_noop("released for a time"),
    "not_here": gettext_noop("rejected: not here"),
    "scrap": gettext_noop("rejected: scrap"),
    "held": gettext_noop("held"),
    "engineering_review": gettext_noop("engineering review"),
    "rejected": gettext_noop("rejected"),
    "done": gettext_noop("done"),
    "next": gettext_noop("next"),
    "open": gettext_noop("not done yet"),
    "holds": gettext_noop("holds the job"),
    "not_needed": gettext_noop("not needed"),
    "repair_by_procedure": gettext_noop("repair by procedure"),
    "dress_only": gettext_noop("dress only"),
    "use_as_is": gettext_noop("use as is"),
    "strip_and_reline": gettext_noop("strip and reline"),
    "good": gettext_noop("good"),
    "bad": gettext_noop("bad"),
    "unknown": gettext_noop("unknown"),
    "go": gettext_noop("may be done"),
    "go_with_warnings": gettext_noop("may be done, with a warning"),
    "no": gettext_noop("not yet"),
}


# Asked of few entries: they stand folded under the form, so that a hand in a glove or on the keys does not pass them each time.
SELDOM = frozenset({"confirmed", "started_at", "powder_g"})


@register.simple_tag
def verdict(word: str) -> str:
    """A verdict or status: sign and words; what is loud says so in its class."""
    sign, said = sign_of(str(word)), WORDS.get(str(word), str(word).replace("_", " "))
    named = str(word).replace("_", "-") + (" loud" if sign in LOUD else "")
    return format_html('<span class="verdict verdict-{}">{} {}</span>', named, shape(sign), _(said))


@register.simple_tag
def shape(sign: str) -> str:
    """A sign by its name; the words beside it say the same."""
    return format_html(_SHAPE, sign)


_SHAPE = '<svg class="shape shape-{0}" viewBox="0 0 24 24" aria-hidden="true"><use href="#sign-{0}"/></svg>'


@register.simple_tag
def signs() -> str:
    """Every sign, drawn once in a page; ``shape`` and the scripts point to it."""
    return format_html_join("", '<symbol id="sign-{}" viewBox="0 0 24 24"><path fill-rule="evenodd" d="{}"/></symbol>',
                            PATHS.items())


@register.simple_tag
def refusal(sentence: str) -> str:
    """Why something was refused: in the reader's language where it is known there, else as the bench says it, marked so."""
    said = in_words(sentence)
    return format_html('<span lang="en">{}</span>', said) if language_of(sentence) == "en" else conditional_escape(said)


@register.filter
def words(text: Any) -> str:
    """A key of the house as words: ``dew_margin`` → dew margin, translated when its translation is known. A polymer or a
    metal is called what its own entry says."""
    key = str(text)
    return shown_name(key, (get_language() or "en")[:2]) or _(plain_words(key))


@register.filter
def called(kind: str) -> str:
    """What an entry of this kind is called, in the reader's language."""
    return _(label_of(kind))


@register.simple_tag
def kinds_for_scripts() -> str:
    """Kind → name and page, as JSON; a tablet calls ``damage`` an outline on a photo that is still to be measured."""
    said = {kind: (_(label), page) for kind, (label, page) in pages_of_kinds().items()}
    return json.dumps(said | {"damage": (_("damage on a photo"), said["damage.outlined"][1])}, ensure_ascii=False)


@register.simple_tag(takes_context=True)
def shown(context: Any, value: Any, unit: str = "", digits: int | None = None) -> str:
    """A number in the reader's units with its unit; a dash when it was not measured."""
    if value is None or value == "":
        return "–"
    number, sign = in_units(float(value), unit, context.get("units", "metric"))
    if digits is None:
        size = abs(number)
        digits = 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 1 else 3
        if float(value) == int(float(value)) and number == float(value):
            digits = 0
    text = pointed(f"{number:,.{digits}f}".replace(",", "\u202f").replace("-", "\u2212"))
    return f"{text}\u00a0{sign}" if sign else text


def pointed(number: str) -> str:
    """A number's text with the decimal sign of the reader's language: a comma in German."""
    return number.replace(".", ",") if (get_language() or "").startswith("de") else number


@register.simple_tag(takes_context=True)
def unit(context: Any, house: str) -> str:
    """The sign of a unit as this reader sees it."""
    return shown_in(house, context.get("units", "metric")).unit


@register.simple_tag(takes_context=True)
def unit_data(context: Any, house: str, digits: int = 0) -> str:
    """Attributes that tell a script how this reader sees a number of the house: factor, offset, sign and digits."""
    by_unit = shown_in(house, context.get("units", "metric"))
    marks = 'data-factor="{}" data-offset="{}" data-unit="{}" data-digits="{}"'
    return format_html(marks, repr(by_unit.factor), repr(by_unit.offset), by_unit.unit, digits)


@register.simple_tag(takes_context=True)
def distance(context: Any, mm: float) -> str:
    """A way on the part without its sign: to the millimetre, or to a twentieth of an inch."""
    number, sign = in_units(abs(float(mm)), "mm", context.get("units", "metric"))
    return f"{pointed(f'{number:.2f}')}\u00a0{sign}" if sign == "in" else f"{number:.0f}\u00a0{sign}"


@register.filter
def minute(at: Any) -> str:
    """A moment of the record (ISO 8601, UTC) to the minute: 2026-11-25 10:39 UTC; anything else as it stands."""
    text = str(at or "")
    return f"{text[:10]} {text[11:16]} UTC" if len(text) >= 16 and text[10] in "T " else text


@register.filter
def at_index(values: Any, number: int) -> Any:
    """The value at a place of a list; nothing where the list is shorter."""
    return values[number] if number < len(values) else None


@register.filter
def plain_json(value: Any) -> str:
    """A value as JSON for a data attribute; escaped like any other text."""
    return json.dumps(value, ensure_ascii=False)


@register.simple_tag(takes_context=True)
def instruments_for(context: Any, kind: str) -> list[str]:
    """The ids of the instruments that can measure an entry of this kind."""
    return list(tools_for(kind, context["outcome"], context["book"]))


@register.simple_tag(takes_context=True)
def entry_form(context: Any, kind: str, **more: Any) -> str:
    """A form for one kind of entry (``form_of``), drawn."""
    form = form_of(context, kind, **more)
    drawn = context.template.engine.get_template("entry/form.html")
    return piece("entry_form", form, lambda: drawn.render(template.Context(form)))


def form_of(
    context: Any,
    kind: str,
    *,
    job: str,
    only: str = "",
    without: str = "",
    fixed: dict[str, Any] | None = None,
    instruments: Any = None,
    lots: Any = None,
    again: bool = True,
    title: str = "",
    button: str = "",
    when: bool = True,
    values: dict[str, Any] | None = None,
    choices: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """What a form for one kind of entry asks, read off the kind itself (services/desk/entry_fields.py).

    ``only``/``without``: names of fields; ``fixed``: values the person does not type; ``instruments``, ``lots``: what may
    be chosen for these fields (objects with id), on a page of a job the instruments that fit the kind; ``values``: what
    stands in the fields at first; ``choices``: keys that may be chosen for a field that is a word, or these with their words.
    """
    units = context.get("units", "metric")
    wanted, left = only.split(), without.split()
    asked = []
    letters = context.get("letters") or []
    of_job = instruments is None and "outcome" in context
    tools = instruments_for(context, kind) if of_job else [one.id for one in instruments or ()]
    for field in fields_of(kind):
        if (wanted and field.name not in wanted) or field.name in left or field.name in (fixed or {}):
            continue
        if field.name == "repair" and not letters:
            continue  # there is only one
        one = _asked(field, units, tools, lots, values or {})
        if field.name == "repair":
            one |= {"type": "choice", "register": True, "choices": tuple(letters), "value": context.get("letter") or None,
                    "required": must_name(kind)}
        elif field.name in (choices or {}):
            offered = (choices or {})[field.name]
            one |= {"type": "choice", "choices": tuple(offered), "called": offered if isinstance(offered, dict) else None}
        asked.append(one)
    seldom = [one for one in asked if one["name"] in SELDOM and not one["required"] and not one["value"]
              and one["name"] not in {*wanted, *(choices or {})}]
    return {
        "kind": kind,
        "job": job,
        "fields": [one for one in asked if one not in seldom],
        "seldom": seldom,
        "fixed": fixed or {},
        "again": again,
        "title": title,
        "button": button,
        "when": when,
        "uid": f"{kind.replace('.', '-')}-{abs(hash((kind, title, str(fixed)))) % 10_000}",
    }


def asked_fields(kind: str, names: tuple[str, ...], units: str) -> list[dict[str, Any]]:
    """Some of the questions of a kind, as a form shows them."""
    return [_asked(field, units, [], None, {}) for field in fields_of(kind) if field.name in names]


def _asked(field: Field, units: str, tools: list[str], lots: Any, values: dict[str, Any]) -> dict[str, Any]:
    by_unit = shown_in(field.unit, units)
    out: dict[str, Any] = {
        "name": field.name,
        "label": _(field.label),
        "type": field.type,
        "unit": _(by_unit.unit) if len(by_unit.unit) > 4 else by_unit.unit,  # months; a sign is the same everywhere
        "factor": repr(by_unit.factor),
        "offset": repr(by_unit.offset),
        "required": field.required,
        "choices": field.choices,
        "whole": field.whole,
        "rule": field.rule,
        "value": values.get(field.name, field.default if field.type in ("choice", "flag") else None),
        "keep": field.name in ("instrument", "lot"),
        "fields": [_asked(one, units, tools, lots, _inner(values, field)) for one in field.fields],
    }
    if field.name == "instrument":
        out["type"], out["choices"], out["register"] = "choice", tuple(tools), True
    if field.name == "lot" and lots is not None:
        out["type"], out["choices"], out["register"] = "choice", tuple(one.id for one in lots), True
    if out["type"] == "number" and out["value"] is not None:
        out["value"] = f"{in_units(float(out['value']), field.unit, units)[0]:.6g}"
    return out


def _inner(values: dict[str, Any], field: Field) -> dict[str, Any]:
    held = values.get(field.name)
    return held if isinstance(held, dict) else {}
