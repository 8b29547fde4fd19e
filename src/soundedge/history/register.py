"""Who works in this shop, with what, from which lots, under which procedures? Folded from the shop's own chain.

A person, an instrument, a lot, a device or a procedure is never overwritten: each change is an event, and this is what
the events add up to.

    person.enrolled      id, name, role, qualified_until, qualified_for, qualified_plate_mm_min, …_max, certificate
    person.changed       the same, whole, as it stands from then on
    person.disabled      {id, because}    their account was disabled
    person.enabled       {id, because}    their account works again; their next password gives them a new key
    person.key_given     {id, key}        their signing key's name; the newest counts, older ones stay valid for the past
    person.key_reset     {id, because}    their key is taken away; their next password gives them a new one
    person.reset_asked   {id, what, because}   a second person confirms it, who writes key_reset or enabled with ``asked_by``
    device.enrolled      {id, name, typed_by: who typed another's code}       device.revoked {id, because}
    instrument.listed    as in a job      instrument.calibrated, instrument.withdrawn {id, because}
    lot.received         as in a job      lot.opened {id, opened_on}, lot.withdrawn {id, because}
    procedure.proposed   {id, edition, text, sha256, because}: one revision, as TOML, under a name of its own
    procedure.approved   {proposal, sha256} by a second person; procedure.withdrawn {id, because}

``admit`` holds the rules before an event is written; all but those of ``_anew`` are asked again when the chain is read. An
event that breaks one there counts for nothing and is named in ``faults``. Two people may not carry the same name or the same
certificate number: one human with two accounts would be their own second person (legible.py).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Protocol

from ..basis.errors import BenchError, Conflict, Contradiction, NotEnough, Refused, Unknown, Unreadable
from ..basis.file_names import check_new_name
from ..basis.procedure import Procedure, load_procedure
from ..basis.quantity import read_instant
from ..basis.question import Request, read
from ..basis.sentences import say
from ..job.kinds.opening import InstrumentListed, LotReceived, PersonNamed
from .legible import as_seen, legible, plain_name
from .register_bodies import BODIES
from .second_person import Asked, check_second

REASON_MIN = 10
NOBODY = ("sheet", "bench", "shop")
PERSON_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}\Z")
DEVICE_ID = re.compile(r"[a-z][a-z0-9]{0,19}\Z")
_KEY_ID = re.compile(r"[0-9a-f]{16}\Z")
_NAMING = {"person.enrolled": ("people", "the person's id"), "device.enrolled": ("devices", "the device's id"),
           "instrument.listed": ("instruments", "the instrument's id"), "lot.received": ("lots", "the lot's id"),
           "procedure.proposed": ("revisions", "the revision's name")}


class Said(Protocol):
    """An entry of the shop's chain, as far as the register looks at it."""

    @property
    def no(self) -> int: ...
    @property
    def kind(self) -> str: ...
    @property
    def by(self) -> str: ...
    @property
    def at(self) -> str: ...
    @property
    def body(self) -> Any: ...


@dataclass(frozen=True)
class Person:
    """A person as of now. ``keys`` names their signing keys, oldest first; ``key`` is the one that signs."""

    named: PersonNamed
    enrolled_at: datetime
    keys: tuple[str, ...] = ()
    key: str = ""
    disabled_at: datetime | None = None
    disabled_because: str = ""
    disabled_by: str = ""
    asked: Asked | None = None

    @property
    def id(self) -> str:
        return self.named.id

    @property
    def name(self) -> str:
        return self.named.name

    @property
    def role(self) -> str:
        return self.named.role

    @property
    def certificate(self) -> str | None:
        return self.named.certificate

    @property
    def qualified_until(self) -> datetime | None:
        return self.named.qualified_until

    @property
    def qualified_for(self) -> list[Any]:
        return list(self.named.qualified_for)

    @property
    def disabled(self) -> bool:
        return self.disabled_at is not None

    def qualified(self, polymer: str, at: datetime) -> bool:
        """Whether they are qualified for a polymer at a given time."""
        until = self.named.qualified_until
        return until is not None and until >= at and polymer in self.named.qualified_for


@dataclass(frozen=True)
class Device:
    """A tablet or phone."""

    id: str
    name: str
    enrolled_at: datetime
    typed_by: str = ""
    revoked_at: datetime | None = None
    revoked_because: str = ""


@dataclass(frozen=True)
class Instrument:
    """An instrument with its newest calibration."""

    listed: InstrumentListed
    withdrawn_at: datetime | None = None
    withdrawn_because: str = ""

    @property
    def id(self) -> str:
        return self.listed.id

    @property
    def kind(self) -> str:
        return self.listed.kind

    @property
    def calibration_due(self) -> datetime:
        return self.listed.calibration_due

    @property
    def withdrawn(self) -> bool:
        return self.withdrawn_at is not None


@dataclass(frozen=True)
class Lot:
    """A lot of material."""

    received: LotReceived
    withdrawn_at: datetime | None = None
    withdrawn_because: str = ""

    @property
    def id(self) -> str:
        return self.received.id

    @property
    def kind(self) -> str:
        return self.received.kind

    @property
    def polymer(self) -> str | None:
        return self.received.polymer

    @property
    def expires(self) -> datetime:
        return self.received.expires

    @property
    def withdrawn(self) -> bool:
        return self.withdrawn_at is not None


@dataclass(frozen=True)
class Revision:
    """One revision of a procedure: proposed by one person, approved by another, or not yet.

    ``revision`` is its own name in the register, ``id`` the procedure's as its text says.
    """

    revision: str
    id: str
    title: str
    edition: str
    text: str
    sha256: str
    because: str
    proposed_by: str
    proposed_at: datetime
    approved_by: str = ""
    approved_at: datetime | None = None
    withdrawn_by: str = ""
    withdrawn_at: datetime | None = None
    withdrawn_because: str = ""

    @property
    def approved(self) -> bool:
        return self.approved_at is not None

    @property
    def withdrawn(self) -> bool:
        return self.withdrawn_at is not None

    @property
    def stands(self) -> bool:
        """Whether a job may be opened under this revision."""
        return self.approved_at is not None and self.withdrawn_at is None

    @property
    def word(self) -> str:
        """``proposed``, ``approved`` or ``withdrawn``."""
        return "withdrawn" if self.withdrawn_at else "approved" if self.approved_at else "proposed"

    @property
    def procedure(self) -> Procedure:
        """The procedure read from its text."""
        return load_procedure(self.text, what=f"The procedure '{self.revision}'", kept=True)


@dataclass(frozen=True)
class Register:
    """Everything by its id, in the order in which it came."""

    people: dict[str, Person] = field(default_factory=dict)
    devices: dict[str, Device] = field(default_factory=dict)
    instruments: dict[str, Instrument] = field(default_factory=dict)
    lots: dict[str, Lot] = field(default_factory=dict)
    revisions: dict[str, Revision] = field(default_factory=dict)
    faults: tuple[str, ...] = ()

    @property
    def procedures(self) -> dict[str, Revision]:
        """Procedure's id → the revision that counts: the one approved last that stands; else the last approved one."""
        found: dict[str, Revision] = {}
        for one in sorted((r for r in self.revisions.values() if r.approved_at), key=lambda r: (r.stands, r.approved_at)):
            found[one.id] = one
        return found

    @property
    def proposals(self) -> dict[str, Revision]:
        """Revisions that wait for a second person."""
        return {name: one for name, one in self.revisions.items() if one.word == "proposed"}


def folded(entries: Iterable[Said]) -> Register:
    """The register from the entries of the shop's chain; kinds that are not its own are skipped.

    Raises nothing: an event that breaks a rule counts for nothing and is named in ``faults``.
    """
    held = Register()
    faults: list[str] = []
    for entry in entries:
        if entry.kind not in BODIES:
            continue
        try:
            body = read(BODIES[entry.kind], entry.body, from_record=True)
            _take(held, entry.kind, body, entry.by, read_instant(entry.at))
        except (BenchError, ValueError) as fault:
            faults.append(f"Entry {entry.no} ({entry.kind}) does not count: {getattr(fault, 'message', fault)}")
    return replace(held, faults=tuple(faults))


def admit(register: Register, kind: str, raw: Any, *, by: str, at: datetime) -> Request:
    """The body of an event that may be written now.

    Raises
    ------
    BenchError
        The body does not fit its kind, or a rule forbids it.
    """
    if kind not in BODIES:
        raise Unknown("kind", say("history.kind_unknown", kind=str(kind)[:60], known=', '.join(BODIES)))
    body = read(BODIES[kind], raw)
    copy = Register(dict(register.people), dict(register.devices), dict(register.instruments), dict(register.lots),
                    dict(register.revisions))
    _anew(copy, kind, body, by, at)
    _take(copy, kind, body, by, at)
    assert isinstance(body, Request)
    return body


def text_digest(text: str) -> str:
    """SHA-256 of a procedure's text, 64 hex digits."""
    return hashlib.sha256(text.encode()).hexdigest()


# ---------------------------------------------------------------------------- the rules


def _anew(held: Register, kind: str, body: Any, by: str, at: datetime) -> None:
    """Rules checked before an event is written, but not on events an older chain already holds."""
    if kind in _NAMING:
        things, what = _NAMING[kind]
        check_new_name("id", what, body.id, [*getattr(held, things), *(NOBODY if things == "people" else ())])
    if kind in ("person.changed", "person.key_reset"):
        _active(_the(held.people, body.id, "person"))
    if kind == "person.reset_asked":
        (_active if body.what == "key_reset" else _gone)(_the(held.people, body.id, "person"))
    if kind in ("person.key_reset", "person.enabled") and (by != body.id or body.asked_by):  # by themselves: at the machine
        check_second(held.people, _the(held.people, body.id, "person"), kind, body.asked_by, by=by, at=at)
    if kind in ("person.enrolled", "person.changed"):
        legible("name", "name", body.name)
        legible("certificate", "number of the qualification", body.certificate or "")
        _nobody_twice(held, body, as_seen)
    if kind == "device.enrolled":
        legible("name", "device's name", body.name)
        if body.typed_by:
            _active(_the(held.people, body.typed_by, "person"))
    if kind == "procedure.proposed":
        load_procedure(body.text, what="The proposed procedure")


def _take(held: Register, kind: str, body: Any, by: str, at: datetime) -> None:
    thing, what = kind.split(".")
    {"person": _person, "device": _device, "instrument": _instrument, "lot": _lot, "procedure": _procedure}[thing](
        held, what, body, by, at)


def _person(held: Register, what: str, body: Any, by: str, at: datetime) -> None:
    if what == "enrolled":
        if not PERSON_ID.match(body.id) or body.id in NOBODY:
            raise Unreadable("id", say("history.person_id_form", id=body.id[:60], reserved=', '.join(NOBODY)))
        if body.id in held.people:
            raise Conflict("id", say("history.person_exists", id=body.id, name=held.people[body.id].name))
        _nobody_twice(held, body, plain_name)
        held.people[body.id] = Person(body, at)
        return
    person = _the(held.people, body.id, "person")
    if what == "changed":
        _nobody_twice(held, body, plain_name)
        held.people[body.id] = replace(person, named=body)
    elif what == "key_given":
        if not _KEY_ID.match(body.key):
            raise Unreadable("key", say("history.key_name_form", key=body.key[:40]))
        _active(person)
        for other in held.people.values():
            if body.key in other.keys and other.id != person.id:
                raise Contradiction("key", say("history.key_of_another", name=other.name))
        held.people[body.id] = replace(person, keys=tuple(dict.fromkeys((*person.keys, body.key))), key=body.key)
    else:
        _reason(body.because)
        if what == "reset_asked":
            held.people[body.id] = replace(person, asked=Asked(body.what, by, at, body.because))
        elif what == "key_reset":
            held.people[body.id] = replace(person, key="", asked=None)
        elif what == "enabled":
            _gone(person)
            held.people[body.id] = replace(person, key="", disabled_at=None, disabled_because="", disabled_by="", asked=None)
        else:
            _active(person)
            others = [p for p in held.people.values() if p.role == "manager" and not p.disabled_at and p.id != person.id]
            if person.role == "manager" and not others:
                raise Refused("id", say("history.only_manager", name=person.name))
            held.people[body.id] = replace(person, disabled_at=at, disabled_because=body.because, disabled_by=by,
                                           asked=None)


def _nobody_twice(held: Register, body: PersonNamed, same: Callable[[str], str]) -> None:
    name = same(body.name)
    for other in held.people.values():
        if other.id == body.id:
            continue
        if same(other.name) == name:
            raise Contradiction("name", say("history.person_called_twice", other=other.id, name=other.name))
        if body.certificate and other.named.certificate and same(other.named.certificate) == same(body.certificate):
            raise Contradiction("certificate", say("history.certificate_of_another", certificate=body.certificate,
                                                   name=other.name))


def _device(held: Register, what: str, body: Any, by: str, at: datetime) -> None:
    if what == "enrolled":
        if not DEVICE_ID.match(body.id) or body.id in ("person", "instrument", "lot", "judged", "issued"):
            raise Unreadable("id", say("history.device_id_form", id=body.id[:40]))
        if body.id in held.devices:
            raise Conflict("id", say("history.device_exists", id=body.id))
        held.devices[body.id] = Device(body.id, body.name, at, body.typed_by or "")
        return
    device = _the(held.devices, body.id, "device")
    _reason(body.because)
    if device.revoked_at:
        raise Conflict("id", say("history.device_already_revoked", device=device.id))
    held.devices[body.id] = replace(device, revoked_at=at, revoked_because=body.because)


def _instrument(held: Register, what: str, body: Any, by: str, at: datetime) -> None:
    if what == "listed":
        if body.id in held.instruments:
            raise Conflict("id", say("history.instrument_exists", id=body.id))
        held.instruments[body.id] = Instrument(body)
        return
    tool = _the(held.instruments, body.id, "instrument")
    if what == "calibrated":
        if body.calibrated_on < tool.listed.calibrated_on:
            raise Contradiction("calibrated_on", say("history.calibration_not_newest", instrument=body.id,
                                                     calibrated_on=tool.listed.calibrated_on))
        new = tool.listed.model_dump() | body.model_dump(exclude_none=True)
        held.instruments[body.id] = Instrument(read(InstrumentListed, new))
    else:
        _reason(body.because)
        if tool.withdrawn_at:
            raise Conflict("id", say("history.instrument_already_withdrawn", instrument=body.id))
        held.instruments[body.id] = replace(tool, withdrawn_at=at, withdrawn_because=body.because)


def _lot(held: Register, what: str, body: Any, by: str, at: datetime) -> None:
    if what == "received":
        if body.id in held.lots:
            raise Conflict("id", say("history.lot_exists", id=body.id))
        held.lots[body.id] = Lot(body)
        return
    lot = _the(held.lots, body.id, "lot")
    if what == "opened":
        if lot.received.opened_on is not None:
            raise Conflict("id", say("history.lot_already_opened", lot=body.id, opened_on=lot.received.opened_on))
        held.lots[body.id] = replace(lot, received=lot.received.model_copy(update={"opened_on": body.opened_on}))
    else:
        _reason(body.because)
        if lot.withdrawn_at:
            raise Conflict("id", say("history.lot_already_withdrawn", lot=body.id))
        held.lots[body.id] = replace(lot, withdrawn_at=at, withdrawn_because=body.because)


def _procedure(held: Register, what: str, body: Any, by: str, at: datetime) -> None:
    if what == "proposed":
        if body.id in held.revisions:
            raise Conflict("id", say("history.revision_exists", id=body.id))
        if body.sha256 != text_digest(body.text):
            raise Contradiction("sha256", say("history.revision_digest_differs"))
        _reason(body.because)
        read_as = load_procedure(body.text, what="The proposed procedure", kept=True)
        held.revisions[body.id] = Revision(body.id, read_as.id, read_as.title, body.edition or read_as.edition, body.text,
                                           body.sha256, body.because, by, at)
    elif what == "approved":
        revision = _the(held.revisions, body.proposal, "procedure")
        if revision.approved_at or revision.withdrawn_at:
            raise Conflict("proposal", say("history.revision_already_decided", revision=revision.revision, state=revision.word))
        if body.sha256 != revision.sha256:
            raise Conflict("sha256", say("history.revision_text_differs", revision=revision.revision))
        if by == revision.proposed_by:
            raise Refused("by", say("history.own_revision", revision=revision.revision))
        held.revisions[revision.revision] = replace(revision, approved_by=by, approved_at=at)
    else:
        revision = _the(held.revisions, body.id, "procedure")
        _reason(body.because)
        if revision.withdrawn_at:
            raise Conflict("id", say("history.revision_already_withdrawn", revision=revision.revision))
        held.revisions[body.id] = replace(revision, withdrawn_by=by, withdrawn_at=at, withdrawn_because=body.because)


def _the(things: dict[str, Any], name: str, what: str) -> Any:
    if name not in things:
        raise Unknown("id", say("history.thing_unknown", what=what, id=name[:60], known=', '.join(list(things)[:20]) or 'none'))
    return things[name]


def _active(person: Person) -> None:
    if person.disabled_at:
        raise Refused("id", say("history.person_disabled", name=person.name, disabled_at=person.disabled_at,
                                why=person.disabled_because.rstrip('.')))


def _gone(person: Person) -> None:
    if not person.disabled_at:
        raise Conflict("id", say("history.person_already_active", name=person.name))


def _reason(because: str) -> None:
    if len(because.strip()) < REASON_MIN:
        raise NotEnough("because", say("history.reason_too_short", n=len(because.strip()), least=REASON_MIN))


