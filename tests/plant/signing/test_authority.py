"""The plant's own authority: what it issues, keeps, refuses."""

from __future__ import annotations

import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from plant.signing.authority import Authority, NotUsable, verify_head
from plant.signing.key_files import KeysError, KeysMissing, KeysPresent, LooseKeys

NOW = datetime(2026, 3, 2, 11, 0, tzinfo=UTC)
HEAD = b'{"day":"2026-03-02","plant":"Quillbrook Creamery"}'


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    return Authority.create(tmp_path / "keys", "Quillbrook Creamery", NOW)


def openssl(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["openssl", *arguments], capture_output=True, text=True, check=False)


def test_every_key_file_belongs_to_its_owner_alone(authority: Authority, tmp_path: Path) -> None:
    """Folders are made with mode 700 and files with 600."""
    authority.issue_person("7", "Ines Alder", "operator", NOW)
    everything = [tmp_path / "keys", *(tmp_path / "keys").rglob("*")]
    modes = {stat.S_IMODE(path.stat().st_mode) for path in everything if path.is_file()}
    folders = {stat.S_IMODE(path.stat().st_mode) for path in everything if path.is_dir()}
    assert (modes, folders) == ({0o600}, {0o700})


def test_a_key_file_open_to_others_is_refused_with_the_line_that_repairs_it(
    authority: Authority, tmp_path: Path
) -> None:
    """Opening stops at a file that the group may read, and says chmod 600."""
    (tmp_path / "keys" / "plant.key.pem").chmod(0o640)
    with pytest.raises(LooseKeys, match="chmod 600 .*plant.key.pem"):
        Authority.open(tmp_path / "keys")


def test_a_keys_folder_open_to_others_is_refused(authority: Authority, tmp_path: Path) -> None:
    """Opening stops at a folder that others may enter, and says chmod 700."""
    (tmp_path / "keys").chmod(0o755)
    with pytest.raises(LooseKeys, match="chmod 700"):
        Authority.open(tmp_path / "keys")


def test_keys_are_not_made_in_a_folder_open_to_others(tmp_path: Path) -> None:
    """Creating refuses a folder that exists with a looser mode."""
    (tmp_path / "keys").mkdir(mode=0o755)
    with pytest.raises(LooseKeys):
        Authority.create(tmp_path / "keys", "Quillbrook Creamery", NOW)


def test_keys_are_never_made_twice(authority: Authority, tmp_path: Path) -> None:
    """Creating over existing keys is refused: they vouch for what was signed."""
    with pytest.raises(KeysPresent):
        Authority.create(tmp_path / "keys", "Quillbrook Creamery", NOW)


def test_an_empty_folder_has_no_keys_to_open(tmp_path: Path) -> None:
    """Opening a folder without keys says so."""
    with pytest.raises(KeysMissing, match="backup"):
        Authority.open(tmp_path)


def test_the_plants_signature_of_a_head_is_confirmed(authority: Authority) -> None:
    """The plant's certificate confirms the bytes it signed, and no others."""
    signature = authority.sign_head(HEAD)
    assert verify_head(HEAD, signature, authority.plant_certificate_pem)
    assert not verify_head(HEAD + b" ", signature, authority.plant_certificate_pem)
    assert not verify_head(HEAD, signature[:-1] + bytes([signature[-1] ^ 1]), authority.plant_certificate_pem)


def test_another_plants_certificate_does_not_confirm_a_head(authority: Authority, tmp_path: Path) -> None:
    """A signature stands only with the certificate of the key that made it."""
    other = Authority.create(tmp_path / "other", "Otra Lechería", NOW)
    assert not verify_head(HEAD, authority.sign_head(HEAD), other.plant_certificate_pem)


def test_openssl_confirms_the_plants_signature_of_a_head(authority: Authority, tmp_path: Path) -> None:
    """Plain openssl, which knows nothing of this project, confirms head and signature."""
    (tmp_path / "head").write_bytes(HEAD)
    (tmp_path / "sig").write_bytes(authority.sign_head(HEAD))
    (tmp_path / "cert").write_text(authority.plant_certificate_pem)
    public = openssl("x509", "-in", str(tmp_path / "cert"), "-pubkey", "-noout").stdout
    (tmp_path / "pub").write_text(public)
    command = ["dgst", "-sha256", "-verify", str(tmp_path / "pub"), "-signature", str(tmp_path / "sig")]
    assert openssl(*command, str(tmp_path / "head")).stdout.strip() == "Verified OK"
    (tmp_path / "head").write_bytes(HEAD.replace(b"02", b"03"))
    assert openssl(*command, str(tmp_path / "head")).returncode != 0


def test_openssl_follows_a_persons_certificate_to_the_root(authority: Authority, tmp_path: Path) -> None:
    """The chain person → root holds for openssl at the demo's time, in strict mode."""
    issued = authority.issue_person("7", "Ines Alder", "operator", NOW)
    (tmp_path / "root").write_text(authority.root_pem)
    (tmp_path / "person").write_text(issued.pem)
    at = str(int(NOW.timestamp()))
    done = openssl("verify", "-x509_strict", "-attime", at, "-CAfile", str(tmp_path / "root"), str(tmp_path / "person"))
    assert done.stdout.strip().endswith("OK"), done.stderr


def test_a_certificate_names_the_person_the_plant_and_the_role(authority: Authority) -> None:
    """Name, plant, number in the plant and role stand in the certificate's subject."""
    issued = authority.issue_person("a1b2-c3", "Wren Castell", "supervisor", NOW)
    subject = x509.load_pem_x509_certificate(issued.pem.encode()).subject.rfc4514_string()
    for part in ("CN=Wren Castell", "O=Quillbrook Creamery", "supervisor", "a1b2-c3"):
        assert part in subject


def test_a_certificate_holds_from_a_day_before_the_given_time(authority: Authority) -> None:
    """Validity comes from the argument, never from the machine's clock."""
    issued = authority.issue_person("7", "Ines Alder", "operator", NOW, valid_days=30)
    assert (issued.not_before, issued.not_after) == (NOW - timedelta(days=1), NOW + timedelta(days=30))


def test_no_certificate_outlives_the_root(authority: Authority) -> None:
    """A validity longer than the root's is cut to it."""
    root = x509.load_pem_x509_certificate(authority.root_pem.encode())
    issued = authority.issue_person("7", "Ines Alder", "operator", NOW, valid_days=50 * 365)
    assert issued.not_after == root.not_valid_after_utc


def test_a_very_long_name_still_gets_a_certificate(authority: Authority) -> None:
    """A certificate has room for 64 bytes of a name; the rest is cut, never within a letter."""
    issued = authority.issue_person("7", "x" + "Ñ" * 150, "operator", NOW)
    name = x509.load_pem_x509_certificate(issued.pem.encode()).subject.get_attributes_for_oid(x509.NameOID.COMMON_NAME)
    assert name[0].value == "x" + "Ñ" * 31


def test_renewal_gives_a_new_key_and_keeps_the_old_certificate(authority: Authority) -> None:
    """After renewal the new certificate is in use and both are on file."""
    first = authority.issue_person("7", "Ines Alder", "operator", NOW)
    second = authority.renew("7", "Ines Alder", "operator", NOW + timedelta(days=300))
    assert authority.certificate_pem("7") == second.pem
    assert [one.serial for one in authority.issued_to("7")] == [first.serial, second.serial]
    assert authority.material("7", NOW + timedelta(days=300)).serial == second.serial


def test_renewal_needs_a_certificate_to_renew(authority: Authority) -> None:
    """A person without a certificate is issued one, not renewed."""
    with pytest.raises(KeysMissing, match="No certificate was issued to person 8"):
        authority.renew("8", "Tomas Reed", "operator", NOW)


def test_a_revoked_certificate_signs_nothing_more(authority: Authority) -> None:
    """Leaving revokes: no signing material comes out afterwards."""
    issued = authority.issue_person("7", "Ines Alder", "operator", NOW)
    authority.revoke(issued.serial, NOW)
    assert authority.revoked_at(issued.serial) == NOW
    with pytest.raises(NotUsable, match="revoked"):
        authority.material("7", NOW)


def test_revoking_again_keeps_the_first_time(authority: Authority) -> None:
    """The revocation list names each certificate once, with the first time."""
    issued = authority.issue_person("7", "Ines Alder", "operator", NOW)
    authority.revoke(issued.serial, NOW)
    authority.revoke(issued.serial, NOW + timedelta(days=5))
    assert len(x509.load_pem_x509_crl(authority.revoked_pem.encode())) == 1
    assert authority.revoked_at(issued.serial) == NOW


def test_the_revocation_list_is_signed_by_the_root(authority: Authority) -> None:
    """A stranger can check the list with the root certificate."""
    authority.revoke(authority.issue_person("7", "Ines Alder", "operator", NOW).serial, NOW)
    root_key = x509.load_pem_x509_certificate(authority.root_pem.encode()).public_key()
    assert x509.load_pem_x509_crl(authority.revoked_pem.encode()).is_signature_valid(root_key)  # type: ignore[arg-type]


def test_an_unknown_serial_number_cannot_be_revoked(authority: Authority) -> None:
    """A slip in the number is told, not taken as done; a pattern is no number."""
    authority.issue_person("7", "Ines Alder", "operator", NOW)
    for serial in ("abc123", "*", "../../authority"):
        with pytest.raises(KeysMissing):
            authority.revoke(serial, NOW)


def test_an_expired_certificate_signs_nothing(authority: Authority) -> None:
    """Past its end a certificate has to be renewed first."""
    authority.issue_person("7", "Ines Alder", "operator", NOW, valid_days=10)
    with pytest.raises(NotUsable, match="Renew"):
        authority.material("7", NOW + timedelta(days=11))


@pytest.mark.parametrize("person_id", ["../7", "", "a/b", ".hidden", "7\n"])
def test_a_person_id_cannot_leave_the_keys_folder(authority: Authority, person_id: str) -> None:
    """Only letters, digits, - and _ make a folder's name."""
    with pytest.raises(ValueError, match="person's id"):
        authority.issue_person(person_id, "Ines Alder", "operator", NOW)


def test_a_time_without_zone_is_refused(authority: Authority) -> None:
    """A naive time could be hours off."""
    with pytest.raises(ValueError, match="time zone"):
        authority.issue_person("7", "Ines Alder", "operator", NOW.replace(tzinfo=None))


def test_a_passphrase_keeps_the_keys_shut(tmp_path: Path) -> None:
    """Keys made with a passphrase sign only when it is given."""
    Authority.create(tmp_path / "keys", "Quillbrook Creamery", NOW, passphrase=b"three small calves")
    assert Authority.open(tmp_path / "keys", b"three small calves").sign_head(HEAD)
    with pytest.raises(KeysError, match="passphrase"):
        Authority.open(tmp_path / "keys", b"two").sign_head(HEAD)
    assert b"ENCRYPTED" in (tmp_path / "keys" / "authority.key.pem").read_bytes()


def test_signing_material_never_shows_its_key_in_a_log(authority: Authority) -> None:
    """Printing the material does not print the key."""
    authority.issue_person("7", "Ines Alder", "operator", NOW)
    assert "PRIVATE" not in repr(authority.material("7", NOW))
