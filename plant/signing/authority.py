"""The plant's own signing authority: its root, the key that closes days, a key and certificate a person.

All of it lives in one folder outside database and web root, in every backup:

    authority.key.pem  authority.pem          the root: issues certificates and the list of revoked ones
    plant.key.pem      plant.pem              signs the head of the ledger when a day closes
    people/ID/current                         serial number (hex) of the person's certificate in use
    people/ID/SERIAL.key.pem  SERIAL.pem      every one ever issued: old signatures stay checkable
    revoked.pem                               the revocation list (RFC 5280)

Who can read this folder can sign as anyone in it; only the copies handed out earlier prove otherwise.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa

from plant.signing import certificates as certs
from plant.signing.key_files import (
    KeysError,
    KeysMissing,
    KeysPresent,
    locked,
    make_private_folder,
    read_private,
    require_private_tree,
    write_private,
)

AUTHORITY_DAYS = 30 * 365
PERSON_DAYS = 10 * 365

_PERSON_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_SERIAL = re.compile(r"[0-9a-f]{1,40}")
_FROM_BACKUP = "Restore the keys folder from the backup."


class NotUsable(KeysError):
    """A person's certificate is revoked, or does not hold at the time of signing."""


@dataclass(frozen=True)
class Issued:
    """A certificate as issued: what the entry of that act keeps. Nothing in it is secret."""

    serial: str  # hex
    pem: str
    fingerprint: str  # SHA-256, hex
    not_before: datetime
    not_after: datetime


@dataclass(frozen=True, repr=False)
class SigningMaterial:
    """What one signature takes: the private key (PEM, not encrypted), its certificate, those that vouch."""

    key_pem: bytes
    certificate_pem: str
    chain_pems: tuple[str, ...]

    @property
    def serial(self) -> str:
        """The certificate's serial number (hex): what the entry of the signature names."""
        return f"{x509.load_pem_x509_certificate(self.certificate_pem.encode()).serial_number:x}"


class Authority:
    """The keys of one plant. `create` once, `open` ever after."""

    def __init__(self, folder: Path, passphrase: bytes | None = None) -> None:
        self._folder = folder
        self._passphrase = passphrase
        self._root = self._certificate(folder / "authority.pem")

    @classmethod
    def create(cls, folder: Path, plant_name: str, now: datetime, passphrase: bytes | None = None) -> Authority:
        """Make the root, the plant's key and an empty revocation list.

        Raises KeysPresent when the folder already has a root, LooseKeys when others may enter it.
        """
        if not plant_name.strip():
            raise ValueError("The plant needs a name.")
        make_private_folder(folder)
        if (folder / "authority.pem").exists():
            raise KeysPresent(f"{folder} already holds the plant's keys. Open them, or name another folder.")
        make_private_folder(folder / "people")
        span = certs.validity(now, AUTHORITY_DAYS)
        root_key, plant_key = certs.new_key(certs.AUTHORITY_BITS), certs.new_key(certs.SIGNER_BITS)
        root_name = certs.subject("Record authority", plant_name)
        root = certs.authority_certificate(root_key, root_name, span)
        plant_subject = certs.subject("Closing of days", plant_name)
        plant = certs.signer_certificate(plant_key.public_key(), plant_subject, span, root, root_key)
        revoked = certs.revocation_list([], root, root_key, span.not_before)
        write_private(folder / "revoked.pem", revoked.public_bytes(serialization.Encoding.PEM))
        write_private(folder / "plant.key.pem", certs.key_bytes(plant_key, passphrase))
        write_private(folder / "plant.pem", certs.pem(plant).encode())
        write_private(folder / "authority.key.pem", certs.key_bytes(root_key, passphrase))
        # Last, for it marks the folder as complete.
        write_private(folder / "authority.pem", certs.pem(root).encode())
        return cls(folder, passphrase)

    @classmethod
    def open(cls, folder: Path, passphrase: bytes | None = None) -> Authority:
        """Open the keys of a plant. Raises KeysMissing, or LooseKeys when others may read any of it."""
        if not (folder / "authority.pem").exists():
            raise KeysMissing(f"{folder} holds no keys of a plant. Restore it from a backup, or create keys.")
        require_private_tree(folder)
        return cls(folder, passphrase)

    # --- the plant

    @property
    def root_pem(self) -> str:
        """The root certificate: what a stranger is given to trust."""
        return certs.pem(self._root)

    @property
    def plant_certificate_pem(self) -> str:
        """The certificate that checks the plant's signature of a head."""
        return certs.pem(self._certificate(self._folder / "plant.pem"))

    def sign_head(self, head: bytes) -> bytes:
        """Sign the canonical bytes of a head: RSA PKCS #1 v1.5 with SHA-256 (RFC 8017, 8.2).

        `openssl dgst -sha256 -verify KEY -signature FILE HEAD` checks it. Same head, same signature. Raises KeysError
        when the plant's certificate would not confirm it: a day that closed so could never be shown to be right.
        """
        signature = self._key(self._folder / "plant.key.pem").sign(head, padding.PKCS1v15(), hashes.SHA256())
        if not verify_head(head, signature, self.plant_certificate_pem):
            raise KeysError(f"{self._folder}: plant.key.pem and plant.pem are not of one pair. {_FROM_BACKUP}")
        return signature

    # --- people

    def issue_person(
        self, person_id: str, name: str, role: str, now: datetime, valid_days: int = PERSON_DAYS
    ) -> Issued:
        """Make a key and certificate for a person; it becomes the one in use. Earlier ones are kept.

        `person_id` is the person's number or UUID: letters, digits, - and _ only, else ValueError.
        """
        if not name.strip():
            raise ValueError("A certificate needs the person's name.")
        folder = self._person_folder(person_id)
        make_private_folder(folder)
        key = certs.new_key(certs.SIGNER_BITS)
        subject = certs.subject(name, self._plant_name, person_id, role)
        span = certs.validity(now, valid_days)
        certificate = certs.signer_certificate(key.public_key(), subject, span, self._root, self._root_key())
        issued = _issued(certificate)
        write_private(folder / f"{issued.serial}.key.pem", certs.key_bytes(key, self._passphrase))
        write_private(folder / f"{issued.serial}.pem", issued.pem.encode())
        write_private(folder / "current", issued.serial.encode())
        return issued

    def renew(self, person_id: str, name: str, role: str, now: datetime, valid_days: int = PERSON_DAYS) -> Issued:
        """Issue a new certificate with a new key to a person who has one; the old one is kept, not revoked.

        Raises KeysMissing for a person without a certificate.
        """
        self.certificate_pem(person_id)
        return self.issue_person(person_id, name, role, now, valid_days)

    def certificate_pem(self, person_id: str) -> str:
        """The certificate in use by a person. Raises KeysMissing when none was issued."""
        return certs.pem(self._certificate(self._current(person_id).with_suffix(".pem")))

    def issued_to(self, person_id: str) -> list[Issued]:
        """Every certificate ever issued to a person, the oldest first."""
        files = [p for p in self._person_folder(person_id).glob("*.pem") if not p.name.endswith(".key.pem")]
        issued = [_issued(self._certificate(path)) for path in files]
        return sorted(issued, key=lambda one: (one.not_before, one.serial))

    def material(self, person_id: str, at: datetime) -> SigningMaterial:
        """What a person's signature at that time takes.

        Call it only within an act that has just authenticated this person. Raises NotUsable when the
        certificate is revoked, not yet valid or expired at that time, or when it is another person's or its key
        another certificate's; KeysMissing when there is none.
        """
        path = self._current(person_id)
        certificate = self._certificate(path.with_suffix(".pem"))
        self._require_usable(certificate, at)
        opened = self._key(path.with_suffix(".key.pem"))
        if certs.person_of(certificate) != person_id or opened.public_key() != certificate.public_key():
            raise NotUsable(f"{path.with_suffix('.pem')} and its key are not of this person. {_FROM_BACKUP}")
        key = certs.key_bytes(opened, None) if self._passphrase else read_private(path.with_suffix(".key.pem"))
        return SigningMaterial(key, certs.pem(certificate), (self.root_pem,))

    # --- revocation

    def revoke(self, serial: str, now: datetime) -> None:
        """Put a certificate on the revocation list; again changes nothing. KeysMissing: never issued."""
        if not _SERIAL.fullmatch(serial) or not list(self._folder.glob(f"people/*/{serial}.pem")):
            raise KeysMissing(f"No certificate with the serial number {serial} was issued here.")
        if now.tzinfo is None:
            raise ValueError("now must carry its time zone.")
        with locked(self._folder):  # two at once must not lose one
            if self.revoked_at(serial) is not None:
                return
            entries = [*self._revocations(), certs.revoked_entry(int(serial, 16), now.astimezone(UTC))]
            updated = certs.revocation_list(entries, self._root, self._root_key(), now.astimezone(UTC))
            write_private(self._folder / "revoked.pem", updated.public_bytes(serialization.Encoding.PEM))

    def revoked_at(self, serial: str) -> datetime | None:
        """When a certificate was revoked (whole seconds), or None."""
        entry = self._revocations().get_revoked_certificate_by_serial_number(int(serial, 16))
        return entry.revocation_date_utc if entry else None

    @property
    def revoked_pem(self) -> str:
        """The revocation list as PEM text, for whoever checks signatures."""
        return read_private(self._folder / "revoked.pem").decode("ascii")

    # --- inside

    @property
    def _plant_name(self) -> str:
        value = self._root.subject.get_attributes_for_oid(x509.NameOID.ORGANIZATION_NAME)[0].value
        return value if isinstance(value, str) else value.decode()

    def _person_folder(self, person_id: str) -> Path:
        if not _PERSON_ID.fullmatch(person_id):
            raise ValueError(f"A person's id has letters, digits, - and _ only, not {person_id!r}.")
        return self._folder / "people" / person_id

    def _current(self, person_id: str) -> Path:
        marker = self._person_folder(person_id) / "current"
        if not marker.exists():
            raise KeysMissing(f"No certificate was issued to person {person_id}.")
        return marker.parent / read_private(marker).decode("ascii")

    def _require_usable(self, certificate: x509.Certificate, at: datetime) -> None:
        serial = f"{certificate.serial_number:x}"
        if (revoked := self.revoked_at(serial)) is not None:
            raise NotUsable(f"The certificate {serial} was revoked on {revoked:%Y-%m-%d}. Renew it to sign.")
        if not certificate.not_valid_before_utc <= at <= certificate.not_valid_after_utc:
            raise NotUsable(
                f"The certificate {serial} holds from {certificate.not_valid_before_utc:%Y-%m-%d} to "
                f"{certificate.not_valid_after_utc:%Y-%m-%d}, not on {at:%Y-%m-%d}. Renew it."
            )

    def _certificate(self, path: Path) -> x509.Certificate:
        return x509.load_pem_x509_certificate(read_private(path))

    def _root_key(self) -> rsa.RSAPrivateKey:
        return self._key(self._folder / "authority.key.pem")

    def _key(self, path: Path) -> rsa.RSAPrivateKey:
        try:
            key = serialization.load_pem_private_key(read_private(path), self._passphrase)
        except (TypeError, ValueError):
            raise KeysError(f"{path} does not open: its passphrase is missing, wrong or not needed") from None
        if not isinstance(key, rsa.RSAPrivateKey):
            raise KeysError(f"{path} is not an RSA key.")
        return key

    def _revocations(self) -> x509.CertificateRevocationList:
        return x509.load_pem_x509_crl(read_private(self._folder / "revoked.pem"))


def verify_head(head: bytes, signature: bytes, plant_certificate_pem: str) -> bool:
    """Whether the plant's certificate confirms this signature of these bytes. ValueError: not RSA."""
    key = x509.load_pem_x509_certificate(plant_certificate_pem.encode()).public_key()
    if not isinstance(key, rsa.RSAPublicKey):
        raise ValueError("The plant's certificate holds no RSA key.")
    try:
        key.verify(signature, head, padding.PKCS1v15(), hashes.SHA256())
    except InvalidSignature:
        return False
    return True


def _issued(certificate: x509.Certificate) -> Issued:
    return Issued(
        serial=f"{certificate.serial_number:x}",
        pem=certs.pem(certificate),
        fingerprint=certs.fingerprint(certificate),
        not_before=certificate.not_valid_before_utc,
        not_after=certificate.not_valid_after_utc,
    )
