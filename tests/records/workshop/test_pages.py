"""The pages of the Workshop: what they show, who may use them, what a wrong form does, and that a form is kept once."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from plant.equipment.models import Instrument
from plant.people.models import Person
from records.ledger.models import Entry, FileKept
from records.people.models import PlantRevision
from records.workshop.keeping import standing
from records.workshop.models import (
    Calibration,
    EquipmentTest,
    HoldingTest,
    RegulatorNotice,
    SealAct,
    WorkDone,
)
from tests.conftest import INSTALLED, NOW, Plant
from tests.factories import PASSWORD, PIN
from tests.records.workshop.made import (
    HOUR,
    all_in_order,
    calibrated,
    equipment_tested,
    held,
    sealed,
    told,
    worked,
)
from tests.records.workshop.test_acts import milk_ran

Browser = Callable[[Person], Client]
PDF = b"%PDF-1.7 a report"


def local(moment: Any) -> str:
    """A moment as the page's field has it: on Chicago's clocks."""
    return str((moment - timedelta(hours=6)).strftime("%Y-%m-%dT%H:%M"))


def text(answer: Any) -> str:
    """What the page says."""
    return str(answer.content.decode())


def form(**given: str) -> dict[str, str]:
    """A form of the workshop with its own id."""
    return {"form_id": str(uuid.uuid4()), "at": local(NOW), **given}


def work_form(**changes: str) -> dict[str, str]:
    """An hour's work on the pump: its seal broken and renewed by the regulator, tools counted."""
    values = {
        "part": "timing pump", "what": "belt changed", "worker": "Piet Lomax", "started_at": local(NOW - HOUR),
        "broken_0": "114", "renewed_0": "115", "sealed_by": "state inspector", "by_regulator": "regulator",
        "opened": "no", "tools_before": "6", "tools_after": "6",
    }  # fmt: skip
    return form(**{**values, **changes})


def test_form(**changes: str) -> dict[str, str]:
    """Test 1, met."""
    values = {"test": "1", "results": "161.2 °F", "met": "yes", "by_regulator": "regulator", "tester": "inspector"}
    return form(**{**values, **changes})


test_form.__test__ = False  # type: ignore[attr-defined]


def holding_form(**changes: str) -> dict[str, str]:
    """The milk set-up, 16.2 s."""
    values = {
        "set_up": "press-1-milk", "medium": "water", "homogenizer": "running", "seconds": "16.2",
        "diverted": "", "tries": "16.2 16.4", "pump_rate": "1200", "pump_rate_unit": "gal/h",
        "by_regulator": "plant", "tester": "Piet Lomax",
    }  # fmt: skip
    return form(**{**values, **changes})


def seal_form(**changes: str) -> dict[str, str]:
    """The pump's seal set by the regulator."""
    values = {
        "seal_place": "timing pump", "what": "applied", "number": "114", "sealed_by": "inspector",
        "by_regulator": "regulator",
    }  # fmt: skip
    return form(**{**values, **changes})


def notice_form(**changes: str) -> dict[str, str]:
    """The regulator told by telephone."""
    values = {"what": "told", "told_by": "Wren Castell", "told_whom": "duty line", "how": "telephone", "answer": "wait"}
    return form(**{**values, **changes})


def calibration_form(**changes: str) -> dict[str, str]:
    """Silo A's thermometer 1.2 °F low, adjusted."""
    values = {
        "tester": "Piet Lomax", "reference": "R-1", "reference_u": "0.1", "reference_1": "40.0",
        "found_1": "38.8 38.8", "left_1": "40.0", "adjusted": "yes",
    }  # fmt: skip
    return form(**{**values, **changes})


FORMS: list[tuple[str, Callable[..., dict[str, str]], type[Any], dict[str, str], str]] = [
    ("/workshop/place/press-1/worked/", work_form, WorkDone, {"what": ""}, "what"),
    ("/workshop/place/press-1/test/", test_form, EquipmentTest, {"met": ""}, "met"),
    ("/workshop/place/press-1/holding-time/", holding_form, HoldingTest, {"seconds": "sixteen"}, "seconds"),
    ("/workshop/place/press-1/seal/", seal_form, SealAct, {"number": ""}, "number"),
    ("/workshop/instrument/T-04/calibration/", calibration_form, Calibration, {"found_1": "x"}, "found_1"),
]
each_form = pytest.mark.parametrize(("address", "make", "kind", "wrong", "field"), FORMS, ids=[one[0] for one in FORMS])


@each_form
def test_a_form_records_once_and_shows_the_entry(
    plant: Plant, client_for: Browser, address: str, make: Any, kind: Any, wrong: Any, field: str
) -> None:
    """The page opens, a double tap saves once, both answers lead to the entry's page, which says what was said."""
    client, values = client_for(plant.people.piet), make()
    assert client.get(address).status_code == 200
    first, second = client.post(address, values), client.post(address, values)
    rows = kind.objects.filter(form_id=values["form_id"])
    assert rows.count() == 1 and first.status_code == second.status_code == 302
    assert first.headers["Location"] == f"/workshop/entry/{rows.get().number}/" == second.headers["Location"]
    assert client.get(first.headers["Location"]).status_code == 200


@each_form
def test_what_makes_no_sense_stands_beside_its_field(
    plant: Plant, client_for: Browser, address: str, make: Any, kind: Any, wrong: Any, field: str
) -> None:
    """422, the field named, what was typed still there, nothing written."""
    client, before = client_for(plant.people.piet), Entry.objects.count()
    answer = client.post(address, make(**wrong, note="typed words"))
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert "typed words" in text(answer) and Entry.objects.count() == before


@each_form
def test_other_content_under_the_same_form_is_refused(
    plant: Plant, client_for: Browser, address: str, make: Any, kind: Any, wrong: Any, field: str
) -> None:
    """What was saved stands, with the way to it."""
    client, values = client_for(plant.people.piet), make()
    client.post(address, values)
    answer = client.post(address, values | {"note": "more"})
    assert answer.status_code == 422 and "Saved before as entry" in text(answer)
    assert kind.objects.filter(form_id=values["form_id"]).count() == 1


@each_form
def test_looking_changes_nothing(
    plant: Plant, client_for: Browser, address: str, make: Any, kind: Any, wrong: Any, field: str
) -> None:
    """GET writes no entry; whoever only reads is refused the form."""
    before = Entry.objects.count()
    client_for(plant.people.piet).get(address)
    assert client_for(plant.people.guest).get(address).status_code == 403
    assert client_for(plant.people.guest).post(address, make()).status_code == 403
    assert Entry.objects.count() == before


def test_an_operator_records_a_seal_and_no_work(plant: Plant, client_for: Browser) -> None:
    """Whoever sees a broken seal writes it down; work and tests are the workshop's."""
    client = client_for(plant.people.ines)
    assert client.get("/workshop/").status_code == 200
    assert client.post("/workshop/place/press-1/seal/", seal_form(what="found broken")).status_code == 302
    assert client.get("/workshop/place/press-1/worked/").status_code == 403
    page = text(client.get("/workshop/"))
    assert "/workshop/place/press-1/seal/" in page and "/workshop/place/press-1/worked/" not in page


def test_maintenance_begins_in_the_workshop(plant: Plant, client_for: Browser) -> None:
    """First in its navigation."""
    assert client_for(plant.people.piet).get("/", follow=True).redirect_chain[-1][0] == "/workshop/"


def test_the_workshop_says_what_stands_and_never_permits(plant: Plant, client_for: Browser) -> None:
    """With everything in order it says that nothing recorded stands against it, and that this is no permission."""
    page = text(client_for(plant.people.piet).get("/workshop/"))
    assert "Stands against forward flow" in page and "nothing says that it is whole" in page
    all_in_order(plant, NOW - timedelta(days=20))
    page = text(client_for(plant.people.guest).get("/workshop/"))
    assert "Nothing recorded stands against forward flow" in page and "not a permission" in page
    assert "16.2 s" in page and "2026-05-31" in page  # the end of the month due beside the stricter 2026-05-11


def test_until_the_regulator_is_told_the_page_says_what_the_rules_ask(plant: Plant, client_for: Browser) -> None:
    """Hours and clock, at once from memory, the form's day; then who told whom."""
    row = sealed(plant, what="found broken").row
    client = client_for(plant.people.wren)
    page = text(client.get("/workshop/"))
    assert "within 2 h, by 2026-03-03 11:30" in page and "at once" in page and "by 2026-03-10" in page
    assert "Nobody is recorded as having told the regulator yet." in page
    answer = client.post(f"/workshop/told/{row.number}/", notice_form())
    assert answer.status_code == 302 and RegulatorNotice.objects.get().subject_number == row.number
    page = text(client.get("/workshop/"))
    assert "Wren Castell told duty line" in page and "within 2 h" not in page and "by 2026-03-10" in page


def test_a_broken_seal_in_a_run_leads_to_its_deviation(plant: Plant, client_for: Browser) -> None:
    """From the entry's page to the deviation's, where the regulator may be told of it too."""
    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant)
    client = client_for(plant.people.ines)
    posted = seal_form(what="found broken", number="timing pump-1", sealed_by="", by_regulator="")
    answer = client.post("/workshop/place/press-1/seal/", posted, follow=True)
    number = answer.context["deviation"].number
    assert f"/deviations/{number}/" in text(answer)
    assert client.get(f"/deviations/{number}/").status_code == 200
    assert client.post(f"/workshop/told/{number}/", notice_form()).status_code == 302


@pytest.mark.parametrize("address", ["/workshop/told/1/", f"/workshop/told/{10**30}/", "/workshop/entry/1/"])
def test_what_is_no_such_entry_is_not_found(plant: Plant, client_for: Browser, address: str) -> None:
    """The first entry is the installation's."""
    assert client_for(plant.people.wren).get(address).status_code == 404


@pytest.mark.parametrize(
    "address",
    [
        "/workshop/place/nowhere/", "/workshop/place/silo-a/seal/", "/workshop/place/silo-a/holding-time/",
        "/workshop/place/nowhere/work/", "/workshop/instrument/T-99/calibration/",
    ],
)  # fmt: skip
def test_what_the_plan_does_not_know_is_not_found(plant: Plant, client_for: Browser, address: str) -> None:
    """Another plant's place, a seal where none is kept."""
    assert client_for(plant.people.piet).get(address).status_code == 404


@pytest.mark.parametrize("address", ["/workshop/", "/workshop/place/press-1/", "/workshop/place/press-1/worked/"])
def test_before_any_plan_the_pages_say_so(plant: Plant, client_for: Browser, address: str) -> None:
    """A plain page, not an error."""
    plant.at(INSTALLED + timedelta(minutes=30))
    assert client_for(plant.people.piet).get(address).status_code == 409


def test_a_places_page_tells_its_history(plant: Plant, client_for: Browser) -> None:
    """Newest first, what was amended struck through."""
    worked(plant, at=NOW - 2 * HOUR, what="old belt")
    row = worked(plant, at=NOW - HOUR, what="new belt")
    worked(plant, at=NOW - HOUR, what="new belt, size 3", amends=row.number, amend_reason="size")
    page = text(client_for(plant.people.guest).get("/workshop/place/press-1/"))
    assert page.index("new belt, size 3") < page.index("old belt") and 'class="struck"' in page


# --- amending


def signed(plant: Plant, first_name: str) -> dict[str, str]:
    """The two components of that person."""
    person: Person = getattr(plant.people, first_name)
    if first_name == "ines":
        return {"signer": str(person.id), "signer_secret": PIN}
    return {"signer": person.sign_in, "signer_secret": PASSWORD}


def made_rows(plant: Plant) -> list[Any]:
    """One entry of each kind, with what its amendment's form holds beside what the page fills in."""
    seal = sealed(plant, what="found broken").row
    return [
        worked(plant), equipment_tested(plant), held(plant).row, seal, told(plant, seal.number), calibrated(plant).row,
    ]  # fmt: skip


@pytest.mark.parametrize("index", range(6))
def test_an_entry_is_amended_from_its_own_form(plant: Plant, client_for: Browser, index: int) -> None:
    """The page has all that was recorded; with a reason and a signature it is kept anew, the old one struck."""
    row = made_rows(plant)[index]
    who = "wren" if index == 4 else "piet"
    client, address = client_for(getattr(plant.people, who)), f"/workshop/entry/{row.number}/amend/"
    page = client.get(address)
    filled = {name: _shown(page.context["form"][name]) for name in page.context["form"].fields if name != "report"}
    values = filled | {"note": "seen again", "amend_reason": "slip"} | signed(plant, who)
    wrong = client.post(address, values | {"signer_secret": "not it"})
    assert wrong.status_code == 422 and type(row).objects.filter(amends=row.number).count() == 0
    answer = client.post(address, values)
    new = type(row).objects.get(amends=row.number)
    assert answer.status_code == 302 and (new.note, new.amend_reason) == ("seen again", "slip")
    same = {one.name for one in row._meta.concrete_fields} - {
        "id", "number", "act", "received_at", "form_id", "note", "amends", "amend_reason", "number_known",
        "last_good_at", "by_id", "by_name", "by_initials", "by_role",
    }  # fmt: skip
    for name in sorted(same - {"observed_at", "started_at", "ended_at"}):
        assert getattr(new, name) == getattr(row, name), name
    assert 'class="lead struck"' in text(client.get(f"/workshop/entry/{row.number}/"))


def _shown(field: Any) -> str:
    value = field.value()
    if value is None or value is False:
        return ""
    return local(value) if hasattr(value, "tzinfo") else str(value)


def test_an_entry_that_did_not_happen_is_signed_away(plant: Plant, client_for: Browser) -> None:
    """With a reason; a second time it says that it was amended already."""
    row = worked(plant)
    client, address = client_for(plant.people.piet), f"/workshop/entry/{row.number}/did-not-happen/"
    shown = client.get(address).context["form"].initial["form_id"]
    values = {"form_id": str(shown), "amend_reason": "wrong press", **signed(plant, "piet")}
    assert client.post(address, values | {"amend_reason": ""}).status_code == 422
    assert client.post(address, values).status_code == 302
    assert not standing(WorkDone.objects.all()).exists()
    assert "amended already" in text(client.get(address, follow=True))


def test_another_persons_entry_is_a_supervisors_to_amend(plant: Plant, client_for: Browser) -> None:
    """An operator is sent back to the entry with the sentence."""
    row = worked(plant)
    answer = client_for(plant.people.ines).get(f"/workshop/entry/{row.number}/amend/", follow=True)
    assert "Only Piet Lomax or a supervisor can amend this." in text(answer)
    assert client_for(plant.people.wren).get(f"/workshop/entry/{row.number}/amend/").status_code == 200


# --- reports and calibrations


def test_a_report_is_kept_with_its_test_and_given_back(plant: Plant, client_for: Browser) -> None:
    """Byte for byte, under its hash; what is neither PDF nor picture is refused beside its field."""
    client, address = client_for(plant.people.piet), "/workshop/place/press-1/test/"
    wrong = SimpleUploadedFile("report.pdf", b"MZ not a pdf", "application/pdf")
    refused = client.post(address, test_form() | {"report": wrong})  # type: ignore[operator]
    assert refused.status_code == 422 and not FileKept.objects.filter(name="report.pdf").exists()
    right = SimpleUploadedFile("report.pdf", PDF, "application/pdf")
    assert client.post(address, test_form() | {"report": right}).status_code == 302  # type: ignore[operator]
    row = EquipmentTest.objects.get()
    answer = client_for(plant.people.guest).get(f"/workshop/entry/{row.number}/report/")
    assert answer.content == PDF and answer.headers["Content-Type"] == "application/pdf"
    assert FileKept.objects.get(sha256=row.report).name == "report.pdf"


def test_after_a_calibration_the_correction_and_the_due_day_are_revised_by_the_existing_act(
    plant: Plant, client_for: Browser
) -> None:
    """Proposed from what was left: 0.3 high asks for -0.3, a year for a tank's; signed, and kept as a revision."""
    calibrated(plant, points=(calibration_point("40.3"),))
    address = "/workshop/instrument/T-04/revise/"
    assert client_for(plant.people.piet).get(address).status_code == 403
    client = client_for(plant.people.odile)
    initial = client.get(address).context["form"].initial
    assert (initial["correction"], str(initial["calibration_due"])) == ("-0.3", "2027-03-03")
    values = {"correction": "-0.3", "calibration_due": "2027-03-03", "reason": "calibrated", **signed(plant, "odile")}
    assert client.post(address, values | {"correction": "x"}).status_code == 422
    assert client.post(address, values).status_code == 302
    tool = Instrument.objects.get(code="T-04")
    assert (tool.correction, str(tool.calibration_due)) == (Decimal("-0.3"), "2027-03-03")
    assert PlantRevision.objects.order_by("-number")[0].code == "T-04"


def calibration_point(left: str) -> Any:
    """A point at 40.0 °F with what was left."""
    from records.workshop.data import Point

    return Point(reference="40.0", found="38.8 38.8", left=left)


def test_at_a_pasteurizer_the_next_due_day_is_the_laws(plant: Plant, client_for: Browser) -> None:
    """Three months: La. 51 VII-313."""
    from records.workshop.data import Point

    good = (Point(reference="161.0", found="161.1 161.1"),)
    calibrated(plant, instrument="T-11", place="press-1", points=good, adjusted=False)
    initial = client_for(plant.people.odile).get("/workshop/instrument/T-11/revise/").context["form"].initial
    assert str(initial["calibration_due"]) == "2026-06-03"


def test_the_entry_of_a_calibration_lists_what_it_puts_in_doubt(plant: Plant, client_for: Browser) -> None:
    """With what each reading would be, and the caution on traces."""
    from tests.records.checks.made import fill_silo
    from tests.records.workshop.test_calibration import read_silo

    fill_silo(plant)
    read_silo(plant, "44.4", NOW - 2 * HOUR)
    saved = calibrated(plant)
    page = text(client_for(plant.people.guest).get(f"/workshop/entry/{saved.row.number}/"))
    assert "44.4 °F" in page and "met as read, not met as corrected" in page and "Traces" in page


def test_a_test_with_water_says_what_it_does_not_say_of_mix(plant: Plant, client_for: Browser) -> None:
    """Dickerson and others, J. Dairy Sci. 51(11):1731, 1968 (abstract): water overstated mix and cream."""
    from records.workshop.judging import cautions_of

    row = held(plant).row
    assert cautions_of(row) == []
    row.classes = ["milk", "mix"]
    assert "viscous" in cautions_of(row)[0]
    row.medium = "product"
    assert cautions_of(row) == []
