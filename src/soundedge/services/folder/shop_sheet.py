"""What does a shop say once, so that no job types it again? Its people, instruments, lots, guns and parts, and what is usual.

    [shop]                         site, procedure
    [[person]], [[instrument]], [[lot]]   as on a job sheet; a job takes those that it names
    [[gun]] name = "HG3" …         gun = "HG3" in a heat plan
    [[part]] tag = "MC-7" …        with [part.lining]: a job that says this tag takes from here what it does not say itself
    [usual.air] instrument = "H2"  what an [[air]] says unless it says otherwise

The job sheet names the file: ``[job] shop = "../shop.toml"``; its own ``[usual]`` comes before the shop's. ``by`` may be usual
too, a name or a role: the shop says ``[usual.film] by = "inspector"``, the job ``[usual] inspector = "tobias"``. Usual is who,
and what is used, never what was measured, seen or done. The record holds every value, as if it had been typed, and the shop's
sheet with the originals.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from ...basis.errors import Contradiction, Missing, Unknown, Unreadable
from ...basis.sentences import say
from ...job.kinds import SECTIONS
from ...job.kinds.kind import ENGINEER, INSPECTOR, MANAGER, TECHNICIAN
from ..files import read_text

USED = ("by", "instrument", "lot", "solvent", "gun", "back", "electrode", "method", "reference_um", "coupon_um", "space_l",
        "salt_water_ml")
ROLES = (TECHNICIAN, INSPECTOR, ENGINEER, MANAGER)
SHOP_SECTIONS = ("shop", "person", "instrument", "lot", "gun", "part", "usual")
LISTED = ("person", "instrument", "lot")
# What is true of one visit of a part, not of the part: every job says it anew.
OF_ONE_VISIT = ("service", "service_stated_by", "last_service", "last_contact", "decontamination")


def with_shop(sheet: dict[str, Any], name: str, folder: Path, team: dict[str, Any]) -> bytes:
    """Put into a job sheet what its shop's sheet says; the bytes of that sheet come back.

    Raises
    ------
    BenchError
        The shop's sheet cannot be read, has an unknown section, or calls something usual that must be measured or done.
    """
    shop, text = _read(folder / name)
    _job(sheet, shop, name)
    _part(sheet, shop)
    fill(sheet, _table(shop, "usual"), where="job.shop.usual", team=team)
    _guns(sheet, shop)
    named = set(_texts({key: value for key, value in sheet.items() if key not in LISTED}))
    for section in LISTED:
        own = _rows(sheet, section)
        known = {row.get("id") for row in own}
        own += [row for row in _rows(shop, section) if row.get("id") in named and row.get("id") not in known]
        if own:
            sheet[section] = own
    return text.encode()


def fill(sheet: dict[str, Any], usual: dict[str, Any], *, where: str, team: dict[str, Any]) -> None:
    """Give each entry what is usual in its section and what it does not say itself. ``team``: role → who has it in this job.

    Raises
    ------
    BenchError
        A section that is none, or a key that must be said each time.
    """
    by = {key: value for key, value in usual.items() if not isinstance(value, dict) and key not in ROLES}
    sections = {key: value for key, value in usual.items() if isinstance(value, dict)}
    for key in by:
        if key != "by":
            raise Unknown(f"{where}.{key[:60]}", say("folder.usual_only_by", key=key[:60]))
    for name, given in sections.items():
        if name not in SECTIONS or not SECTIONS[name].acted:
            raise Unknown(f"{where}.{name[:60]}", say("folder.usual_section_unknown", section=name[:60]))
        for key in given:
            if key not in USED:
                raise Contradiction(f"{where}.{name}.{key[:60]}",
                                    say("folder.usual_is_measured", key=key[:60], known=", ".join(USED)))
    for name, kind in SECTIONS.items():
        if not kind.acted:
            continue
        of_section = by | sections.get(name, {})
        for entry in _rows(sheet, name) if kind.many else [sheet[name]] if isinstance(sheet.get(name), dict) else []:
            for key, value in of_section.items():
                if key not in entry:
                    entry[key] = _who(value, team, f"{where}.{name}") if key == "by" else value


def _who(by: Any, team: dict[str, Any], where: str) -> Any:
    """Whom a role means in this job; a name means itself."""
    if by not in ROLES:
        return by
    if by not in team:
        raise Missing(f"{where}.by", say("folder.role_unnamed", role=by))
    return team[by]


def _read(file: Path) -> tuple[dict[str, Any], str]:
    text = read_text(file, what="The shop's sheet", field="job.shop")
    try:
        shop = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unreadable("job.shop", say("folder.shop_not_toml", why=str(error)[:120])) from None
    for section in shop:
        if section not in SHOP_SECTIONS:
            raise Unknown(f"job.shop.{section[:60]}", say("folder.shop_section_unknown", section=section[:60],
                                                          known=", ".join(SHOP_SECTIONS)))
    return shop, text


def _job(sheet: dict[str, Any], shop: dict[str, Any], name: str) -> None:
    for key, value in _table(shop, "shop").items():
        if key not in ("site", "procedure"):
            raise Unknown(f"job.shop.shop.{key[:60]}", say("folder.shop_key_unknown", key=key[:60]))
        if key == "procedure" and isinstance(value, str) and not Path(value).is_absolute():
            value = (Path(name).parent / value).as_posix()
        sheet["job"].setdefault(key, value)


def _part(sheet: dict[str, Any], shop: dict[str, Any]) -> None:
    part = _table(sheet, "part")
    found = next((dict(row) for row in _rows(shop, "part") if row.get("tag") == part.get("tag")), None)
    if found is None:
        return
    for key in OF_ONE_VISIT:
        if key in found:
            raise Contradiction(f"job.shop.part.{key}", say("folder.part_of_one_visit", key=key, tag=str(part.get("tag"))[:60]))
    lining = found.pop("lining", None)
    sheet["part"] = found | part
    if lining is not None:
        sheet["lining"] = lining | _table(sheet, "lining")


def _guns(sheet: dict[str, Any], shop: dict[str, Any]) -> None:
    guns = {row.get("name"): row for row in _rows(shop, "gun")}
    for number, plan in enumerate(_rows(sheet, "heat_plan"), 1):
        gun = plan.get("gun")
        if isinstance(gun, str):
            if gun not in guns:
                raise Unknown(f"heat_plan[{number}].gun", say("folder.gun_unknown", gun=gun[:60],
                                                              known=", ".join(str(one) for one in guns) or "—"))
            plan["gun"] = dict(guns[gun])


def _table(sheet: dict[str, Any], key: str) -> dict[str, Any]:
    value = sheet.get(key)
    return dict(value) if isinstance(value, dict) else {}


def _rows(sheet: dict[str, Any], section: str) -> list[dict[str, Any]]:
    value = sheet.get(section)
    return [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []


def _texts(node: Any) -> list[str]:
    if isinstance(node, dict):
        return [text for value in node.values() for text in _texts(value)]
    if isinstance(node, list):
        return [text for value in node for text in _texts(value)]
    return [node] if isinstance(node, str) else []
