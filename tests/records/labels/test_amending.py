"""Amendments on a filling line: a successor names the old one, who, when and why; both show; what ran is looked at."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from records.deviations.models import DeviationCause, Hold
from records.flow.errors import DifferentContent
from records.labels import queries
from records.labels.actions import check_clearance, clear_line, count_packaging, open_packaging, void
from records.labels.data import CountedData
from records.labels.keeping import Refused
from records.labels.models import NONE, OFF, STILL, THINGS, LineClearance, OfLine, PackagingCounted, PackagingOpened
from records.lots.models import Lot
from records.reports.filled import filling
from tests.conftest import Plant
from tests.factories import PIN
from tests.records.freezer_runs.test_pages import local, text
from tests.records.labels.made import at, clearing, looked, made_clear, opened, opening, packed, ready_plant
from tests.records.labels.test_pages import send

pytestmark = pytest.mark.django_db


def counting(row: PackagingOpened, used: str = "900", returned: str = "90", **changes: object) -> CountedData:
    """A count of it at NOW + 1 h: ten damaged."""
    return CountedData(uuid.uuid4(), row.number, at(60), used, returned, "10", **changes)  # type: ignore[arg-type]


def why(number: int) -> dict[str, object]:
    """An amendment of that entry."""
    return {"amends": number, "amend_reason": "a slip of the finger"}


def holds_by(row: OfLine) -> int:
    """How many holds stand on the deviations that a record opened or joined."""
    led = DeviationCause.objects.filter(cause_number=row.number).values_list("deviation", flat=True)
    return Hold.objects.filter(deviation__in=list(led)).count()


def test_who_may_amend_what(plant: Plant) -> None:
    """One's own; another's only a supervisor; once; with a reason; the same form again is the same record."""
    ready_plant(plant)
    ines, tomas, wren = (plant.actor(one) for one in ("ines", "tomas", "wren"))
    row = opened(ines)
    for by, said, sentence in (
        (tomas, why(row.number), "or a supervisor can amend"), (ines, {"amends": row.number}, "Write why"),
        (ines, {**why(row.number), "place": "press-1"}, "no such filling line"), (ines, why(10**9), "no such entry"),
    ):  # fmt: skip
        with pytest.raises(Refused, match=sentence):
            open_packaging(by, opening(**said))
    form = opening(issued="1200", **why(row.number))
    new = open_packaging(wren, form)
    assert open_packaging(wren, form) == new and (new.amends, new.issued, new.by_name) == (row.number, 1200, wren.name)
    with pytest.raises(DifferentContent):
        open_packaging(wren, opening(form_id=form.form_id, issued="1300", **why(row.number)))
    with pytest.raises(Refused, match="amended already"):
        open_packaging(ines, opening(**why(row.number)))
    gone = void(wren, new.number, uuid.uuid4(), "there was no such roll")
    with pytest.raises(Refused, match="amended already"):
        open_packaging(wren, opening(**why(gone.number)))
    assert queries.on_the_line("filler", at(60)) == []


def test_a_clearance_amended(plant: Plant) -> None:
    """A corrected number keeps the second look; another answer needs a new one, and what ran since is held."""
    ready_plant(plant)
    ines, tomas = plant.actor("ines"), plant.actor("tomas")
    first = clear_line(ines, clearing(at=at(46)))
    check = check_clearance(tomas, looked(first, at=at(47)))
    ran = packed(ines, minutes=50)
    more = clear_line(ines, clearing(at=at(46), counts={"labels": "13"}, **why(first.number)))
    assert queries.last_check(more) == check and holds_by(more) == 0
    other = dict.fromkeys(THINGS, NONE) | {"labels": OFF, "lids": STILL}
    worse = clear_line(ines, clearing(at=at(46), answers=other, **why(more.number)))
    assert queries.last_check(worse) is None and holds_by(worse) == 1
    assert Hold.objects.get().lot == ran.target_lot
    better = clear_line(ines, clearing(at=at(46), **why(worse.number)))
    assert Hold.objects.count() == 1 and holds_by(better) == 0  # nothing is released by it, and nothing is new
    with pytest.raises(Refused, match="another one than who cleared"):
        check_clearance(ines, looked(better, **why(check.number)))


def test_a_check_amended_or_gone(plant: Plant) -> None:
    """'Not clear', said later, reaches what was filled since; so does a check that did not happen."""
    for how in ("no", "void"):
        ready_plant(plant) if how == "no" else None
        ines, tomas = plant.actor("ines"), plant.actor("tomas")
        minute = 46 if how == "no" else 53
        cleared = clear_line(ines, clearing("oat-milk" if how == "void" else "whole-milk", at=at(minute)))
        check = check_clearance(tomas, looked(cleared, at=at(minute)))
        product = "oat-milk" if how == "void" else "whole-milk"
        ran = packed(ines, "finished-1", product, minutes=minute + 1, lasting=1)
        before = Hold.objects.count()
        if how == "no":
            said = looked(cleared, at=at(minute), agrees=False, note="a lid of nuts", **why(check.number))
            amended: OfLine = check_clearance(tomas, said)
        else:
            amended = void(tomas, check.number, uuid.uuid4(), "it was another line")
        assert Hold.objects.count() == before + 1 and Hold.objects.latest("number").lot == ran.target_lot, how
        assert DeviationCause.objects.filter(cause_number=amended.number).exists()


def test_a_roll_amended(plant: Plant) -> None:
    """Printed for another product after all: what ran is held. Its count goes on with it, and fixes code and issue."""
    ready_plant(plant)
    made_clear(plant)
    ines = plant.actor("ines")
    row = opened(ines, at=at(48))
    ran = packed(ines, minutes=60, lasting=0, code="WM 1")
    lot = Lot.objects.get(id=ran.target_lot)
    wrong = open_packaging(ines, opening(at=at(48), printed="nut-milk", used=True, **why(row.number)))
    assert not wrong.matches and holds_by(wrong) == 1 and Hold.objects.get().lot == lot.id
    assert [one.number for one in queries.packaging_of(lot)] == [wrong.number]
    count = count_packaging(ines, counting(row))  # a form that was open before the amendment
    assert (count.opened, count.difference) == (wrong.number, 0)
    for field, changed in (("issued", {"issued": "1001"}), ("roll_code", {"roll_code": "R-8"})):
        with pytest.raises(Refused, match="counted with this") as refused:
            open_packaging(ines, opening(at=at(48), **changed, **why(wrong.number)))
        assert refused.value.field == field
    back = open_packaging(ines, opening(at=at(48), note="read again", **why(wrong.number)))
    assert queries.counts_of([back.number]) == {back.number: count} and queries.on_the_line("filler", at(60)) == []
    assert Hold.objects.count() == 1
    assert filling(at(0), at(120))["not_counted"] == []


def test_a_count_amended(plant: Plant) -> None:
    """The difference is worked out anew; a second count is refused, an amendment is not."""
    ready_plant(plant)
    ines = plant.actor("ines")
    row = opened(ines)
    count = count_packaging(ines, counting(row, used="800"))
    assert count.difference == 100
    with pytest.raises(Refused, match="amend the count"):
        count_packaging(ines, counting(row))
    new = count_packaging(ines, counting(row, **why(count.number)))
    assert (new.difference, new.amends) == (0, count.number)
    assert queries.counts_of([row.number]) == {row.number: new}
    void(ines, new.number, uuid.uuid4(), "another roll")
    assert [one.number for one in queries.on_the_line("filler", at(60))] == [row.number]


def test_an_amendment_by_its_page(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The form says what stands, asks for both components and the reason; the entry shows both."""
    ready_plant(plant)
    made_clear(plant)
    row = opened(plant.actor("ines"), at=at(60), issued="100")
    ines, tomas = client_for(plant.people.ines), client_for(plant.people.tomas)
    page = reverse("records:filling-amend", args=[row.number])
    assert "or a supervisor can amend" in text(tomas.get(page, follow=True))
    form = text(ines.get(page))
    assert 'value="R-7"' in form and 'value="100"' in form and 'name="signer_secret"' in form
    typed = {"kind": "label", "roll_code": "R-7", "product": "whole-milk", "printed": "whole-milk", "issued": "1000"}
    sign = {"signer": str(plant.people.ines.id), "signer_secret": PIN}
    without = send(ines, page, **typed, amend_reason="", **sign)
    assert "Write why it is amended." in without and 'value="1000"' in without
    assert PackagingOpened.objects.count() == 1
    both = send(ines, page, **{**typed, "issued": "ten", "printed": ""}, amend_reason="x", **sign)
    assert "Write a whole number of pieces" in both and "Choose one." in both
    shown = send(ines, page, **typed, amend_reason="one zero short", **sign)
    new = PackagingOpened.objects.get(amends=row.number)
    assert f"It amends entry {row.number}: one zero short" in shown and "1000 issued" in shown
    old = text(ines.get(reverse("records:filling-entry", args=[row.number])))
    assert f"Amended by entry {new.number}: one zero short" in old and "struck" in old and "100 issued" in old
    assert "amended already" in text(ines.get(page, follow=True))
    cleared = LineClearance.objects.get()
    count = count_packaging(plant.actor("ines"), counting(new))
    assert PackagingCounted.objects.get() == count
    for number, wanted in ((cleared.number, 'value="12"'), (count.number, 'value="900"')):
        assert wanted in text(ines.get(reverse("records:filling-amend", args=[number])))
    at_form = text(tomas.get(reverse("records:filling-amend", args=[queries.last_check(cleared).number])))  # type: ignore[union-attr]
    assert "checked" in at_form and local(60)[:10] in at_form
