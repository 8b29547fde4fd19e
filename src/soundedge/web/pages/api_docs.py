"""What other programs of the shop can ask of the bench: the HTTP API as a page, from its own description."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ..page import READERS, Page


@dataclass(frozen=True)
class Field:
    """One parameter, or one key of a body."""

    name: str
    kind: str
    needed: bool


def api_docs(request: Any) -> HttpResponse:
    """Every operation, grouped as the description groups them; nothing is fetched and no script runs."""
    from ..api import api
    from ..api.door import OPERATIONS

    drawn = api.get_openapi_schema()
    groups: dict[str, list[dict[str, Any]]] = {}
    for path, item in drawn["paths"].items():
        for method, told in item.items():
            roles = OPERATIONS[method.upper(), path.removeprefix("/api/v1")]
            groups.setdefault(told["tags"][0], []).append({
                "name": told["operationId"], "method": method.upper(), "path": path, "summary": told["summary"],
                "more": told.get("description", ""), "roles": ", ".join(sorted(roles)), "in_address": _parameters(told),
                "bodies": [(media, _fields(given["schema"], drawn))
                           for media, given in told.get("requestBody", {}).get("content", {}).items()],
                "answers": [media for media in told["responses"].get("200", {}).get("content", {"application/json": {}})],
            })
    return render(request, "api_docs.html", {"groups": groups, "about": drawn["info"]["description"]})


def _parameters(told: dict[str, Any]) -> list[Field]:
    return [Field(one["name"], f"{one['in']}, {_kind(one['schema'])}", one["required"]) for one in told["parameters"]]


def _fields(schema: dict[str, Any], drawn: dict[str, Any]) -> list[Field]:
    """The keys of an object's schema; of several objects, all keys, needed where each of them needs it."""
    if "$ref" in schema:
        schema = drawn["components"]["schemas"][schema["$ref"].rsplit("/", 1)[-1]]
    either = schema.get("anyOf", [schema])
    keys = {key: about for one in either for key, about in one.get("properties", {}).items()}
    return [Field(key, _kind(about), all(key in one.get("required", ()) for one in either)) for key, about in keys.items()]


def _kind(schema: dict[str, Any]) -> str:
    """What a value is, in a few words."""
    if "$ref" in schema:
        return "object"
    if "anyOf" in schema:
        return " or ".join(dict.fromkeys(_kind(one) for one in schema["anyOf"]))
    if "enum" in schema or "const" in schema:
        return "one of " + ", ".join(str(one) for one in schema.get("enum", [schema.get("const")]))
    named = schema.get("type", "any value")
    types = named if isinstance(named, list) else [named]
    kind: str = schema.get("format") or " or ".join(_NAMES.get(one, str(one)) for one in types)
    low, high = schema.get("minimum", schema.get("exclusiveMinimum")), schema.get("maximum", schema.get("exclusiveMaximum"))
    if low is not None and high is not None:
        return f"{kind}, {low:g} to {high:g}"
    return f"{kind}, at most {schema['maxLength']} characters" if "maxLength" in schema else kind


_NAMES = {"string": "text", "array": "list", "integer": "whole number"}
PAGES = (Page("api/docs", api_docs, "api_docs", READERS),)
