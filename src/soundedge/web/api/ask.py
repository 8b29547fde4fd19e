"""One question to one room: the same pair of request and answer as ``soundedge ask``.

Nothing of the request is a file here: a name of a file on the bench's disk is refused. A survey's photo is sent first and
named by its digest (photos.py).
"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router

from ...basis import strict_json
from ...basis.errors import Refused
from ...basis.sentences import say
from ...services import ask as service
from ...services.desk.heat_plan import shown
from ..page import READERS
from .door import operation

router = Router(tags=["rooms"])
ROOMS = tuple(room for room in service.ROOMS if room != "survey")


def asked(room: str, raw: Any) -> dict[str, Any]:
    """The room's answer to a request that names no file.

    Raises
    ------
    Refused
        The request names a file.
    """
    if room == "survey":
        raise Refused("photo", say("web.survey_needs_photo"))
    if room == "disposition" and isinstance(raw, dict) and isinstance(raw.get("procedure"), str):
        raise Refused("procedure", say("web.procedure_whole"))
    answer = service.ask(room, raw)
    if room == "heat":
        shown(raw, answer)
    return answer


def _add(room: str) -> None:
    @operation(
        router,
        "POST",
        f"/ask/{room}",
        roles=READERS,
        device=False,
        summary=f"Ask the room {room}",
        body_schema=_schema(room)["request"],
    )
    def ask(request: Any) -> HttpResponse:
        return JsonResponse(asked(room, strict_json.loads(request.body, what="The request")))

    @operation(router, "GET", f"/ask/{room}/schema", roles=READERS, summary=f"Both JSON Schemas of the room {room}")
    def schema(request: Any) -> HttpResponse:
        return JsonResponse(service.schema(room))


def _schema(room: str) -> dict[str, Any]:
    """The room's schemas with every reference resolved inside the operation's own description."""
    return {side: _inlined(drawn, drawn.get("$defs", {}), 0) for side, drawn in service.schema(room).items()}


def _inlined(node: Any, defs: dict[str, Any], depth: int) -> Any:
    if isinstance(node, list):
        return [_inlined(one, defs, depth) for one in node]
    if not isinstance(node, dict):
        return node
    if "$ref" in node and depth < 24:
        return _inlined(defs[node["$ref"].rsplit("/", 1)[-1]], defs, depth + 1)
    return {key: _inlined(value, defs, depth + 1) for key, value in node.items() if key not in ("$defs", "$schema")}


for _room in ROOMS:
    _add(_room)
