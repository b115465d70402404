"""Pages of deviations, corrections and held product: what they show, save, refuse and never do."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from plant import clock
from records.deviations import actions, holds, queries
from records.deviations.models import (
    Correction,
    CorrectiveAction,
    Deviation,
    DeviationClosing,
    Disposition,
    Hold,
    HoldLift,
)
from records.ledger import files
from records.ledger.actions import WATCH, act
from records.ledger.models import Entry
from records.people.plans import plan_in_force
from tests.conftest import Plant
from tests.records.deviations.made import (
    SCRIPT,
    answered,
    complete,
    disposed,
    filled,
    read,
    signed_by,
    the_hold,
    warm,
)
from tests.records.flow.made import made_ready, ran

Clients = Callable[..., Client]
LONG = "x" * 1_000_000
PDF = b"%PDF-1.4\n% a letter\n"


def text_of(answer: Any) -> str:
    """The page."""
    return str(answer.content.decode())


def part_body(part: str, text: str, **changes: str) -> dict[str, str]:
    """The form of one part."""
    return {f"{part}-text": text, f"{part}-form_id": str(uuid.uuid4())} | changes


def correction(plant: Plant, text: str = "Rinsed the boot bath.") -> Correction:
    """A minor matter put right by Ines."""
    row, _none = actions.record_correction(
        plant.actor("ines"), plan_in_force(clock.now()), subject_kind="reading", subject_number=1,
        control_point="pests", subject="traps", text=text, form_id=uuid.uuid4(),
    )  # fmt: skip
    return row


# --- the list


def test_the_list_says_where_what_since_when_which_product_and_what_is_missing(
    plant: Plant, client_for: Clients
) -> None:
    """One sentence with the lot that is held and each part that is missing."""
    found = warm(plant)
    page = text_of(client_for(plant.people.wren).get("/deviations/"))
    assert found.sentence[:30] in page and "Silo A" in page
    assert the_hold(found).lot_label in page
    assert all(str(words) in page for words in queries.PARTS.values())


def test_open_ones_are_listed_oldest_first_and_closed_ones_apart(plant: Plant, client_for: Clients) -> None:
    """A closed deviation leaves the open list and stands in the closed one and among all."""
    found = complete(plant)
    actions.close(plant.actor("wren"), found, "read")
    client, link = client_for(plant.people.wren), f'href="/deviations/{found.number}/"'
    assert link not in text_of(client.get("/deviations/"))
    for which in ("closed", "all"):
        assert link in text_of(client.get(f"/deviations/?show={which}"))


def test_a_long_list_has_pages(plant: Plant, client_for: Clients) -> None:
    """Twenty-five a page; what is no page is the nearest one."""
    for number in range(26):
        with act(WATCH) as a:
            found = actions.Cause("transition", 90_000 + number, clock.now(), f"matter {number}")
            actions.open_or_extend(
                a, in_force=None, control_point="x", subject=f"place-{number}", cause="missed", found=found,
                since_at=clock.now(),
            )  # fmt: skip
    client = client_for(plant.people.wren)
    first, last = text_of(client.get("/deviations/")), text_of(client.get("/deviations/?page=99999"))
    assert "matter 0" in first and "matter 25<" not in first
    assert "matter 25" in last
    assert client.get("/deviations/?page=<script>&show='").status_code == 200


# --- one deviation and its parts


def test_the_page_gives_causes_with_verdict_clause_and_numbers(plant: Plant, client_for: Clients) -> None:
    """The reading, its verdict in words, the clause, the plan's written action."""
    found = warm(plant)
    page = text_of(client_for(plant.people.guest).get(f"/deviations/{found.number}/"))
    for words in ("46.4", "out of limits", "plant rule, invented for the tests", "Cool the milk and find the cause."):
        assert words in page


def test_what_stands_against_closing_is_said_once_where_one_closes(plant: Plant, client_for: Clients) -> None:
    """After the forms, with no act while anything is missing; then the act, for whoever may close it."""
    found = warm(plant)
    address = f"/deviations/{found.number}/"
    closing = f'href="{address}close/"'
    page = text_of(client_for(plant.people.wren).get(address))
    held = f"a disposition with two signatures for {the_hold(found).lot_label}"
    assert page.count("Missing to close it") == page.count(held) == page.count('href="#closing"') == 1
    assert page.rindex("Write it down") < page.index('id="closing"') < page.index(held) < page.index("What happened")
    assert closing not in page

    answered(plant, found)
    disposed(plant, the_hold(found))
    page = text_of(client_for(plant.people.wren).get(address))
    assert "Missing to close it" not in page and page.index('id="closing"') < page.index(closing)
    assert closing not in text_of(client_for(plant.people.guest).get(address))


def test_who_took_one_of_its_readings_is_offered_no_closing(plant: Plant, client_for: Clients) -> None:
    """The page says that somebody else has to."""
    filled(plant)
    found = read(plant, "46.4", who="wren").deviation
    assert found is not None
    answered(plant, found)
    disposed(plant, the_hold(found))
    page = text_of(client_for(plant.people.wren).get(f"/deviations/{found.number}/"))
    assert "You took one of its readings" in page and f"/deviations/{found.number}/close/" not in page


def test_an_operator_writes_a_part_and_a_guest_cannot(plant: Plant, client_for: Clients) -> None:
    """Saved once under its form; the inspector gets 403."""
    found = warm(plant)
    address, body = f"/deviations/{found.number}/parts/problem/", part_body("problem", "Opened the valve.")
    assert client_for(plant.people.guest).post(address, body).status_code == 403
    client = client_for(plant.people.ines)
    for _ in range(2):
        assert client.post(address, body).status_code == 302
    assert [one.text for one in CorrectiveAction.objects.all()] == ["Opened the valve."]


def test_a_part_written_anew_strikes_the_old_one(plant: Plant, client_for: Clients) -> None:
    """Both are on the page."""
    found = warm(plant)
    client, address = client_for(plant.people.ines), f"/deviations/{found.number}/parts/problem/"
    client.post(address, part_body("problem", "Opened the wrong valve."))
    client.post(address, part_body("problem", "Opened the chilled water valve."))
    page = text_of(client.get(f"/deviations/{found.number}/"))
    assert '<span class="struck">Opened the wrong valve.</span>' in page
    assert "Opened the chilled water valve." in page


@pytest.mark.parametrize("text", ["", "   ", LONG, "a\0b"])
def test_a_part_that_cannot_be_kept_is_refused_with_what_was_typed(
    plant: Plant, client_for: Clients, text: str
) -> None:
    """422, a sentence, nothing written."""
    found = warm(plant)
    before = Entry.objects.count()
    answer = client_for(plant.people.ines).post(
        f"/deviations/{found.number}/parts/problem/", part_body("problem", text)
    )
    assert answer.status_code == 422 and Entry.objects.count() == before
    if text == LONG:
        assert text in text_of(answer)


def test_script_tags_are_shown_as_text(plant: Plant, client_for: Clients) -> None:
    """In parts, reasons and corrections, on every page that shows them."""
    found = warm(plant)
    for part in queries.parts_wanted(found):
        actions.write_part(plant.actor("ines"), found, part, SCRIPT, uuid.uuid4())
    holds.propose_disposition(plant.actor("wren"), the_hold(found), "destroy", SCRIPT)
    row = correction(plant, SCRIPT)
    client, number = client_for(plant.people.odile), the_hold(found).number
    for address in (
        "/deviations/", f"/deviations/{found.number}/", f"/deviations/{found.number}/close/", "/corrections/",
        f"/corrections/{row.number}/raise/", "/holds/", f"/holds/{number}/", f"/holds/{number}/second/",
    ):  # fmt: skip
        page = text_of(client.get(address))
        assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in text_of(client.get(f"/holds/{number}/"))


@pytest.mark.parametrize(
    "address",
    [
        "/deviations/{}/", "/deviations/{}/close/", "/deviations/{}/parts/problem/", "/corrections/{}/raise/",
        "/holds/{}/", "/holds/{}/disposition/", "/holds/{}/second/", "/letters/{}/", "/outages/{}/",
    ],
)  # fmt: skip
@pytest.mark.parametrize("number", [1, 10**30])
def test_a_foreign_number_is_not_found(plant: Plant, client_for: Clients, address: str, number: int) -> None:
    """Another record's number, or one that no ledger reaches."""
    client = client_for(plant.people.wren)
    assert client.get(address.format(number)).status_code == 404
    assert client.post(address.format(number), {"text": "x"}).status_code in (404, 405)  # a page that only shows


def test_a_part_that_is_none_is_not_found(plant: Plant, client_for: Clients) -> None:
    """'reanalysis' is not asked of what the plan foresaw."""
    found = warm(plant)
    client = client_for(plant.people.wren)
    for part in ("reanalysis", "anything"):
        answer = client.post(f"/deviations/{found.number}/parts/{part}/", part_body(part, "x"))
        assert answer.status_code == 404
    assert not CorrectiveAction.objects.exists()


# --- closing


def test_closing_takes_both_components_and_a_role(plant: Plant, client_for: Clients) -> None:
    """Operators get 403; a wrong password closes nothing; then it is closed and signed once."""
    found = complete(plant)
    address, body = f"/deviations/{found.number}/close/", {"text": "Read it all.", **signed_by(plant, "wren")}
    assert client_for(plant.people.ines).post(address, body).status_code == 403
    client = client_for(plant.people.wren)
    assert client.post(address, body | {"signer_secret": "not this"}).status_code == 422
    assert client.post(address, body | {"signer": "odile"}).status_code == 422
    assert not DeviationClosing.objects.exists()
    for _ in range(2):
        assert client.post(address, body).status_code == 302
    assert [one.by_id for one in DeviationClosing.objects.all()] == [plant.people.wren.id]


def test_what_is_missing_stands_on_the_closing_page_and_closes_nothing(plant: Plant, client_for: Clients) -> None:
    """GET names it; a post all the same is refused with the reasons."""
    found = warm(plant)
    address, client = f"/deviations/{found.number}/close/", client_for(plant.people.wren)
    page = text_of(client.get(address))
    assert str(queries.PARTS["recurrence"]) in page and "signer_secret" not in page
    answer = client.post(address, {"text": "x", **signed_by(plant, "wren")})
    assert answer.status_code == 422 and not DeviationClosing.objects.exists()


def test_silence_about_the_regulator_is_said_before_closing(plant: Plant, client_for: Clients) -> None:
    """At a CCP; once it is written the words are gone."""
    found = complete(plant)
    client, address = client_for(plant.people.wren), f"/deviations/{found.number}/close/"
    assert "telling the regulator" in text_of(client.get(address))
    actions.write_part(plant.actor("wren"), found, "regulator", "Called the inspector at 14:00.", uuid.uuid4())
    assert "telling the regulator" not in text_of(client.get(address))


# --- corrections


def test_a_correction_is_raised_once_and_signed(plant: Plant, client_for: Clients) -> None:
    """Reviewers only; again leads to the same deviation."""
    row = correction(plant)
    address, body = f"/corrections/{row.number}/raise/", {"why": "Third this month.", **signed_by(plant, "wren")}
    assert client_for(plant.people.ines).post(address, body).status_code == 403
    client = client_for(plant.people.wren)
    assert client.post(address, body | {"why": ""}).status_code == 422
    for _ in range(2):
        assert client.post(address, body).status_code == 302
    assert Deviation.objects.filter(raised_from=row.number).count() == 1


# --- held product


def test_nothing_is_chosen_beforehand_and_only_what_is_possible_is_offered(plant: Plant, client_for: Clients) -> None:
    """A hold that bars a release offers none, and says why."""
    hold = the_hold(warm(plant))
    with act(WATCH) as a:
        barred = holds.place_on_hold(
            a, lot=hold.lot, lot_label=hold.lot_label, vessel="silo-a", since_at=hold.since_at, reason="15 s missed",
            deviation=hold.deviation, bars_release="pasteurization",
        )  # fmt: skip
    page = text_of(client_for(plant.people.wren).get(f"/holds/{barred.number}/disposition/"))
    assert " checked" not in page
    assert 'value="release"' not in page and 'value="destroy"' in page
    assert "pasteurized again before it leaves" in page and "does not approve product" in page
    answer = client_for(plant.people.wren).post(
        f"/holds/{barred.number}/disposition/", {"what": "release", "reason": "x", **signed_by(plant, "wren")}
    )
    assert answer.status_code == 422 and not Disposition.objects.exists()


def test_a_hold_is_lifted_by_two_people(plant: Plant, client_for: Clients) -> None:
    """Wren proposes, cannot sign her own, Odile signs."""
    hold = the_hold(warm(plant))
    wren, odile = client_for(plant.people.wren), client_for(plant.people.odile)
    body = {"what": "release", "reason": "Cooled within the hour.", **signed_by(plant, "wren")}
    for _ in range(2):
        assert wren.post(f"/holds/{hold.number}/disposition/", body).status_code == 302
    said = Disposition.objects.get()
    address, second = f"/holds/{hold.number}/second/", {"disposition": str(said.number), "read": "on"}
    assert wren.post(address, second | signed_by(plant, "wren")).status_code == 422
    assert odile.post(address, {"disposition": str(said.number), **signed_by(plant, "odile")}).status_code == 422
    assert not HoldLift.objects.exists()
    for _ in range(2):
        assert odile.post(address, second | signed_by(plant, "odile")).status_code == 302
    assert HoldLift.objects.get().by_id == plant.people.odile.id


def test_operators_neither_propose_nor_sign(plant: Plant, client_for: Clients) -> None:
    """403 for both."""
    hold = the_hold(warm(plant))
    for what in ("disposition", "second"):
        assert client_for(plant.people.ines).post(f"/holds/{hold.number}/{what}/", {}).status_code == 403


def letter(data: bytes, name: str = "letter.pdf") -> SimpleUploadedFile:
    """A file as a browser sends it."""
    return SimpleUploadedFile(name, data, content_type="application/pdf")


def test_the_regulators_letter_is_kept_byte_for_byte(plant: Plant, client_for: Clients) -> None:
    """With the disposition; it comes down again as it went up."""
    hold = the_hold(warm(plant))
    body = {"what": "as the regulator wrote", "reason": "See the letter.", **signed_by(plant, "wren")}
    client = client_for(plant.people.wren)
    answer = client.post(f"/holds/{hold.number}/disposition/", {**body, "letter": letter(PDF, "../../etc/<b>.pdf")})
    assert answer.status_code == 302
    said = Disposition.objects.get()
    assert files.read(said.letter) == PDF
    down = client.get(f"/letters/{said.number}/")
    assert down.content == PDF and down.headers["Content-Type"] == "application/pdf"
    assert "attachment" in down.headers["Content-Disposition"] and ".." not in down.headers["Content-Disposition"]


@pytest.mark.parametrize("data", [b"<html><script>alert(1)</script>", b"MZ", b"%PDF-" + b"x" * (10 * 1024 * 1024)])
def test_a_file_that_is_no_letter_is_refused(plant: Plant, client_for: Clients, data: bytes) -> None:
    """By its first bytes, whatever its name says; and one that is too large."""
    hold = the_hold(warm(plant))
    before = Entry.objects.count()
    body = {"what": "as the regulator wrote", "reason": "See.", **signed_by(plant, "wren"), "letter": letter(data)}
    answer = client_for(plant.people.wren).post(f"/holds/{hold.number}/disposition/", body)
    assert answer.status_code == 422 and Entry.objects.count() == before


def test_as_the_regulator_wrote_without_a_letter_is_refused_beside_the_field(plant: Plant, client_for: Clients) -> None:
    """The reason typed is kept."""
    hold = the_hold(warm(plant))
    body = {"what": "as the regulator wrote", "reason": "They called.", **signed_by(plant, "wren")}
    answer = client_for(plant.people.wren).post(f"/holds/{hold.number}/disposition/", body)
    assert answer.status_code == 422 and "letter" in answer.context["form"].errors and "They called." in text_of(answer)


def test_a_lot_is_held_by_hand(plant: Plant, client_for: Clients) -> None:
    """By an operator, with a reason; a lot that is not in the plant is refused; twice is once."""
    filled(plant)
    before = set(Hold.objects.values_list("number", flat=True))
    client = client_for(plant.people.ines)
    key = client.get("/holds/new/").context["lots"][0][0]
    body = {"lot": key, "reach": "lot", "reason": "It smells of cabbage.", **signed_by(plant, "ines")}
    assert client.post("/holds/new/", body | {"lot": str(uuid.uuid4())}).status_code == 422
    assert client.post("/holds/new/", body | {"reason": ""}).status_code == 422
    for _ in range(2):
        assert client.post("/holds/new/", body).status_code == 302
    (made,) = Hold.objects.exclude(number__in=before)
    assert (str(made.lot), made.reason, made.deviation) == (key, "It smells of cabbage.", None)
    assert client_for(plant.people.guest).get("/holds/new/").status_code == 403


def test_the_hold_page_says_where_the_product_is_and_what_it_flowed_into(plant: Plant, client_for: Clients) -> None:
    """The silo now, and Finished 1 after a run."""
    found = warm(plant)
    made_ready(plant.actor("ines"), clock.now(), "press-1", "finished-1")
    plant.clock.on(hours=1)
    ran(plant.actor("ines"))
    page = text_of(client_for(plant.people.wren).get(f"/holds/{the_hold(found).number}/"))
    assert "Finished 1" in page and "flowed on" in page


def test_looking_changes_nothing(plant: Plant, client_for: Clients) -> None:
    """GET of every page, also of those that sign, writes no entry."""
    found = complete(plant)
    hold, row = the_hold(found), correction(plant)
    before = Entry.objects.count()
    client = client_for(plant.people.wren)
    for address in (
        "/deviations/", f"/deviations/{found.number}/", f"/deviations/{found.number}/close/",
        f"/deviations/{found.number}/parts/problem/", "/corrections/", f"/corrections/{row.number}/raise/", "/holds/",
        "/holds/new/", f"/holds/{hold.number}/", f"/holds/{hold.number}/disposition/", f"/holds/{hold.number}/second/",
        "/outages/", "/outages/new/", "/days/", "/days/2026-03-03/", "/days/2026-03-03/close/", "/hand-over/",
    ):  # fmt: skip
        assert client.get(address).status_code in (200, 302), address
    assert Entry.objects.count() == before


def test_second_signature_waits_on_the_first_page(plant: Plant, client_for: Clients) -> None:
    """The supervisor's first page names what lacks a second signature; signed, it is gone."""
    hold = the_hold(warm(plant))
    holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled.")
    client, words = client_for(plant.people.odile), "proposed by Wren Castell"
    assert words in text_of(client.get("/deviations/"))
    disposed(plant, hold)
    assert words not in text_of(client.get("/deviations/"))


def test_parts_written_are_not_missing_any_more(plant: Plant, client_for: Clients) -> None:
    """Only the product is."""
    found = warm(plant)
    answered(plant, found)
    missing = client_for(plant.people.wren).get(f"/deviations/{found.number}/").context["story"].missing
    assert len(missing) == 1 and "disposition" in missing[0]
