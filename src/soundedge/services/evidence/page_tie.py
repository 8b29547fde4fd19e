"""Does this page belong to the record inside it, or was somebody else's record put into it?

A genuine record can be attached to any page. So a page counts only by something that covers its bytes:

    its signature     by a key that the checker has from elsewhere
    its proof         ``certificate.proof``: its digest in the shop's log, by the log's key from elsewhere
    the ledger        the digest that the shop's own ledger keeps of it (``--data``, and always at the bench)

A key that comes in the same file vouches for nothing: whoever made the page may have put it there.
"""

from __future__ import annotations

from hashlib import sha256

from ...basis.errors import RecordBroken
from ...basis.sentences import Sentence, say
from ...report.sign import SignatureCheck
from .newer_entries import Issued


def untied(
    raw: bytes, name: str, record_sha256: str, *, signature: SignatureCheck | None, by_proof: bool, issued: tuple[Issued, ...],
    key_named: bool,
) -> Sentence | None:
    """Why nothing shows that the page belongs to the record inside it; None when something does.

    Parameters
    ----------
    raw : bytes
        The whole file.
    record_sha256 : str
        The digest of the record inside; the record holds.
    signature : SignatureCheck, optional
        The page's signature, which holds; None for an unsigned page.
    by_proof : bool
        Whether a proof by a key from elsewhere names the file's digest.
    issued : tuple of Issued
        Every page of this job that the ledger at hand has issued.
    key_named : bool
        Whether the checker named a key.

    Raises
    ------
    RecordBroken
        The shop's pages can be told by what is at hand, and this is none of them.
    """
    if by_proof or sha256(raw).hexdigest() in {one.pdf_sha256 for one in issued}:
        return None
    vouched = signature is not None and signature.by_that_key is True
    if record_sha256 in {one.record_sha256 for one in issued} or (issued and not vouched):
        raise RecordBroken("page", say("evidence.page_never_issued", name=name,
                                       certificates=sorted({one.certificate for one in issued})))
    if vouched:
        return None
    if signature is not None:
        return say("evidence.page_signed_by_unknown", fingerprint=signature.fingerprint)
    if key_named:
        raise RecordBroken("page", say("evidence.page_unsigned", name=name))
    return say("evidence.page_tied_by_nothing")
