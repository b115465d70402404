"""Two people at one thing in the same moment, each on a connection of their own: it is done once, and wholly."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection, transaction

from plant.hazard_plan import drafts
from plant.hazard_plan.models import PlanVersion
from records.checks.actions import write_note
from records.checks.models import Reading
from records.deviations import actions, holds
from records.deviations.models import DeviationClosing, Disposition, Hold, HoldLift
from records.ledger.verify import verify
from records.people import plan_actions
from records.people.models import PlanApproval
from records.people.refused import Refused
from records.review import actions as review
from records.review.models import DayClosing, SheetSignature, SheetState
from tests.conftest import Plant
from tests.records.deviations.made import answered, warm
from tests.records.reports.made import DAY, live

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*acts: Callable[[], object]) -> list[str]:
    """Start all together; gives what each came to, sorted: the class of its result, or what refused it."""
    gate = threading.Barrier(len(acts))
    results: list[str] = []

    def run(one: Callable[[], object]) -> None:
        try:
            gate.wait(timeout=20)
            results.append(type(one()).__name__)
        except Refused as refused:
            results.append(str(refused))
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(one,)) for one in acts]
    for one in threads:
        one.start()
    for one in threads:
        one.join(timeout=120)
    return sorted(results)


def test_day_closed_and_signed_by_two_at_once(plant: Plant) -> None:
    """One closing with one head, one signature in each place; the others are told so."""
    live(plant)
    wren, odile, tomas = plant.actor("wren"), plant.actor("odile"), plant.actor("tomas")
    closed = at_once(lambda: review.close_day(wren, DAY), lambda: review.close_day(odile, DAY))
    assert closed == ["DayClosing", "This day is closed, and nothing of it has changed since."]
    assert DayClosing.objects.count() == 1 and SheetState.objects.count() == 1
    there = "This sheet has that signature already."
    twice = at_once(*[lambda: review.sign_sheet(tomas, DAY, review.OPERATOR_IN_CHARGE)] * 2)
    assert twice == ["SheetSignature", there]
    both = [
        lambda: review.sign_sheet(wren, DAY, review.SUPERVISOR),
        lambda: review.sign_sheet(odile, DAY, "supervisor"),
    ]
    assert at_once(*both) == ["SheetSignature", there]
    assert SheetSignature.objects.count() == 2 and SheetState.objects.count() == 3 and verify().good


def test_record_that_comes_while_the_sheet_is_being_signed_is_not_signed_over(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Signing a PDF takes a second: what was written meanwhile asks for a new closing, not for this signature."""
    live(plant)
    review.close_day(plant.actor("wren"), DAY)
    sign = review._signed

    def slowly(*given: Any) -> bytes:
        signed = sign(*given)
        reading = Reading.objects.order_by("number")[0]
        with monkeypatch.context() as patched:
            patched.setattr(review, "_signed", sign)
            plant.clock.on(hours=-20)
            write_note(plant.actor("ines"), reading, "The lid stood open.", uuid.uuid4())
            plant.clock.on(hours=20)
        return signed

    monkeypatch.setattr(review, "_signed", slowly)
    with pytest.raises(Refused, match="were added since it was closed"):
        review.sign_sheet(plant.actor("tomas"), DAY, review.OPERATOR_IN_CHARGE)
    assert not SheetSignature.objects.exists()


def test_hold_lifted_and_deviation_closed_by_three_at_once(plant: Plant) -> None:
    """Two propose, three sign: one lift, of the last proposal; then three close: one closing."""
    deviation = warm(plant)
    answered(plant, deviation)
    hold = Hold.objects.get()
    wren, odile, hanne = plant.actor("wren"), plant.actor("odile"), plant.actor("hanne")
    proposed = at_once(
        lambda: holds.propose_disposition(wren, hold, holds.RELEASE, "cooled in time"),
        lambda: holds.propose_disposition(odile, hold, holds.DESTROY, "too long warm"),
    )
    assert proposed == ["Disposition", "Disposition"]
    last = Disposition.objects.order_by("-number")[0]
    at_once(*[lambda by=by: holds.sign_disposition(by, last) for by in (wren, odile, hanne)])  # type: ignore[misc]
    lift = HoldLift.objects.get()
    assert lift.disposition == last.number and lift.by_id != last.by_id
    closers = [lambda by=by: actions.close(by, deviation, "all done") for by in (wren, odile, hanne)]  # type: ignore[misc]
    there = "This deviation is closed already."
    assert at_once(*closers) == ["DeviationClosing", there, there]
    assert DeviationClosing.objects.count() == 1 and verify().good


# --- a draft edited while it is signed


@pytest.fixture
def draft(plant: Plant) -> PlanVersion:
    """A second version, signed by the qualified individual."""
    made = drafts.new_draft(PlanVersion.objects.get(), plant.people.odile, plant.clock())
    plan_actions.sign_plan(plant.actor("odile"), made, plan_actions.QUALIFIED_SIGNS)
    return made


def test_header_saved_after_the_page_was_opened_is_not_approved_unseen(plant: Plant, draft: PlanVersion) -> None:
    """The signer's copy of the version is old by then: what is frozen would not be what the rows say."""
    seen = PlanVersion.objects.get(id=draft.id)
    _, seen_hash = plan_actions.frozen(seen)
    drafts.save_header(draft, "Another title", *drafts.header_of(draft))
    with pytest.raises(Refused, match="changed since you opened it"):
        plan_actions.sign_plan(plant.actor("hanne"), seen, plan_actions.OWNER_SIGNS, signed_hash=seen_hash)
    assert PlanApproval.objects.count() == 1 and verify().good


def test_row_being_edited_while_the_plan_is_approved(plant: Plant, draft: PlanVersion) -> None:
    """The approval waits for the edit, and then it is another plan than the one that was signed first."""
    edited, waited, trouble = threading.Event(), threading.Event(), []

    def edit() -> None:
        try:
            with transaction.atomic():
                row = drafts.rows(draft, "limits")[0]
                drafts.save_row(draft, "limits", replace(row.value, high="44"), row.id)
                edited.set()
                waited.wait(timeout=1.5)
        except Exception as error:  # told by the assertion below
            trouble.append(error)
        finally:
            edited.set()
            connection.close()

    beside = threading.Thread(target=edit)
    beside.start()
    assert edited.wait(timeout=20)
    signed = plan_actions.sign_plan(plant.actor("hanne"), draft, plan_actions.OWNER_SIGNS)
    waited.set()
    beside.join(timeout=30)
    assert trouble == [] and not isinstance(signed, PlanApproval)
    assert PlanApproval.objects.count() == 1 and verify().good
