"""What was in it, is it mine to open, and with what may I rinse? Asked of a part that comes from service.

    hypochlorite until 3 April, statement of 28 March       → ask the owner for a new one; keep the part apart
    nobody knows what was in it                              → the engineer; nobody opens it
    hypochlorite in it, to be rinsed with an acid            → stop: chlorine
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..rules.service import service_of
from .history import service
from .hot_work import gas
from .moment import Moment
from .point import Point, Until

# Words in what was in the part, and in the rinse, that must not meet: from memory, chlorine comes of hypochlorite and acid.
_ACID, _CHLORINE = ("acid", "säure", "hcl"), ("hypochlor", "bleach", "bleich", "javel")
_MEETS = (*((one, _ACID) for one in _CHLORINE), *((one, _CHLORINE) for one in _ACID))
SOURCE = "common practice, no source"


def open_part(now: Moment) -> Iterator[Point | Until]:
    """Open, drain, rinse."""
    yield from service(now, "A1.7")
    if service_of(now.case) == "never":
        return
    rinse = now.given.get("rinse")
    held = " ".join(filter(None, [now.job.the("part.identified").last_service,
                                  *(one.body.media for one in now.job.of("decontamination.stated"))])).lower()
    if rinse and any(a in held and any(b in str(rinse).lower() for b in bs) for a, bs in _MEETS):
        yield Point("A1.4", "P", "rinse", "failing", say("acts.rinse_meets", rinse=str(rinse), held=held), "stop",
                    say("acts.rinse_ask"), "owner", source="from memory: hypochlorite and acid give chlorine")
    elif not rinse:
        yield Point("A1.4", "P", "rinse", "missing", say("acts.rinse_missing"), "ask_owner", say("acts.rinse_ask"), "owner",
                    "informs", source=SOURCE)
    if not now.given.get("isolation"):
        yield Point("A1.2", "P", "isolation", "missing", say("acts.isolation_missing"), "ask_owner", say("acts.isolation_ask"),
                    "owner", "informs", source=SOURCE)
    yield from gas(now, "A1.3", close=now.given.get("place") == "enclosed")
    if not now.job.of("picture.taken", "damage.outlined"):
        yield Point("A1.6", "X", "picture", "missing", say("acts.picture_missing"), "measure", say("acts.picture_first"),
                    "technician", "informs", source=SOURCE)
