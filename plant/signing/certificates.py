"""Building the certificates of a plant (X.509, RFC 5280): its authority, its own key, one for each person.

RSA, because signing a PDF with an elliptic key raises it to PDF 2.0, which PDF/A-3 does not allow. Every time
is the caller's: nothing here reads the clock.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID

AUTHORITY_BITS = 3072
SIGNER_BITS = 2048
LONGEST_NAME = 64  # RFC 5280, appendix A: ub-common-name, ub-organization-name, ub-title
BACKDATED = timedelta(days=1)  # a reader whose clock is a little behind still accepts what was signed at once


class Validity(NamedTuple):
    """From when until when a certificate holds (aware UTC, whole seconds)."""

    not_before: datetime
    not_after: datetime


def validity(now: datetime, valid_days: int) -> Validity:
    """Validity that starts a day before `now`. Raises ValueError for a time without zone or for no days."""
    if now.tzinfo is None:
        raise ValueError("now must carry its time zone.")
    if valid_days < 1:
        raise ValueError(f"A certificate is valid for at least one day, not {valid_days}.")
    start = now.astimezone(UTC).replace(microsecond=0)
    return Validity(start - BACKDATED, start + timedelta(days=valid_days))


def subject(common_name: str, plant_name: str, person_id: str = "", role: str = "") -> x509.Name:
    """A certificate's name: who (CN), of which plant (O), their number there and their role (title)."""
    parts = [
        (NameOID.ORGANIZATION_NAME, plant_name),
        (NameOID.COMMON_NAME, common_name),
        (NameOID.SERIAL_NUMBER, person_id),
        (NameOID.TITLE, role),
    ]
    return x509.Name([x509.NameAttribute(kind, _short(text)) for kind, text in parts if text.strip()])


def person_of(certificate: x509.Certificate) -> str:
    """The number of the person that a certificate was issued to; empty for the plant's own."""
    found = certificate.subject.get_attributes_for_oid(NameOID.SERIAL_NUMBER)
    return str(found[0].value) if found else ""


def _short(text: str) -> str:
    # Counted in UTF-8 bytes, as the library does; a letter cut in half is dropped.
    return " ".join(text.split()).encode()[:LONGEST_NAME].decode(errors="ignore").rstrip()


def authority_certificate(key: rsa.RSAPrivateKey, name: x509.Name, span: Validity) -> x509.Certificate:
    """The plant's own root: signs certificates and its list of revoked ones, nothing else."""
    return (
        _builder(name, name, key.public_key(), span)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(authority=True), critical=True)
        .sign(key, hashes.SHA256())
    )


def signer_certificate(
    public_key: rsa.RSAPublicKey,
    name: x509.Name,
    span: Validity,
    issuer: x509.Certificate,
    issuer_key: rsa.RSAPrivateKey,
) -> x509.Certificate:
    """A certificate for one signer. It ends no later than its issuer's."""
    span = Validity(span.not_before, min(span.not_after, issuer.not_valid_after_utc))
    return (
        _builder(name, issuer.subject, public_key, span)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(authority=False), critical=True)
        .add_extension(_issuer_identifier(issuer), critical=False)
        .sign(issuer_key, hashes.SHA256())
    )


def revocation_list(
    revoked: Iterable[x509.RevokedCertificate],
    issuer: x509.Certificate,
    issuer_key: rsa.RSAPrivateKey,
    now: datetime,
) -> x509.CertificateRevocationList:
    """A revocation list as of `now`. It stays current until another is written, so its next update is far."""
    builder = x509.CertificateRevocationListBuilder().issuer_name(issuer.subject)
    builder = builder.last_update(now).next_update(issuer.not_valid_after_utc)
    for entry in revoked:
        builder = builder.add_revoked_certificate(entry)
    return builder.add_extension(_issuer_identifier(issuer), critical=False).sign(issuer_key, hashes.SHA256())


def revoked_entry(serial: int, now: datetime) -> x509.RevokedCertificate:
    """One line of a revocation list: the person no longer signs for the plant."""
    reason = x509.CRLReason(x509.ReasonFlags.cessation_of_operation)
    return (
        x509.RevokedCertificateBuilder()
        .serial_number(serial)
        .revocation_date(now)
        .add_extension(reason, critical=False)
        .build()
    )


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of the certificate in hex: short enough to read out over a telephone."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def pem(certificate: x509.Certificate) -> str:
    """The certificate as PEM text."""
    return certificate.public_bytes(serialization.Encoding.PEM).decode("ascii")


def key_bytes(key: rsa.RSAPrivateKey, passphrase: bytes | None) -> bytes:
    """The private key as PKCS#8 PEM, encrypted when a passphrase is given."""
    encryption: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if passphrase:
        encryption = serialization.BestAvailableEncryption(passphrase)
    return key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, encryption)


def new_key(bits: int) -> rsa.RSAPrivateKey:
    """A new RSA key."""
    return rsa.generate_private_key(public_exponent=65537, key_size=bits)


def _builder(
    name: x509.Name, issuer: x509.Name, public_key: rsa.RSAPublicKey, span: Validity
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(span.not_before)
        .not_valid_after(span.not_after)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public_key), critical=False)
    )


def _issuer_identifier(issuer: x509.Certificate) -> x509.AuthorityKeyIdentifier:
    own = issuer.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    return x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(own)


def _usage(*, authority: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not authority,
        content_commitment=not authority,  # 'non-repudiation' in older texts
        key_cert_sign=authority,
        crl_sign=authority,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
