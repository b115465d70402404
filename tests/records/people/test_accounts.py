"""Acts on accounts: each writes its record once, and refuses with a sentence."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from plant.people.models import Person
from plant.signing.authority import NotUsable
from plant.signing.key_files import KeysPresent
from records.ledger.models import Entry, Installation
from records.people import actions
from records.people.actions import Refused
from records.people.keys import authority
from records.people.models import AccountAct, Certificate, Notice
from tests.conftest import NOW, People, Plant
from tests.factories import PASSWORD, PIN


def add(**changes: Any) -> Person:
    """A person as pages add them, with what a test changes."""
    given: dict[str, Any] = {
        "sign_in": "nilo",
        "name": "Nilo Marr",
        "initials": "NM",
        "email": "nilo@quillbrook.example",
        "language": "es",
        "roles": ["operator"],
    }
    return actions.add_person(actions.INSTALLER, **{**given, **changes})


def test_installation_is_the_first_entry(installed: People) -> None:
    """Entry 1 says which plant this is, and that it is an invented one."""
    first = Entry.objects.get(number=1)
    assert first.kind == "installation"
    assert Installation.objects.get().plant_name == "Quillbrook Creamery" and Installation.objects.get().invented


def test_second_installation_is_refused(installed: People) -> None:
    """A ledger begins once."""
    before = Entry.objects.count()
    with pytest.raises(Refused):
        actions.begin_installation("Another plant", invented=False)
    assert Entry.objects.count() == before


def test_installation_keeps_the_plants_own_certificates(installed: People) -> None:
    """Root and day-closing certificate are records, so that the ledger alone says what to trust."""
    pems = set(Certificate.objects.filter(person_id=None).values_list("pem", flat=True))
    assert pems == {authority().root_pem, authority().plant_certificate_pem}


def test_installation_uses_keys_that_are_there(db: None, quick_keys: None, settings: Any) -> None:
    """Keys restored from a backup are kept, never replaced."""
    from plant.signing.authority import Authority

    made = Authority.create(settings.KEYS_DIR, "Quillbrook Creamery", NOW)
    actions.begin_installation("Quillbrook Creamery", invented=True)
    assert authority().root_pem == made.root_pem
    with pytest.raises(KeysPresent):
        Authority.create(settings.KEYS_DIR, "Quillbrook Creamery", NOW)


def test_added_person_gets_a_certificate_of_their_own(installed: People) -> None:
    """The certificate's record is what the keys folder holds."""
    who = add()
    row = Certificate.objects.get(person_id=who.id)
    assert row.pem == authority().certificate_pem(str(who.id)) and row.serial == who.certificate_serial


def test_added_person_has_the_roles_and_their_records(installed: People) -> None:
    """Each act is an entry: added, role granted."""
    who = add()
    assert who.roles_at(NOW) == {"operator"}
    assert list(AccountAct.objects.filter(person_id=who.id).values_list("what", flat=True)) == ["added", "role granted"]


def test_no_secret_reaches_the_ledger(installed: People) -> None:
    """Neither PIN nor password, nor their hashes, are in any entry."""
    who = add(pin=PIN, password=PASSWORD)
    text = "".join(Entry.objects.values_list("content", flat=True))
    assert PIN not in text and PASSWORD not in text and who.pin_hash not in text and who.password not in text


def test_secrets_are_kept_with_argon2(installed: People) -> None:
    """argon2, for both."""
    who = add(pin=PIN, password=PASSWORD)
    assert who.pin_hash.startswith("argon2$argon2id$") and who.password.startswith("argon2$argon2id$")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"sign_in": "ines"}, "sign_in"),
        ({"initials": "IA"}, "initials"),
        ({"sign_in": ""}, "sign_in"),
        ({"name": ""}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\0b"}, "name"),
        ({"email": "no address"}, "email"),
        ({"roles": ["king"]}, "roles"),
        ({"roles": ["inspector"]}, "expires_at"),
        ({"roles": ["inspector", "operator"], "expires_at": NOW + timedelta(days=1)}, "roles"),
        ({"expires_at": NOW}, "expires_at"),
        ({"pin": "12345"}, "pin"),
        ({"pin": "111111"}, "pin"),
        ({"pin": "345678"}, "pin"),
        ({"pin": "987654"}, "pin"),
        ({"pin": "890123"}, "pin"),
        ({"pin": "48291a"}, "pin"),
        ({"pin": "٤٨٢٩١٣"}, "pin"),
        ({"password": "short"}, "password"),
        ({"password": "password1234"}, "password"),
        ({"password": "6" * 20}, "password"),
        ({"password": "x" * 201}, "password"),
    ],
)
def test_bad_person_is_refused_beside_the_field(installed: People, changes: dict[str, Any], field: str) -> None:
    """Nothing is written, and the refusal names the field."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        add(**changes)
    assert refused.value.field == field
    assert Entry.objects.count() == before and Person.objects.count() == 8


def test_person_without_a_secret_must_be_confirmed(installed: People) -> None:
    """Who chooses a PIN through a link signs nothing before a supervisor has confirmed who it is."""
    assert add().must_be_confirmed and not add(sign_in="b", initials="B", pin=PIN).must_be_confirmed


def test_granting_a_role_twice_writes_once(plant: Plant) -> None:
    """The role that is held already is given back."""
    first = actions.grant_role(plant.actor("admin"), plant.people.ines, "maintenance", "learns it")
    count = Entry.objects.count()
    assert actions.grant_role(plant.actor("admin"), plant.people.ines, "maintenance") == first
    assert Entry.objects.count() == count


def test_role_holds_from_its_grant_to_its_end(plant: Plant) -> None:
    """What somebody was allowed is answered for any moment."""
    actions.grant_role(plant.actor("admin"), plant.people.ines, "maintenance", "learns it")
    plant.clock.on(hours=1)
    actions.end_role(plant.actor("admin"), plant.people.ines, "maintenance", "learned it")
    ines = Person.objects.get(sign_in="ines")
    assert "maintenance" in ines.roles_at(NOW) and "maintenance" in ines.roles_at(NOW + timedelta(minutes=59))
    assert "maintenance" not in ines.roles_at(NOW - timedelta(seconds=1))
    assert "maintenance" not in ines.roles_at(NOW + timedelta(hours=1))


def test_ending_a_role_twice_writes_once(plant: Plant) -> None:
    """A role that is not held is not ended."""
    actions.end_role(plant.actor("admin"), plant.people.ines, "operator", "moves on")
    count = Entry.objects.count()
    assert actions.end_role(plant.actor("admin"), plant.people.ines, "operator", "moves on") is None
    assert Entry.objects.count() == count


def test_ending_a_role_takes_a_reason(plant: Plant) -> None:
    """No reason, no act."""
    with pytest.raises(Refused):
        actions.end_role(plant.actor("admin"), plant.people.ines, "operator", " ")


def test_last_administrator_stays(plant: Plant) -> None:
    """Else nobody could add people."""
    with pytest.raises(Refused, match="last administrator"):
        actions.end_role(plant.actor("wren"), plant.people.admin, "administrator", "moves on")


def test_inspector_gets_no_other_role(plant: Plant) -> None:
    """An inspector only reads."""
    with pytest.raises(Refused):
        actions.grant_role(plant.actor("admin"), plant.people.guest, "operator", "helps out")


def test_leaving_ends_roles_and_revokes_the_certificate(plant: Plant) -> None:
    """Who left holds no role and signs nothing; the certificate is on the revocation list and in the ledger."""
    ines = actions.leave(plant.actor("admin"), plant.people.ines, "moved away")
    assert not ines.is_active and not Person.objects.get(id=ines.id).roles_at(NOW + timedelta(seconds=1))
    assert authority().revoked_at(ines.certificate_serial) is not None
    with pytest.raises(NotUsable):
        authority().material(str(ines.id), NOW)
    assert Certificate.objects.get(person_id=ines.id, what="revoked").serial == ines.certificate_serial


def test_leaving_twice_writes_once(plant: Plant) -> None:
    """Again changes nothing."""
    actions.leave(plant.actor("admin"), plant.people.ines, "moved away")
    count = Entry.objects.count()
    actions.leave(plant.actor("admin"), plant.people.ines, "moved away")
    assert Entry.objects.count() == count


def test_renewed_certificate_leaves_the_old_one_valid(plant: Plant) -> None:
    """Old signatures stay checkable; nothing is revoked."""
    old = plant.people.ines.certificate_serial
    ines = actions.renew_certificate(plant.actor("admin"), plant.people.ines, "ten years old")
    assert ines.certificate_serial != old and authority().revoked_at(old) is None
    assert {one.serial for one in authority().issued_to(str(ines.id))} == {old, ines.certificate_serial}


def test_reset_takes_the_pin_and_tells_person_and_supervisor(plant: Plant) -> None:
    """Both are told by mail who did it; nobody is told a PIN."""
    actions.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    ines = Person.objects.get(sign_in="ines")
    assert ines.pin_hash == "" and ines.must_be_confirmed
    assert set(Notice.objects.values_list("to", flat=True)) == {
        "ines@quillbrook.example",
        "wren@quillbrook.example",
    }
    assert all(
        "Bram Quill reset the PIN of Ines Alder" in body for body in Notice.objects.values_list("body", flat=True)
    )


def test_reset_link_works_once(plant: Plant) -> None:
    """The person chooses a PIN; the link then opens nothing."""
    token = actions.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    actions.use_link(token, "739154")
    with pytest.raises(Refused):
        actions.use_link(token, "915473")


def test_reset_link_ends_after_a_day_and_by_a_newer_one(plant: Plant) -> None:
    """Old links open nothing."""
    first = actions.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    second = actions.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten again")
    with pytest.raises(Refused):
        actions.use_link(first, "739154")
    plant.clock.on(hours=25)
    with pytest.raises(Refused):
        actions.use_link(second, "739154")


@pytest.mark.parametrize("token", ["", "x", "a:b:c", "\0", "x" * 100_000])
def test_forged_link_opens_nothing(plant: Plant, token: str) -> None:
    """What we did not sign is refused with a sentence."""
    with pytest.raises(Refused):
        actions.use_link(token, "739154")


def test_confirming_takes_another_person_and_a_chosen_pin(plant: Plant) -> None:
    """Not before the PIN is set, not oneself; afterwards once."""
    token = actions.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    with pytest.raises(Refused, match="not set"):
        Person.objects.filter(sign_in="ines").update(password="!")
        actions.confirm_person(plant.actor("wren"), plant.people.ines, "known by sight")
    actions.use_link(token, "739154")
    with pytest.raises(Refused, match="themselves"):
        actions.confirm_person(plant.actor("ines"), plant.people.ines, "it is me")
    actions.confirm_person(plant.actor("wren"), plant.people.ines, "known by sight")
    count = Entry.objects.count()
    assert not actions.confirm_person(plant.actor("wren"), plant.people.ines, "known by sight").must_be_confirmed
    assert Entry.objects.count() == count


def test_unlocking_lets_the_person_try_again(plant: Plant) -> None:
    """A supervisor's signed act ends the lock; nothing locked, nothing written."""
    from records.people.components import check_pin

    for _ in range(5):
        assert not check_pin(plant.people.ines, "999111", plant.tablet)
    assert not check_pin(plant.people.ines, PIN, plant.tablet)
    row = actions.unlock(plant.actor("wren"), plant.people.ines, plant.tablet, "wet gloves")
    assert row is not None and row.by_name == "Wren Castell"
    assert check_pin(plant.people.ines, PIN, plant.tablet)
    assert actions.unlock(plant.actor("wren"), plant.people.ines, plant.tablet, "wet gloves") is None


def test_after_unlocking_five_more_lock_again(plant: Plant) -> None:
    """The tries before the unlocking do not count twice."""
    from records.people.components import check_pin

    for _ in range(5):
        check_pin(plant.people.ines, "999111", plant.tablet)
    actions.unlock(plant.actor("wren"), plant.people.ines, plant.tablet, "wet gloves")
    for _ in range(4):
        check_pin(plant.people.ines, "999111", plant.tablet)
    assert check_pin(plant.people.ines, PIN, plant.tablet)


def test_tablet_is_enrolled_once_and_keeps_no_token(plant: Plant) -> None:
    """The database holds the hash; a name is used once."""
    tablet, token = actions.enrol_tablet(plant.actor("admin"), "Tablet 2", "Cold room")
    assert token not in str(tablet.__dict__) and token not in "".join(Entry.objects.values_list("content", flat=True))
    with pytest.raises(Refused):
        actions.enrol_tablet(plant.actor("admin"), "Tablet 2")


def test_withdrawing_twice_writes_once(plant: Plant) -> None:
    """Again changes nothing."""
    actions.withdraw_tablet(plant.actor("admin"), plant.tablet)
    count = Entry.objects.count()
    assert actions.withdraw_tablet(plant.actor("admin"), plant.tablet).withdrawn_at == NOW
    assert Entry.objects.count() == count
