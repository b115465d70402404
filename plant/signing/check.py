"""Checking the signatures of a PDF against the plant's root certificate."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from asn1crypto import crl, pem, x509
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import ModificationLevel
from pyhanko.sign.validation import EmbeddedPdfSignature, SignatureCoverageLevel, async_validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from plant.signing.event_loop import complete


class UnreadablePdf(ValueError):
    """The file is no PDF, or so damaged that its signatures cannot be found."""


@dataclass(frozen=True)
class SignatureReport:
    """One signature, as found.

    `signed_at` is what the signature itself says: the plant's clock, no outside witness.
    """

    field_name: str
    signer: str
    signed_at: datetime | None
    reason: str
    unaltered: bool  # the signed bytes are those that were signed
    trusted: bool  # the certificate leads to the given root and held at signed_at
    covers: str  # 'whole file', 'its version' (a later version follows), 'part'
    later_changes: str  # 'none', 'signatures' or 'other'
    revoked_at: datetime | None = None
    problem: str = ""

    @property
    def good(self) -> bool:
        """Everything stands: bytes, certificate, coverage, and nothing after it but further signatures."""
        revoked_before = bool(self.revoked_at and self.signed_at and self.revoked_at <= self.signed_at)
        return (
            self.unaltered
            and self.trusted
            and self.covers != "part"
            and self.later_changes != "other"
            and not revoked_before
            and not self.problem
        )


def check_pdf(pdf: bytes, root_pem: str, revoked_pem: str = "") -> list[SignatureReport]:
    """A report for each signature, in the order of signing. An empty list: not signed, nothing proven.

    The certificate must have held at the time that the signature states. `revoked_pem`: the plant's
    revocation list. Nothing is fetched from anywhere. Raises UnreadablePdf.
    """
    root = x509.Certificate.load(pem.unarmor(root_pem.encode())[2])
    revoked = dict(_revocations(revoked_pem))
    try:
        signatures = list(PdfFileReader(io.BytesIO(pdf)).embedded_signatures)
    except Exception as error:  # a damaged file can fail anywhere in the parser
        raise UnreadablePdf(f"The file cannot be read as a PDF: {error}") from error
    return [_report(signature, root, revoked) for signature in signatures]


def _report(signature: EmbeddedPdfSignature, root: x509.Certificate, revoked: dict[int, datetime]) -> SignatureReport:
    try:
        return _examine(signature, root, revoked)
    except Exception as error:  # what an altered file makes the library say is as good as any other 'no'
        return SignatureReport(
            field_name=str(signature.field_name),
            signer="",
            signed_at=None,
            reason="",
            unaltered=False,
            trusted=False,
            covers="part",
            later_changes="other",
            problem=f"The signature cannot be read: {error}",
        )


def _examine(signature: EmbeddedPdfSignature, root: x509.Certificate, revoked: dict[int, datetime]) -> SignatureReport:
    signed_at = signature.self_reported_timestamp
    context = ValidationContext(
        trust_roots=[root], moment=signed_at, best_signature_time=signed_at, allow_fetching=False
    )
    status = complete(async_validate_pdf_signature(signature, signer_validation_context=context))
    certificate = signature.signer_cert
    return SignatureReport(
        field_name=str(signature.field_name),
        signer=str(certificate.subject.native.get("common_name", "")),
        signed_at=signed_at,
        reason=str(signature.sig_object.get("/Reason", "")),
        unaltered=bool(status.intact and status.valid),
        trusted=bool(status.trusted),
        covers=_COVERS.get(status.coverage, "part") if status.coverage else "part",
        later_changes=_changes(status.modification_level),
        revoked_at=revoked.get(certificate.serial_number),
        problem="" if signed_at else "The signature states no time.",
    )


_COVERS = {
    SignatureCoverageLevel.ENTIRE_FILE: "whole file",
    SignatureCoverageLevel.ENTIRE_REVISION: "its version",
}


def _changes(level: ModificationLevel | None) -> str:
    if level == ModificationLevel.NONE:
        return "none"
    return "signatures" if level and level <= ModificationLevel.FORM_FILLING else "other"


def _revocations(revoked_pem: str) -> Iterator[tuple[int, datetime]]:
    if not revoked_pem:
        return
    found = crl.CertificateList.load(pem.unarmor(revoked_pem.encode())[2])
    for entry in found["tbs_cert_list"]["revoked_certificates"].native or ():
        yield entry["user_certificate"], entry["revocation_date"]
