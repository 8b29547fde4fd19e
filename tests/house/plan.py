"""The plan of the house: which room may open which door. ``test_plan.py`` holds the imports to it."""

TRADE_ROOMS = (
    "survey", "disposition", "conditions", "hazards", "heat", "buildup", "thickness", "holiday", "instruments",
)

# room → the rooms it may import. The standard library is always open.
PLAN: dict[str, tuple[str, ...]] = {
    "basis": (),
    **{room: ("basis",) for room in TRADE_ROOMS},
    "job": ("basis", *TRADE_ROOMS),
    "record": ("basis",),
    "history": ("basis", "job"),
    "report": ("basis", "job", "record", "history", *TRADE_ROOMS),
    "store": ("basis", "record"),
    "services": ("basis", "job", "record", "history", "report", "store", *TRADE_ROOMS),
    "web": ("basis", "services"),
    "cli": ("basis", "services"),
}

# Inside services/: the files at its top know none of its rooms; a room may import those files and the rooms named here.
SERVICES: dict[str, tuple[str, ...]] = {
    "evidence": (),
    "folder": ("evidence",),
    "desk": ("evidence",),
    "people": ("evidence", "desk"),
}

# A part from outside → the only rooms that may import it; a part not named here is open to all.
ONLY_IN: dict[str, tuple[str, ...]] = {
    "django": ("store", "services", "web"),
    "ninja": ("web",),
    "sqlite3": ("store",),
    "typst": ("report",),
    "vl_convert": ("report",),
    "pyhanko": ("report",),
    "segno": ("report",),
    "cv2": ("survey", "services"),
    "click": ("cli",),
    "serial": ("services", "instruments"),
    "numba": ("heat",),
    "cryptography": ("record", "services", "report"),
}

# What a pure room may not touch: the clock, the disk, the network, the environment.
IMPURE = ("sqlite3", "subprocess", "socket", "urllib", "requests", "tempfile", "shutil", "getpass", "random", "secrets")
PURE_ROOMS = ("basis", *TRADE_ROOMS, "job", "record", "history")

# The longest source file; data (tables, translations, letters) may be longer.
LINES_MAX = 500
