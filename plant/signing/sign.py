"""Signing a PDF: PAdES baseline B-B (ETSI EN 319 142-1), one incremental update for each signature.

The first signer's bytes stay as they are under the second's. The PDF stays 1.7 and keeps declaring
PDF/A-3b. There is no time stamp from outside (that would be B-T): the time is the plant's own, and whoever
checks is told so.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from asn1crypto import keys, pem, x509
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import SigFieldSpec, SigSeedSubFilter, enumerate_sig_fields
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, SimpleSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko_certvalidator.registry import SimpleCertificateStore

from plant.signing.appearance import signature_look
from plant.signing.authority import SigningMaterial
from plant.signing.event_loop import complete

# Room for the signature, in hex digits: about 3 kB of it is used. An estimate would mean signing twice.
RESERVED = 12_288


class CannotSign(ValueError):
    """The field is missing or already signed; the message says which."""


@dataclass(frozen=True)
class NewField:
    """Where to put a signature field that the document lacks: page (0 first, -1 last), box in points."""

    page: int
    box: tuple[int, int, int, int]  # left, bottom, right, top, from the lower left corner


def sign_pdf(
    pdf: bytes,
    material: SigningMaterial,
    *,
    name: str,
    role: str,
    reason: str,
    at: datetime,
    field_name: str,
    static_dir: Path,
    lines: Sequence[str] = (),
    new_field: NewField | None = None,
) -> bytes:
    """Sign a PDF in a field, as that person, in that role, with that meaning, at that time.

    `field_name`: an empty field made by render_pdf, or a new one at `new_field`.
    `lines`: the visible text (in the page's language and the plant's time), the first one bold; by default
    name, role, meaning and the time in UTC.

    Raises CannotSign when the field is signed already, or is not there and no place was given;
    DoesNotFit (appearance) when the lines are too long for the box; ValueError for a time without zone.
    """
    if at.tzinfo is None:
        raise ValueError("at must carry its time zone.")
    at = at.replace(microsecond=0)
    writer = _Writer(io.BytesIO(pdf))
    box = _box(writer, field_name, new_field)
    shown = lines or (name, role, reason, f"{at.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC")
    signer = _Signer(
        PdfSignatureMetadata(
            field_name=field_name,
            md_algorithm="sha256",
            name=name,
            reason=f"{role}: {reason}",
            subfilter=SigSeedSubFilter.PADES,
        ),
        _key_and_chain(material),
        stamp_style=signature_look(shown, box[2] - box[0], box[3] - box[1], static_dir),
        new_field_spec=_specification(field_name, new_field),
    )
    signer.at = at
    output = io.BytesIO()
    complete(
        signer.async_sign_pdf(writer, existing_fields_only=new_field is None, bytes_reserved=RESERVED, output=output)
    )
    return output.getvalue()


def _specification(field_name: str, new_field: NewField | None) -> SigFieldSpec | None:
    if new_field is None:
        return None
    return SigFieldSpec(field_name, on_page=new_field.page, box=new_field.box)


def _box(writer: Any, field_name: str, new_field: NewField | None) -> tuple[float, float, float, float]:
    fields = {name: (signed, ref.get_object()) for name, signed, ref in enumerate_sig_fields(writer.prev)}
    if field_name not in fields:
        if new_field is None:
            raise CannotSign(f"The document has no signature field {field_name!r}.")
        return new_field.box
    signed, field = fields[field_name]
    if signed is not None:
        raise CannotSign(f"The field {field_name!r} is signed already.")
    left, bottom, right, top = (float(value) for value in field["/Rect"])
    return left, bottom, right, top


def _key_and_chain(material: SigningMaterial) -> SimpleSigner:
    store = SimpleCertificateStore()  # type: ignore[no-untyped-call]  # the library's own gap
    store.register_multiple(_certificate(text) for text in material.chain_pems)
    return SimpleSigner(
        signing_cert=_certificate(material.certificate_pem),
        signing_key=keys.PrivateKeyInfo.load(pem.unarmor(material.key_pem)[2]),
        cert_registry=store,
    )


def _certificate(text: str) -> x509.Certificate:
    return x509.Certificate.load(pem.unarmor(text.encode())[2])


class _Signer(PdfSigner):
    """Signs at a given time instead of the machine's."""

    at: datetime

    def init_signing_session(self, *args: Any, **kwargs: Any) -> PdfSigningSession:
        session = super().init_signing_session(*args, **kwargs)
        session.system_time = self.at
        return session


class _Writer(IncrementalPdfFileWriter):
    """Leaves the document's own metadata as rendered.

    The library would date them by the machine's clock and let Info and XMP name different producers, which
    PDF/A does not want. When and by whom it was signed stands in the signature.
    """

    def _update_meta(self) -> None:
        pass
