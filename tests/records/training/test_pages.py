"""The pages of training: the matrix, the form that a cell opens, the record, its amendment, who may do what."""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from plant import clock
from records.ledger.models import FileKept
from records.review.models import DayClosing
from records.review.queries import changed_since, workers
from records.training.models import PersonTrained, Training
from tests.conftest import NOW, Plant
from tests.records.flow.test_end_and_amend import close_day
from tests.records.training.made import asked_for, trained

pytestmark = pytest.mark.django_db
PDF = b"%PDF-1.7\nmade up"


def body(plant: Plant, **changes: Any) -> dict[str, Any]:
    """What a browser posts for food hygiene of Ines Alder."""
    values: dict[str, Any] = {
        "form_id": str(uuid.uuid4()), "training": "hygiene", "topic": "", "people": [str(plant.people.ines.id)],
        "trained_on": "2026-03-02", "trainer": "Odile Marsh", "proven": "seen at work", "ends_on": "", "note": "",
    }  # fmt: skip
    return values | changes


def text(client: Client, address: str) -> str:
    """What a page says, without its markup."""
    page = client.get(address)
    assert page.status_code == 200
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode())))


def cells(client: Client, name: str) -> list[str]:
    """The cells of a person's row, each in words."""
    page = client.get(reverse("records:training")).content.decode()
    (row,) = [one for one in re.findall(r"<tr><th scope=\"row\">.*?</tr>", page, re.S) if f">{name}</a>" in one]
    return [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in re.findall(r"<td>(.*?)</td>", row, re.S)]


def test_one_tap_from_a_cell_to_the_record(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The empty cell's link opens the form with training and person chosen; afterwards the cell says until when."""
    asked_for(plant)
    wren = client_for(plant.people.wren)
    assert cells(wren, "Ines Alder")[0].startswith("nothing recorded Record")
    page = wren.get(reverse("records:training")).content.decode()
    (link,) = re.findall(r'href="([^"]*training=hygiene&amp;person=' + str(plant.people.ines.id) + ')"', page)
    form = wren.get(html.unescape(link)).content.decode()
    assert re.search(r'<option value="hygiene" selected', form)
    ticked = re.findall(r'<input[^>]*name="people"[^>]*checked[^>]*>', form)
    assert len(ticked) == 1 and str(plant.people.ines.id) in ticked[0]
    done = wren.post(html.unescape(link), body(plant), follow=True).content.decode()
    assert "Ines Alder (IA)" in done and "seen doing it at work" in done and "2026-03-02" in done
    assert "2027-03-02, by plan version 2" in done
    assert cells(wren, "Ines Alder")[0] == "in date 2026-03-02 until 2027-03-02"
    assert cells(wren, "Odile Marsh")[0] == "not asked"
    assert "Bram Quill" not in wren.get(reverse("records:training")).content.decode()  # nothing is asked of him


def test_overdue_and_due_soon_are_words_with_a_mark(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Never colour alone; due soon is listed above with its day; an operator sees it and may not record."""
    asked_for(plant)
    trained(plant, "ines", trained_on=date(2025, 3, 2))
    trained(plant, "tomas", trained_on=date(2025, 3, 20))
    ines = client_for(plant.people.ines)
    assert cells(ines, "Ines Alder")[0] == "overdue 2025-03-02 until 2026-03-02"
    page = ines.get(reverse("records:training")).content.decode()
    overdue = page.split("overdue</strong>")[0].rsplit("<span", 1)[1]
    assert "<svg" in overdue and 'aria-hidden="true"' in overdue
    said = text(ines, reverse("records:training"))
    assert "One training is overdue." in said and "Of 4 that the plan asks for nothing is recorded." in said
    assert re.search(r"Due within 30 days .*Tomas Reed , Food hygiene: counts until 2026-03-20", said)
    assert reverse("records:training-new") not in page
    assert not re.search(r"\b(safe|approved|cleared|fit for)\b", said)


def test_nonsense_stays_beside_its_field_and_nothing_is_saved(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """What was typed stands again, every person that was ticked too."""
    asked_for(plant)
    wren = client_for(plant.people.wren)
    people = [str(plant.people.ines.id), str(plant.people.tomas.id)]
    typed = body(plant, trained_on="last week", trainer="", people=people, proven="", training="", note="<b>rain</b>")
    page = wren.post(reverse("records:training-new"), typed)
    said = page.content.decode()
    assert page.status_code == 422 and not Training.objects.exists()
    assert "Write the day as 2026-03-03." in said and 'value="last week"' in said and "Choose one." in said
    assert "Write which training it was, or choose one above." in said and "&lt;b&gt;rain&lt;/b&gt;" in said
    assert len(re.findall(r'<input[^>]*name="people"[^>]*checked', said)) == 2
    later = (NOW + timedelta(days=1)).date().isoformat()
    page = wren.post(reverse("records:training-new"), body(plant, trained_on=later))
    assert "This day is still to come" in page.content.decode()
    page = wren.post(reverse("records:training-new"), body(plant, people=[]))
    assert "Tick at least one person." in page.content.decode()
    page = wren.post(reverse("records:training-new"), body(plant, people=[str(uuid.uuid4())]))
    assert "not in the book" in page.content.decode()
    page = wren.post(reverse("records:training-new"), body(plant, topic="Juggling"))
    assert "A training is chosen above." in page.content.decode() and not Training.objects.exists()


def test_a_repeat_writes_once_and_other_content_says_what_stands(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """The double tap, and the back button."""
    asked_for(plant)
    wren = client_for(plant.people.wren)
    typed = body(plant)
    wren.post(reverse("records:training-new"), typed)
    plant.at(NOW + timedelta(minutes=3))
    assert wren.post(reverse("records:training-new"), typed).status_code == 302
    again = wren.post(reverse("records:training-new"), {**typed, "trainer": "Nobody"})
    assert again.status_code == 422 and "saved before with other content" in again.content.decode()
    assert Training.objects.count() == 1 and PersonTrained.objects.count() == 1


def test_the_certificate_is_kept_and_given_back_and_an_amendment_keeps_it(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """A PDF by its bytes; a text that calls itself one is refused; amending without a new file keeps the old."""
    asked_for(plant)
    wren = client_for(plant.people.wren)
    bad = SimpleUploadedFile("paper.pdf", b"hello", "application/pdf")
    page = wren.post(reverse("records:training-new"), body(plant, certificate=bad))
    assert "neither a PDF nor a JPEG" in page.content.decode()
    wren.post(reverse("records:training-new"), body(plant, certificate=SimpleUploadedFile("list.pdf", PDF)))
    row = Training.objects.get()
    assert FileKept.objects.get(sha256=row.certificate).mime == "application/pdf"
    given = wren.get(reverse("records:training-certificate", args=[row.number]))
    assert b"".join(given.streaming_content) == PDF
    amend = reverse("records:training-amend", args=[row.number])
    form = wren.get(amend).content.decode()
    assert 'value="Odile Marsh"' in form and re.search(r'value="hygiene" selected', form)
    everybody = [str(plant.people.ines.id), str(plant.people.tomas.id)]
    changed = body(plant, people=everybody, reason="Tomas was there too")
    page = wren.post(amend, changed, follow=True).content.decode()
    later = Training.objects.get(amends=row.number)
    assert "Tomas was there too" in page and later.certificate == row.certificate
    assert later.observed_at == row.observed_at and len(later.people) == 2
    old = text(wren, reverse("records:training-entry", args=[row.number]))
    assert "Amended: Tomas was there too" in old and f"entry {later.number}" in old
    gone = wren.post(
        reverse("records:training-amend", args=[later.number]),
        body(plant, people=everybody, reason="not held", void="on"), follow=True,
    )  # fmt: skip
    assert "It did not happen: not held" in text(wren, gone.redirect_chain[-1][0])
    assert cells(wren, "Tomas Reed")[0].startswith("nothing recorded")


def test_who_may_what(plant: Plant, client_for: Callable[..., Client]) -> None:
    """A supervisor and the qualified individual record; everybody but the administrator reads; GET writes nothing."""
    asked_for(plant)
    number = trained(plant).number
    new, amend = reverse("records:training-new"), reverse("records:training-amend", args=[number])
    reads = [
        reverse("records:training"), reverse("records:training-entry", args=[number]),
        reverse("records:training-person", args=[plant.people.ines.id]),
    ]  # fmt: skip
    for name in ("ines", "hanne", "piet", "guest"):
        client = client_for(getattr(plant.people, name))
        assert [client.get(one).status_code for one in reads] == [200, 200, 200], name
        assert client.post(new, body(plant)).status_code == 403 and client.post(amend, {}).status_code == 403, name
    admin = client_for(plant.people.admin)
    assert {admin.get(one).status_code for one in reads} == {403}
    odile = client_for(plant.people.odile)
    assert odile.get(new).status_code == odile.get(amend).status_code == 200 and Training.objects.count() == 1
    assert odile.post(new, body(plant)).status_code == 302


def test_after_the_day_is_closed_somebody_else_amends(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Until then one's own; afterwards the page and the act refuse, and the qualified individual may."""
    asked_for(plant)
    row = trained(plant)
    amend = reverse("records:training-amend", args=[row.number])
    entry = reverse("records:training-entry", args=[row.number])
    wren, odile = client_for(plant.people.wren), client_for(plant.people.odile)
    assert amend in wren.get(entry).content.decode()
    close_day(plant)
    assert amend not in wren.get(entry).content.decode() and amend in odile.get(entry).content.decode()
    refused = wren.post(amend, body(plant, reason="another day"))
    assert refused.status_code == 422 and "somebody else has to amend" in refused.content.decode()
    assert odile.post(amend, body(plant, reason="another day", trained_on="2026-03-01")).status_code == 302
    (closing,) = DayClosing.objects.all()
    assert [one.KIND for one in changed_since(closing, clock.now())] == ["training"]


def test_a_training_is_of_the_day_and_none_of_its_work(plant: Plant) -> None:
    """Whoever recorded one may still review the day."""
    asked_for(plant)
    trained(plant)
    assert workers(NOW.date(), clock.now()) == set()


def test_a_persons_page_has_what_is_asked_and_all_that_is_recorded(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """First aid is on it too; the page of people leads to it for those who may read it, and not the administrator."""
    asked_for(plant)
    trained(plant, "tomas", training="", topic="First <aid>")
    trained(plant, "tomas")
    wren = client_for(plant.people.wren)
    address = reverse("records:training-person", args=[plant.people.tomas.id])
    said = text(wren, address)
    assert "First <aid>" in said and "Running the pasteurizer every 24 months, the plant's own" in said
    assert "in date 2026-03-02 until 2027-03-02" in said and "nothing recorded Record" in said
    person = reverse("records:person", args=[plant.people.tomas.id])
    assert address in wren.get(person).content.decode()
    assert address not in client_for(plant.people.admin).get(person).content.decode()
    assert wren.get(reverse("records:training-person", args=[uuid.uuid4()])).status_code == 404


def test_a_plan_that_names_none_still_keeps_what_is_held(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The small plan asks for nothing."""
    wren = client_for(plant.people.wren)
    assert "The plan in force names no training." in text(wren, reverse("records:training"))
    wren.post(reverse("records:training-new"), body(plant, training="", topic="First aid"))
    assert "First aid" in text(wren, reverse("records:training"))
    assert Training.objects.get().received_at == clock.now()


def test_the_matrix_asks_few_queries(
    plant: Plant, client_for: Callable[..., Client], django_assert_max_num_queries: Any
) -> None:
    """However many trainings there were."""
    asked_for(plant)
    for month in range(1, 13):
        trained(plant, "ines", "tomas", trained_on=date(2025, month, 1))
    ines = client_for(plant.people.ines)
    with django_assert_max_num_queries(25):
        ines.get(reverse("records:training"))
