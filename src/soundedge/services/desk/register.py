"""Changes to the shop's register. Each change is an event of the shop's own chain, by the person who made it.

roles.py says who may make a change, history/register.py which changes are valid. The first person of a shop enrols
themselves, as its manager; everybody after that is enrolled by a manager.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Refused, Unknown
from ...basis.procedure import LIMITS
from ...basis.sentences import say
from ...history import register as held_in
from ...history.procedure_changes import Difference, compare_procedures
from ...history.register import Register, Revision
from ...history.second_person import seconds
from ...record.canonical import plain
from ...record.entry import Entry, Said
from ...record.rotation import SHOP
from ...record.sign import key_id
from ..evidence import person_keys
from ..evidence.records import body_said
from . import roles
from .actor import Actor
from .book import opened, person_of, register_in
from .shop_place import shop_key_folder

TRIES = 8


def register(data: Path) -> Register:
    """The register as it stands now."""
    with opened(data) as ledger:
        return register_in(ledger, data)


# ------------------------------------------------------------------ people


def enrol_person(data: Path, actor: Actor, person: dict[str, Any], *, now: datetime) -> Entry:
    """A new person: id, name, role, qualified_until, qualified_for, qualified_plate_mm_min,
    qualified_plate_mm_max, certificate.

    Raises
    ------
    NotYours
        Not a manager; or the first person of a shop who is none.
    Contradiction, Conflict, Unreadable
        The same name or certificate as another's; an id that is taken or cannot be one.
    """
    return _write(data, actor, "person.enrolled", person, "people", now)


def change_person(data: Path, actor: Actor, person: dict[str, Any], *, now: datetime) -> Entry:
    """Name, role and qualification of a person, whole, as they stand from now on. Not one's own."""
    if actor.person == person.get("id"):
        raise Refused("id", say("desk.own_role"))
    return _write(data, actor, "person.changed", person, "people", now)


def disable_person(data: Path, actor: Actor, person: str, because: str, *, now: datetime) -> Entry:
    """Disable a person: from the next entry on they may not act, and their key may not sign."""
    entry = _write(data, actor, "person.disabled", {"id": person, "because": because}, "people", now)
    person_keys.retire_person(person, folder=shop_key_folder(data))
    return entry


def enable_person(data: Path, actor: Actor, person: str, because: str, *, asked_by: str = "", now: datetime) -> Entry:
    """A person who was disabled may act again, from the next entry on; their next password gives them a key.

    Raises
    ------
    Conflict
        The person is not disabled, or nobody asked for it.
    Refused
        A second person has to confirm it.
    """
    return _reset(data, actor, "person.enabled", person, because, asked_by, now)


def seal_key(data: Path, person: str, password: str, *, old: str = "", now: datetime) -> str:
    """The person's signing key under their password: the same key when ``old`` opens it, else a new one.

    Returns
    -------
    str
        The key's name, which stands in every event they sign.

    Raises
    ------
    Unknown, NotEnough
        Nobody of that id in the register; a password below 12 characters.
    """
    folder = shop_key_folder(data)
    held = register(data).people.get(person)
    if held is None or held.disabled:
        raise Unknown("person", say("desk.signer_unknown", person=person[:40]))
    try:
        if not old or not held.key:
            raise Unknown("person", say("desk.key_seal_anew"))
        made = person_keys.reseal_person(person, old, password, folder=folder)
    except (Unknown, Refused):
        made = person_keys.renew_person(person, password, folder=folder)
    name = key_id(made.public)
    if name != held.key:
        with opened(data) as ledger:
            _append(ledger, data, person, "person.key_given", {"id": person, "key": name}, now)
    return name


def key_reset(data: Path, actor: Actor, person: str, because: str, *, asked_by: str = "", now: datetime) -> Entry:
    """A person's key may not sign any more; their next password gives them another.

    Parameters
    ----------
    asked_by : str
        Who asked for it (``ask_reset``), when ``actor`` confirms it.

    Raises
    ------
    Refused, Conflict
        A second person has to confirm it; or nobody asked for it.
    """
    entry = _reset(data, actor, "person.key_reset", person, because, asked_by, now)
    person_keys.retire_person(person, folder=shop_key_folder(data))
    return entry


def ask_reset(data: Path, actor: Actor, person: str, what: str, because: str, *, now: datetime) -> bool:
    """Ask for a new password of a person, or for one who was disabled to come back, where a second person confirms that.

    Parameters
    ----------
    what : str
        ``key_reset`` or ``enabled``.

    Returns
    -------
    bool
        False when the shop has nobody to confirm it; nothing was written then.
    """
    if not seconds(register(data).people, actor.person, person, now):
        return False
    _write(data, actor, "person.reset_asked", {"id": person, "what": what, "because": because}, "people", now)
    return True


def may_confirm(book: Register, actor: Actor, person: str, *, now: datetime) -> bool:
    """Whether this person could confirm the new password that stands asked for another."""
    asked = book.people[person].asked
    return bool(asked and asked.stands(now) and actor.person in (
        one.id for one in seconds(book.people, asked.by, person, now)))


# ------------------------------------------------------------------ devices, instruments, lots


def enrol_device(data: Path, actor: Actor, device: str, name: str, *, now: datetime, typed_by: str = "") -> Entry:
    """A tablet or phone: its short id, what people call it, and who typed the code where another gave it."""
    body = {"id": device, "name": name} | ({"typed_by": typed_by} if typed_by else {})
    return _write(data, actor, "device.enrolled", body, "devices", now)


def revoke_device(data: Path, actor: Actor, device: str, because: str, *, now: datetime) -> Entry:
    """Revoke a device: it may not record any more."""
    return _write(data, actor, "device.revoked", {"id": device, "because": because}, "devices", now)


def list_instrument(data: Path, actor: Actor, instrument: dict[str, Any], *, now: datetime) -> Entry:
    """An instrument with its calibration, as ``instrument.listed`` of a job."""
    return _write(data, actor, "instrument.listed", instrument, "instruments", now)


def calibrate_instrument(data: Path, actor: Actor, calibration: dict[str, Any], *, now: datetime) -> Entry:
    """A new calibration: id, calibrated_on, calibration_due, certificate, tol_pct, tol."""
    return _write(data, actor, "instrument.calibrated", calibration, "instruments", now)


def withdraw_instrument(data: Path, actor: Actor, instrument: str, because: str, *, now: datetime) -> Entry:
    """Withdraw an instrument: it may not be used any more."""
    return _write(data, actor, "instrument.withdrawn", {"id": instrument, "because": because}, "withdraw", now)


def receive_lot(data: Path, actor: Actor, lot: dict[str, Any], *, now: datetime) -> Entry:
    """A lot of powder, primer, solvent or abrasive, as ``lot.received`` of a job."""
    return _write(data, actor, "lot.received", lot, "lots", now)


def open_lot(data: Path, actor: Actor, lot: str, opened_on: datetime | str, *, now: datetime) -> Entry:
    """When a lot was opened."""
    return _write(data, actor, "lot.opened", {"id": lot, "opened_on": opened_on}, "lots", now)


def withdraw_lot(data: Path, actor: Actor, lot: str, because: str, *, now: datetime) -> Entry:
    """Withdraw a lot: it may not be used any more."""
    return _write(data, actor, "lot.withdrawn", {"id": lot, "because": because}, "withdraw", now)


# ------------------------------------------------------------------ procedures


def propose_procedure(
    data: Path, actor: Actor, text: str, *, because: str, now: datetime, id: str = "", edition: str = ""
) -> str:
    """A revision of a procedure as TOML text; it counts when a second person has approved it.

    Returns
    -------
    str
        The revision's own name in the register. The same name with the same text is one proposal.
    """
    name = id or f"proposed-{secrets.token_hex(8)}"
    text = text.replace("\r\n", "\n")
    body = {"id": name, "text": text, "sha256": held_in.text_digest(text), "because": because}
    standing = register(data).revisions.get(name)
    if standing and (standing.sha256, standing.proposed_by) == (body["sha256"], actor.person):
        return name
    _write(data, actor, "procedure.proposed", body | ({"edition": edition} if edition else {}), "propose_procedure", now)
    return name


def approve_procedure(data: Path, actor: Actor, revision: str, *, now: datetime, sha256: str = "") -> Entry:
    """A second person approves exactly the text that was proposed (``sha256`` when they have seen it elsewhere).

    Raises
    ------
    Refused
        The same person proposed it.
    Conflict
        It is approved or withdrawn already, or is not the text they have seen.
    """
    standing = register(data).revisions.get(revision)
    body = {"proposal": revision, "sha256": sha256 or (standing.sha256 if standing else "")}
    if standing is None:
        raise Unknown("proposal", say("desk.revision_unknown", revision=revision[:60]))
    return _write(data, actor, "procedure.approved", body, "approve_procedure", now)


def withdraw_procedure(data: Path, actor: Actor, revision: str, *, because: str, now: datetime) -> Entry:
    """No job may be opened under this revision any more; jobs opened under it keep their copy."""
    return _write(data, actor, "procedure.withdrawn", {"id": revision, "because": because}, "withdraw_procedure", now)


def compare(one: Revision, other: Revision) -> list[Difference]:
    """What changes from one revision to another."""
    return compare_procedures(one.procedure, other.procedure)


def limits_of(revision: Revision) -> list[dict[str, Any]]:
    """Every limit a revision sets: key, name, value, unit, source."""
    read = revision.procedure
    return [{"key": key, "name": LIMITS[key].name, "value": limit.value, "unit": LIMITS[key].unit, "source": read.cite(key)}
            for key, limit in read.limits.items()]


# ------------------------------------------------------------------ inside


def _reset(data: Path, actor: Actor, kind: str, person: str, because: str, asked_by: str, now: datetime) -> Entry:
    body = {"id": person, "because": because} | ({"asked_by": asked_by} if asked_by else {})
    action = "confirm_reset" if asked_by else "" if actor.person == person else "people"  # in their own name: at the machine
    return _write(data, actor, kind, body, action, now)


def _write(data: Path, actor: Actor, kind: str, raw: Any, action: str, now: datetime) -> Entry:
    with opened(data) as ledger:
        book = register_in(ledger, data)
        if book.people or kind != "person.enrolled":
            role = person_of(book, actor).role
            if action:
                roles.check(role, action)
        elif not isinstance(raw, dict) or raw.get("id") != actor.person or raw.get("role") != "manager":
            raise roles.NotYours("role", say("desk.first_person"))
        return _append(ledger, data, actor.person, kind, raw, now)


def _append(ledger: Any, data: Path, by: str, kind: str, raw: Any, now: datetime) -> Entry:
    """Written when the rules allow it as the register stands at that very moment."""
    fault: BenchError | None = None
    for _ in range(TRIES):
        head = ledger.head(SHOP)
        body = held_in.admit(register_in(ledger, data), kind, raw, by=by, at=now)
        said = Said(f"{kind.split('.')[-1]}-{secrets.token_hex(8)}", kind, by, now, plain(body_said(body)))
        try:
            stored: Iterable[Entry] = ledger.append(SHOP, [said], now=now, on_head=head)
        except Conflict as moved:
            fault = moved
            continue
        return next(iter(stored))
    assert fault is not None
    raise fault
