"""One sign for one word: the table that the web, the certificate and the blank card read.

    sign_of("conforms")         disc      a filled disc, the tick cut through to its rim
    sign_of("not_measured")     dash      quiet: not done yet, or held because something is missing
    sign_of("does_not_conform") square    the one that is loud: measured and bad, or rejected

Each sign is one path in a box of 24 by 24, filled by the even-odd rule with the colour of its text, so that it stands in black
and white, on a dark page and in forced colours. ``LOUD`` alone is red. Own drawings; nothing is a background.
"""

from __future__ import annotations

from typing import Literal

Sign = Literal["disc", "arrow", "box", "dash", "hourglass", "pencil", "diamond", "square"]

BOX = 24  # a path is drawn in a square of so many units
LOUD: frozenset[Sign] = frozenset({"square"})

PATHS: dict[Sign, str] = {
    "disc": "M12 2a10 10 0 1 0 0 20a10 10 0 1 0 0-20zM5.4 12.5l2-2.1 3 3 8.4-9 2 2-10.3 11.2z",
    "arrow": "M3 5h11l7 7-7 7H3l5-7z",
    "box": "M2 2h20v14l-6 6H2zM4.2 4.2v15.6h10.9l4.7-4.7V4.2z",
    "dash": "M5 10.6h14v2.8H5z",
    "hourglass": "M4 2h16v3h-2v2.7L13.6 12l4.4 4.3V19h2v3H4v-3h2v-2.7L10.4 12 6 7.7V5H4zM8 5v1.9l4 3.9 4-3.9V5z",
    "pencil": "M3 21l1.3-6.2L16.2 2.9l4.9 4.9L9.2 19.7zM6.2 15.8l-.7 2.7 2.7-.7 8.9-8.9-2-2z",
    "diamond": "M12 .8l11.2 11.2L12 23.2.8 12zM12 4l-8 8 8 8 8-8zM9 9.9C9 8.1 10.3 6.9 12.1 6.9s3 1.1 3 2.7c0 2.2-2 2.3-2 4.2"
               "h-2c0-2.8 2-2.9 2-4.1 0-.6-.4-1-1-1s-1 .4-1 1.2zM11.1 14.9h2v2h-2z",
    "square": "M2.5 2.5h19v19h-19zM7.8 6l4.2 4.2L16.2 6 18 7.8 13.8 12l4.2 4.2-1.8 1.8-4.2-4.2L7.8 18 6 16.2l4.2-4.2L6 7.8z",
}

# What each sign says, in the words of the screen.
SAYS: dict[Sign, str] = {
    "disc": "conforms, done, signed, released",
    "arrow": "yours, do this next",
    "box": "waits for that person",
    "dash": "not done yet, or held because something is missing",
    "hourglass": "a clock runs",
    "pencil": "kept here, not in the record",
    "diamond": "indeterminate, or an engineer is asked",
    "square": "measured and bad, or rejected",
}

# Every word of a verdict, a status, an outcome or a gate → its sign.
SIGNS: dict[str, Sign] = {
    "conforms": "disc", "done": "disc", "signed": "disc", "good": "disc", "go": "disc", "go_with_warnings": "disc",
    "released": "disc", "released_with_waivers": "disc", "repair_by_procedure": "disc", "dress_only": "disc",
    "use_as_is": "disc",
    "next": "arrow",
    "waits": "box",
    "not_measured": "dash", "open": "dash", "held": "dash", "not_needed": "dash", "no": "dash",
    "running": "hourglass",
    "kept": "pencil",
    "indeterminate": "diamond", "engineering_review": "diamond", "conditional": "diamond", "temporary": "diamond",
    "unknown": "diamond",
    "does_not_conform": "square", "rejected": "square", "not_here": "square", "scrap": "square", "strip_and_reline": "square",
    "holds": "square", "bad": "square",
}


def sign_of(word: str) -> Sign:
    """The sign of a word of the table; a word that is not in it has nothing to say yet: the dash."""
    return SIGNS.get(word, "dash")
