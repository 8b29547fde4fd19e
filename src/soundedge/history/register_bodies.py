"""What may an entry of the shop's register say? One body for each kind of entry; history/register.py folds them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import StringConstraints

from ..basis.quantity import Instant, Prose, Quantity, Word
from ..basis.question import Request
from ..job.kinds.opening import InstrumentListed, LotReceived, PersonNamed

TEXT_MAX = 200_000


class Reasoned(Request):
    """Something in the register, and why it no longer counts."""

    id: Word
    because: Prose


class ResetAsked(Request):
    """A new one-time password asked for somebody, which a second person confirms: their key ends with it."""

    id: Word
    what: Literal["key_reset", "enabled"]
    because: Prose


class Reset(Reasoned):
    """Somebody's key ends and their next password gives them another; ``asked_by``: who asked, where a second confirmed."""

    asked_by: Word | None = None


class KeyGiven(Request):
    """A person's signing key by its name, the first 16 hex digits of the public key's SHA-256."""

    id: Word
    key: Word


class DeviceEnrolled(Request):
    """A tablet or phone: the short id that stands in every entry's name, and what people call it.

    ``typed_by``: who sat at it and typed the code, where another gave it.
    """

    id: Word
    name: Word
    typed_by: Word | None = None


class InstrumentCalibrated(Request):
    """A new calibration; what is left out stays as it was."""

    id: Word
    calibrated_on: Instant
    calibration_due: Instant
    certificate: Word | None = None
    tol_pct: Annotated[float, Quantity("Tolerance", "%", at_least=0, at_most=50)] | None = None
    tol: Annotated[float, Quantity("Tolerance", "", at_least=0, at_most=10000)] | None = None


class LotOpened(Request):
    """When a lot was opened."""

    id: Word
    opened_on: Instant


class ProcedureProposed(Request):
    """One revision of a procedure, whole, with the digest of its text and the reason."""

    id: Word
    edition: Word | None = None
    text: Annotated[str, StringConstraints(min_length=1, max_length=TEXT_MAX)]
    sha256: Word
    because: Prose


class ProcedureApproved(Request):
    """A second person approves exactly this text."""

    proposal: Word
    sha256: Word
BODIES: dict[str, type[Request]] = {
    "person.enrolled": PersonNamed,
    "person.changed": PersonNamed,
    "person.disabled": Reasoned,
    "person.enabled": Reset,
    "person.key_given": KeyGiven,
    "person.key_reset": Reset,
    "person.reset_asked": ResetAsked,
    "device.enrolled": DeviceEnrolled,
    "device.revoked": Reasoned,
    "instrument.listed": InstrumentListed,
    "instrument.calibrated": InstrumentCalibrated,
    "instrument.withdrawn": Reasoned,
    "lot.received": LotReceived,
    "lot.opened": LotOpened,
    "lot.withdrawn": Reasoned,
    "procedure.proposed": ProcedureProposed,
    "procedure.approved": ProcedureApproved,
    "procedure.withdrawn": Reasoned,
}
