"""The Round as a browser meets it: the form, the save, what is asked next, and what is refused."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.checks.models import Reading, ReadingNote, RoundSigned
from records.checks.queries import due_between
from records.deviations.models import Correction, CorrectiveAction, Deviation
from tests.conftest import NOW, Plant
from tests.factories import PIN
from tests.records.checks.made import FILLED, fill_silo, read

ClientFor = Callable[..., Client]


@pytest.fixture
def ines(plant: Plant, client_for: ClientFor) -> Client:
    """Ines on the tablet, milk in the silo."""
    fill_silo(plant)
    return client_for(plant.people.ines)


def key_of(monitoring: str, subject: str = "silo-a") -> str:
    """The key of today's first check of a kind."""
    found = due_between(NOW - timedelta(hours=6), NOW + timedelta(hours=6), NOW, keys=[monitoring])
    return next(one.key for one in found if one.due.subject == subject)


def address(monitoring: str = "silo-shift", subject: str = "silo-a") -> str:
    """Where its form is."""
    return reverse("records:round-check", args=[key_of(monitoring, subject)])


def filled(typed: str = "38.4", **changes: Any) -> dict[str, Any]:
    """What a browser sends for the silo."""
    values = {"form_id": str(uuid.uuid4()), "typed": typed, "unit": "°F", "agitator_ran": "yes", "bulb_covered": "yes"}
    return {**values, **changes}


def text(response: HttpResponse) -> str:
    """The page's words, tags away."""
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def test_the_round_shows_the_first_check_that_waits(ines: Client) -> None:
    """The seals of the press have been late at a CCP for longest: they come first."""
    page = ines.get("/round/")
    assert page.status_code == 200 and "<title>Press 1" in page.content.decode()
    assert "Seals unbroken" in text(page)


def test_a_check_shows_vessel_limit_and_walk(ines: Client) -> None:
    """Vessel, contents by the book, unit, the gauge and the stops, the save act with the initials."""
    page = ines.get(address())
    for words in ("Silo A", "Raw milk, 2000 gal", "T-04", "limit 45", "act above 43", "Save, initials IA"):
        assert words in text(page) or words in page.content.decode()
    assert "I could not take it" in text(page)
    assert 'class="stop is-' in page.content.decode()


def test_nothing_is_answered_beforehand(ines: Client) -> None:
    """Number, agitator and bulb stand open."""
    html = ines.get(address()).content.decode()
    assert " checked" not in html
    assert re.search(r'name="typed"[^>]*value="[^"]+"', html) is None


def test_a_temperature_takes_three_taps_and_its_digits(ines: Client) -> None:
    """One submit with number, agitator and bulb saves and leads to the next check: three taps."""
    answer = ines.post(address(), filled())
    reading = Reading.objects.get()
    assert answer.status_code == 302 and answer.url == f"/round/?after={reading.number}"
    assert (reading.typed, reading.unit, reading.by_initials, reading.tablet) == ("38.4", "°F", "IA", "Tablet 1")
    assert reading.due_at == FILLED and reading.book_says.startswith("Raw milk")


def test_the_next_page_says_what_was_kept_and_asks_the_next_check(ines: Client) -> None:
    """The verdict of the last reading stands on the page of the next one."""
    after = ines.post(address(), filled(), follow=True)
    assert "Kept: Silo A" in text(after) and "in limits" in text(after)
    assert "38.4 °F at 09:30" in text(after)


def test_out_of_limits_asks_at_once_what_was_done(ines: Client) -> None:
    """The verdict, the plan's corrective action, the deviation and the question, after the number is kept."""
    answer = ines.post(address(), filled("46.4"))
    reading = Reading.objects.get()
    assert answer.url == reverse("records:reading-answer", args=[reading.number])
    page = ines.get(answer.url)
    for words in ("out of limits", "46.4 °F", "Cool the milk and find the cause.", "What was done at once?", "on hold"):
        assert words in text(page)
    assert "now 46.4" in text(page)


def test_the_corrective_action_is_a_record_of_its_own(ines: Client) -> None:
    """Saved once, however often it is tapped; then the round goes on."""
    ines.post(address(), filled("46.4"))
    where = reverse("records:reading-answer", args=[Reading.objects.get().number])
    said = {"form_id": str(uuid.uuid4()), "text": "Cooling water opened"}
    first, second = ines.post(where, said), ines.post(where, said)
    assert first.status_code == second.status_code == 302
    part = CorrectiveAction.objects.get()
    assert (part.part, part.text) == ("problem", "Cooling water opened")


def test_leaving_leaves_the_deviation_open(ines: Client) -> None:
    """Nothing is asked twice, nothing closes by itself."""
    ines.post(address(), filled("46.4"))
    ines.get("/round/")
    assert Deviation.objects.filter(cause="not met").count() == 1 and not CorrectiveAction.objects.exists()


def test_an_empty_corrective_action_is_refused(ines: Client) -> None:
    """A sentence beside the field, nothing written."""
    ines.post(address(), filled("46.4"))
    where = reverse("records:reading-answer", args=[Reading.objects.get().number])
    answer = ines.post(where, {"form_id": str(uuid.uuid4()), "text": " "})
    assert answer.status_code == 422 and "Write what was done." in text(answer)
    assert not CorrectiveAction.objects.exists()


def test_a_minor_miss_asks_for_a_correction(plant: Plant, client_for: ClientFor) -> None:
    """A trap with a catch: one line, kept as a correction."""
    plant.at(NOW - timedelta(days=1))  # Monday: the traps are due at 09:00
    tablet = client_for(plant.people.ines)
    found = due_between(plant.clock() - timedelta(hours=6), plant.clock(), plant.clock(), keys=["traps"])
    where = reverse("records:round-check", args=[found[0].key])
    answer = tablet.post(where, {"form_id": str(uuid.uuid4()), "place_3": "not ok", "all_rest": "ok"})
    reading = Reading.objects.get()
    assert reading.places["4"] == "not ok" and reading.places["20"] == "ok"
    done = tablet.post(answer.url, {"form_id": str(uuid.uuid4()), "text": "Trap emptied"})
    assert done.status_code == 302 and Correction.objects.get().text == "Trap emptied"


def test_places_without_an_answer_are_named(plant: Plant, client_for: ClientFor) -> None:
    """The rest is never answered by itself."""
    plant.at(NOW - timedelta(days=1))
    tablet = client_for(plant.people.ines)
    found = due_between(plant.clock() - timedelta(hours=6), plant.clock(), plant.clock(), keys=["traps"])
    where = reverse("records:round-check", args=[found[0].key])
    answer = tablet.post(where, {"form_id": str(uuid.uuid4()), "place_0": "ok"})
    assert answer.status_code == 422 and "Still open: 2, 3" in text(answer)
    assert not Reading.objects.exists()


def test_yes_and_no_are_two_big_buttons(ines: Client) -> None:
    """The seals of the press: yes saves."""
    where = address("press-seals", "press-1")
    page = ines.get(where).content.decode()
    assert page.count('type="radio" name="typed"') == 2 and "data-keypad" not in page
    assert ines.post(where, {"form_id": str(uuid.uuid4()), "typed": "yes"}).status_code == 302
    assert Reading.objects.get().typed == "yes"


def test_a_pair_has_two_big_fields(ines: Client) -> None:
    """Indicating and recording thermometer, read together."""
    where = address("press-thermometers", "press-1")
    assert ines.get(where).content.decode().count("data-big") == 2
    body = {"form_id": str(uuid.uuid4()), "typed": "164", "typed_second": "163.5", "unit": "°F"}
    assert ines.post(where, body).status_code == 302
    assert Reading.objects.get().typed_second == "163.5"


def test_celsius_is_kept_as_typed(ines: Client) -> None:
    """The unit switch keeps the number and unit that were typed."""
    ines.post(address(), filled("4.1", unit="°C"))
    reading = Reading.objects.get()
    assert (reading.typed, reading.unit) == ("4.1", "°C")


def test_i_could_not_take_it_is_an_answer(ines: Client) -> None:
    """A reason, kept as not proven; nobody invents a number."""
    where = f"{address()}?could_not=1"
    assert "Why could it not be taken?" in text(ines.get(where))
    answer = ines.post(where, {"form_id": str(uuid.uuid4()), "why": "instrument", "words": "display dark"})
    reading = Reading.objects.get()
    assert reading.not_taken == "The instrument does not work. display dark" and reading.value is None
    assert answer.url == reverse("records:reading-answer", args=[reading.number])
    assert "not proven" in text(ines.get(answer.url))


def test_not_taken_needs_a_reason(ines: Client) -> None:
    """Without one nothing is written; 'something else' needs words."""
    where = f"{address()}?could_not=1"
    empty = ines.post(where, {"form_id": str(uuid.uuid4())})
    other = ines.post(where, {"form_id": str(uuid.uuid4()), "why": "other"})
    assert empty.status_code == other.status_code == 422
    assert "Write why." in text(other) and not Reading.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"typed": ""}, "Enter a number."),
        ({"typed": "abc"}, "digits only"),
        ({"typed": "3..8"}, "more than one decimal mark"),
        ({"typed": "38,4"}, "not a comma: 38.4"),
        ({"typed": "3500"}, "3500 °F is outside what T-04 can show (0 to 212 °F)"),
        ({"typed": "-80"}, "-80 °F is outside what T-04 can show"),
        ({"typed": "38", "agitator_ran": ""}, "Choose one."),
        ({"typed": "38", "unit": "lb"}, "not on the list"),
        ({"typed": "38", "observed_at": "2026-03-03T10:30"}, "still to come"),
        ({"typed": "38", "observed_at": "yesterday"}, "Write date and time as"),
        ({"typed": "38", "observed_at": "2020-01-01T08:00"}, "No plan was in force"),
        ({"typed": "38", "note": "x" * 5000}, "longer than 4000 characters"),
        ({"typed": "38", "paper_form": "x" * 41}, "longer than 40 characters"),
        ({"typed": "38", "instrument": "T-99"}, "not on the list"),
        ({"typed": "38", "form_id": ""}, "out of date"),
        ({"typed": "38\x00"}, "Null characters are not allowed"),
    ],
)
def test_nonsense_is_refused_beside_its_field_and_kept_as_typed(
    ines: Client, changes: dict[str, str], sentence: str
) -> None:
    """A clear sentence, what was typed still there, nothing written."""
    answer = ines.post(address(), filled(**changes))
    assert answer.status_code == 422 and sentence in text(answer)
    assert not Reading.objects.exists()
    typed = changes.get("typed", "")
    if typed and "\x00" not in typed:
        assert f'value="{typed}"' in answer.content.decode()


def test_a_script_tag_is_text(ines: Client) -> None:
    """Shown as typed, never run."""
    ines.post(address(), filled(note="<script>alert(1)</script>"))
    page = ines.get(reverse("records:reading", args=[Reading.objects.get().number])).content.decode()
    assert "<script>alert(1)" not in page and "&lt;script&gt;alert(1)" in page


def test_a_megabyte_of_note_is_refused(ines: Client) -> None:
    """A sentence, no record, no crash."""
    answer = ines.post(address(), filled(note="x" * 1_000_000))
    assert answer.status_code == 422 and not Reading.objects.exists()


def test_a_double_tap_gives_one_record(ines: Client) -> None:
    """The second answer is the first one's."""
    body = filled()
    first, second = ines.post(address(), body), ines.post(address(), body)
    assert first.url == second.url and Reading.objects.count() == 1


def test_the_back_button_with_other_content_shows_what_was_saved(ines: Client) -> None:
    """Refused, the saved number shown, an amendment offered."""
    body, where = filled(), address()
    ines.post(where, body)
    answer = ines.post(where, {**body, "typed": "39.9"})
    reading = Reading.objects.get()
    assert answer.status_code == 422 and "38.4 °F. That stands." in text(answer)
    assert reverse("records:reading", args=[reading.number]) in answer.content.decode()


@pytest.mark.parametrize(
    "key",
    ["nonsense", "a|b|c|d", "silo-shift|silo-a||2026-03-03T12:00:00.000000",
     "silo-shift|silo-a||9999-12-31T23:59:59.999999Z",
     "other|silo-a||2026-03-03T12:00:00.000000Z", "silo-shift|finished-1||2026-03-03T12:00:00.000000Z"],
)  # fmt: skip
def test_a_foreign_check_is_a_plain_page(ines: Client, key: str) -> None:
    """Not found, nothing written."""
    where = reverse("records:round-check", args=[key])
    assert ines.get(where).status_code == 404
    assert ines.post(where, filled()).status_code == 404 and not Reading.objects.exists()


def test_a_stale_form_keeps_its_reading(ines: Client) -> None:
    """A due time that the plan no longer makes: the page says so, the reading is kept as unplanned."""
    where = reverse("records:round-check", args=["silo-shift|silo-a||2026-03-03T12:07:00.000000Z"])
    assert "asks for no such check now" in text(ines.get(where))
    assert ines.post(where, filled()).status_code == 302
    assert Reading.objects.get().due_at is None


def test_get_changes_nothing(ines: Client) -> None:
    """Looking writes no record."""
    for where in ("/round/", address(), f"{address()}?could_not=1", "/round/sign/", "/due/", "/readings/"):
        assert ines.get(where).status_code == 200
    assert not Reading.objects.exists() and not RoundSigned.objects.exists() and not ReadingNote.objects.exists()


def test_the_walk_shows_done_late_and_due_in_words(plant: Plant, ines: Client) -> None:
    """This shift's done checks stay with value and time; late says since when."""
    ines.post(address("press-seals", "press-1"), {"form_id": str(uuid.uuid4()), "typed": "yes"})
    words = text(ines.get("/round/"))
    assert "yes at 09:30" in words and "late since 06:30" in words
    assert "is-done" in ines.get("/round/").content.decode()


def test_a_late_reading_of_a_missed_check_says_so(plant: Plant, ines: Client) -> None:
    """The page says that the miss stands, and keeps what is read."""
    where = address()
    plant.at(NOW + timedelta(hours=4))  # 13:30: missed at the shift's end
    assert "the miss stands" in text(ines.get(where))
    ines.post(where, filled())
    assert Reading.objects.get().due_at == FILLED


def test_held_product_is_said_on_the_page(plant: Plant, ines: Client) -> None:
    """Whoever reads the silo again sees that it is on hold."""
    read(plant, "46.4")
    assert "The product in it is on hold." in text(ines.get(address()))


def test_the_qr_leads_to_the_vessels_first_check(plant: Plant, ines: Client) -> None:
    """To its form while one waits; to the vessel's page else; elsewhere not found."""
    assert ines.get("/at/silo-a/").url.startswith("/round/check/")
    assert ines.get("/at/finished-1/").url == reverse("records:vessel", args=["finished-1"])
    assert ines.get("/at/no-such-place/").status_code == 404


def test_the_pin_signs_the_round_once(plant: Plant, ines: Client) -> None:
    """One's own readings by number; a second tap signs nothing twice."""
    ines.post(address(), filled())
    assert "Silo A" in text(ines.get("/round/sign/"))
    said = {"signer": str(plant.people.ines.id), "signer_secret": PIN}
    first, _second = ines.post("/round/sign/", said), ines.post("/round/sign/", said)
    signed = RoundSigned.objects.get()
    assert first.status_code == 302 and signed.readings == [Reading.objects.get().number]
    assert (signed.shift, signed.by_initials) == ("early", "IA")


def test_a_wrong_pin_signs_nothing(plant: Plant, ines: Client) -> None:
    """The sentence stands beside the PIN."""
    ines.post(address(), filled())
    answer = ines.post("/round/sign/", {"signer": str(plant.people.ines.id), "signer_secret": "000000"})
    assert answer.status_code == 422 and not RoundSigned.objects.exists()


def test_nobody_signs_with_nothing_read(plant: Plant, ines: Client) -> None:
    """An empty round has no signature."""
    ines.post("/round/sign/", {"signer": str(plant.people.ines.id), "signer_secret": PIN})
    assert not RoundSigned.objects.exists()


def test_an_inspector_cannot_log(plant: Plant, client_for: ClientFor) -> None:
    """Read only: the form and its submit are refused."""
    guest = client_for(plant.people.guest)
    assert guest.get("/round/").status_code == 403
    assert guest.post("/readings/new/", {}).status_code == 403


def test_a_photo_is_kept_with_the_reading(ines: Client) -> None:
    """A PNG is kept and shown; a text file is refused in words."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    picture = b"\x89PNG\r\n\x1a\n" + b"invented"
    wrong = SimpleUploadedFile("paper.png", b"no picture", "image/png")
    refused = ines.post(address(), {**filled(), "photo": wrong})
    assert refused.status_code == 422 and "no photo that can be kept" in text(refused)
    ines.post(address(), {**filled(paper_form="A-17"), "photo": SimpleUploadedFile("paper.png", picture, "image/png")})
    reading = Reading.objects.get()
    shown = ines.get(reverse("records:reading-photo", args=[reading.number]))
    assert shown.content == picture and shown["Content-Type"] == "image/png"
    assert "copied from paper form no. A-17" in text(ines.get(reverse("records:reading", args=[reading.number])))
