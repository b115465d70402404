"""The plant's signing keys, in KEYS_DIR, and the records of the certificates issued from them."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from django.conf import settings
from django.utils.translation import gettext as _

from plant.signing.authority import Authority, Issued
from plant.signing.key_files import KeysError
from records.ledger.actions import Act
from records.people.models import Certificate
from records.people.refused import Refused


def authority() -> Authority:
    """The plant's keys. Raises plant.signing.key_files.KeysMissing before the installation has begun."""
    return Authority.open(Path(settings.KEYS_DIR))


@contextmanager
def refused_by_keys() -> Iterator[None]:
    """Within it, what is wrong with the keys (expired, not yet valid, another person's) is a refusal for the page."""
    try:
        yield
    except KeysError as error:
        raise Refused(_("It could not be signed. %(why)s") % {"why": error}) from error


def write_issued(a: Act, issued: Issued, person_id: uuid.UUID | None = None, name: str = "") -> Certificate:
    """The record of a certificate issued to a person, or (without one) to the plant."""
    return a.write(
        Certificate(
            person_id=person_id,
            person_name=name,
            what="issued",
            serial=issued.serial,
            fingerprint=issued.fingerprint,
            pem=issued.pem,
            not_before=issued.not_before,
            not_after=issued.not_after,
        )
    )


def write_revoked(a: Act, serial: str) -> Certificate | None:
    """Revoke a certificate and keep the record of it; None when it was never issued here or is revoked already."""
    issued = Certificate.objects.filter(serial=serial, what="issued").first()
    if issued is None or Certificate.objects.filter(serial=serial, what="revoked").exists():
        return None
    row = Certificate(
        person_id=issued.person_id,
        person_name=issued.person_name,
        what="revoked",
        serial=serial,
        fingerprint=issued.fingerprint,
        pem=issued.pem,
        not_before=issued.not_before,
        not_after=issued.not_after,
    )
    written = a.write(row)
    # Last before the commit: the list may name a certificate whose record failed, never the other way round.
    authority().revoke(serial, a.now)
    return written


def read_certificate(pem: str) -> Issued:
    """What a certificate's PEM text says of itself."""
    certificate = x509.load_pem_x509_certificate(pem.encode())
    return Issued(
        serial=f"{certificate.serial_number:x}",
        pem=pem,
        fingerprint=certificate.fingerprint(hashes.SHA256()).hex(),
        not_before=certificate.not_valid_before_utc,
        not_after=certificate.not_valid_after_utc,
    )
