"""Closing, signing and handing over: the order, who may, and what asks for a new revision."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from plant import clock
from records.checks import queries as checks
from records.checks import watch
from records.checks.actions import amend_reading, record_reading
from records.checks.entry import ReadingData
from records.checks.models import Reading, Transition
from records.deviations import actions as deviations
from records.deviations.errors import Refused
from records.deviations.models import Deviation
from records.ledger.actions import WATCH, act
from records.ledger.models import Entry
from records.people.plans import plan_in_force
from records.review import actions, queries
from records.review.models import DayClosing, HandOver, InCharge, SheetSignature, SheetState
from records.tasks import draft_day_sheets
from tests.conftest import Plant
from tests.records.deviations.made import SCRIPT, signed_by

Clients = Callable[..., Client]
DAY = date(2026, 3, 3)
START = datetime(2026, 3, 3, 11, tzinfo=UTC)  # 05:00 in Chicago
AFTER = START + timedelta(hours=25)
ADDRESS = "/days/2026-03-03/"


def reading(key: str, subject: str, typed: str, **changes: Any) -> ReadingData:
    """An answer."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "subject": subject, "monitoring_key": key, "typed": typed}
    return ReadingData(**values | changes)


def lived(plant: Plant) -> None:
    """A quiet day: Ines reads both thermometers early, Tomas the seals late; the next morning has come."""
    plant.at(START + timedelta(hours=2))
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    actions.name_in_charge(plant.actor("wren"), DAY, "late", plant.people.tomas)
    record_reading(
        plant.actor("ines"), reading("press-thermometers", "press-1", "164.2", typed_second="164.0")
    )
    plant.at(START + timedelta(hours=8, minutes=30))
    record_reading(plant.actor("tomas"), reading("press-seals", "press-1", "yes"))
    plant.at(AFTER)


def closed(plant: Plant) -> DayClosing:
    """The day closed by Wren."""
    lived(plant)
    return actions.close_day(plant.actor("wren"), DAY)


def late_reading(plant: Plant) -> None:
    """Ines enters on the next morning what she saw on the day before."""
    data = reading(
        "press-seals", "press-1", "yes", observed_at=START + timedelta(minutes=40), late_reason="Noted on my hand."
    )
    record_reading(plant.actor("ines"), data)


# --- closing


def test_a_day_that_runs_is_not_closed(plant: Plant) -> None:
    """While its last shift works."""
    plant.at(START + timedelta(hours=15, minutes=59))
    with pytest.raises(Refused, match="last shift ends at 21:00"):
        actions.close_day(plant.actor("wren"), DAY)


def test_a_day_with_an_open_check_is_not_closed(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """A late check that can still be answered keeps it open; one whose patience is two weeks does not."""
    lived(plant)
    found = checks.due_between(START, START + timedelta(days=1), clock.now())[0]
    soon = replace(found, state="late", due=replace(found.due, missed_at=AFTER + timedelta(hours=1)))
    monkeypatch.setattr(checks, "due_between", lambda *_args, **_more: [soon])
    assert len(actions.why_not_close(DAY, clock.now())) == 1
    patient = replace(soon, due=replace(soon.due, missed_at=AFTER + timedelta(days=14)))
    monkeypatch.setattr(checks, "due_between", lambda *_args, **_more: [patient])
    assert actions.why_not_close(DAY, clock.now()) == []


def test_closing_signs_the_head_and_keeps_the_sheet(plant: Plant) -> None:
    """Revision 1 over everything before it, and its PDF."""
    closing = closed(plant)
    assert closing.revision == 1 and closing.tree_size == closing.number - 1
    assert [(one.state, one.revision) for one in queries.states(DAY)] == [("closed", 1)]


def test_the_sheet_says_what_its_head_covers(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reading that comes between the closing and the layout is not on that sheet; the day asks for a new one."""
    lived(plant)
    laid_out: list[dict[str, Any]] = []
    render = actions.day_pdf.render_sheet

    def slow(data: dict[str, Any], *args: Any) -> Any:
        if not laid_out:
            late_reading(plant)
        laid_out.append(data)
        return render(data, *args)

    monkeypatch.setattr(actions.day_pdf, "render_sheet", slow)
    closing = actions.close_day(plant.actor("wren"), DAY)
    late = Reading.objects.get(late_reason="Noted on my hand.")
    assert late.number > closing.number
    said = json.dumps(laid_out[0])
    assert "Noted on my hand." not in said and closing.root in said
    assert queries.changed_since(closing, clock.now())


def test_a_sheet_cut_off_after_its_closing_is_made_by_the_watch(
    plant: Plant, client_for: Clients, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Until then the page for signing says so and writes nothing; a second look makes nothing more."""
    lived(plant)
    with monkeypatch.context() as broken:

        def cut_off(*_args: Any) -> None:
            raise KeyboardInterrupt

        broken.setattr(actions.day_pdf, "render_sheet", cut_off)
        with pytest.raises(KeyboardInterrupt):
            actions.close_day(plant.actor("wren"), DAY)
    size = Entry.objects.count()
    client = client_for(plant.people.tomas)
    with pytest.raises(Refused, match="cut off"):
        actions.sign_sheet(plant.actor("tomas"), DAY, actions.OPERATOR_IN_CHARGE)
    assert "cut off" in client.get(f"{ADDRESS}sign/operator/", follow=True).content.decode()
    assert Entry.objects.count() == size and actions.render_what_was_cut_off() == []  # it may be under way
    plant.clock.on(minutes=5)
    assert DAY.isoformat() in draft_day_sheets()
    assert [(one.state, one.by_role) for one in queries.states(DAY)] == [("closed", "watch")]
    assert actions.render_what_was_cut_off() == []


def test_what_was_missed_just_now_is_written_before_the_closing(plant: Plant) -> None:
    """The watch catches up, so that a minute later nothing of the day has changed."""
    lived(plant)
    watch.begin_at(START)
    watch.look()
    plant.clock.on(minutes=5)
    closing = actions.close_day(plant.actor("wren"), DAY)
    plant.clock.on(minutes=1)
    watch.look()
    assert queries.changed_since(closing, clock.now()) == []


# --- what asks for a new revision


def told(a: Any) -> Transition:
    """A notice that was sent."""
    return a.write(  # type: ignore[no-any-return]
        Transition(
            key=f"told|missed|{uuid.uuid4()}|supervisor", what="told", monitoring_key="press-seals", subject="press-1",
            subject_name="Press 1", due_at=START + timedelta(hours=1), plan_number=1, sentence="supervisor told",
        ),
        observed_at=START + timedelta(hours=1),
    )  # fmt: skip


def missed(a: Any) -> Transition:
    """A miss of the day, found after its end."""
    return a.write(  # type: ignore[no-any-return]
        Transition(
            key=f"missed|press-seals|press-1||{uuid.uuid4()}", what="missed", monitoring_key="press-seals",
            subject="press-1", subject_name="Press 1", due_at=START + timedelta(hours=1), plan_number=1,
            sentence="was missed",
        ),
        observed_at=START + timedelta(days=1, hours=3),
    )  # fmt: skip


@pytest.mark.parametrize(("what", "changes"), [(told, False), (missed, True)])
def test_a_notice_changes_nothing_a_miss_does(plant: Plant, what: Callable[[Any], Transition], changes: bool) -> None:
    """Telling somebody of the day is not of the day; that a check of it was missed is."""
    closing = closed(plant)
    with act(WATCH) as a:
        what(a)
    assert bool(queries.changed_since(closing, clock.now())) is changes


def test_a_late_reading_asks_for_a_new_revision_and_the_old_one_stays(plant: Plant) -> None:
    """Closed again only with the reason; both PDFs are kept."""
    first = closed(plant)
    late_reading(plant)
    with pytest.raises(Refused) as refused:
        actions.close_day(plant.actor("wren"), DAY)
    assert refused.value.field == "reason"
    second = actions.close_day(plant.actor("wren"), DAY, "A reading came in late.")
    assert (first.revision, second.revision) == (1, 2)
    assert [(one.revision, one.state) for one in queries.states(DAY)] == [(1, "closed"), (2, "closed")]


def test_an_amendment_asks_for_a_new_revision(plant: Plant) -> None:
    """By Wren, of what Ines read."""
    closing = closed(plant)
    row = Reading.objects.filter(monitoring_key="press-seals").first()
    assert row is not None
    plant.clock.on(minutes=1)
    amend_reading(
        plant.actor("wren"), row.number, reading("press-seals", "press-1", "no"), "Wrong key", day_closed=True
    )
    assert queries.changed_since(closing, clock.now())


def test_an_outage_entered_afterwards_asks_for_a_new_revision(plant: Plant) -> None:
    """It lay in the day."""
    closing = closed(plant)
    start = START + timedelta(hours=3)
    deviations.open_outage(plant.actor("ines"), plan_in_force(start), "power", start, [])
    assert queries.changed_since(closing, clock.now())


def test_answering_and_raising_later_leave_the_closed_day_as_it_is(plant: Plant) -> None:
    """A corrective action, and a correction of the day raised to a deviation: since closing, not of the day."""
    lived(plant)
    plant.at(START + timedelta(hours=4))
    in_force = plan_in_force(clock.now())
    row, _none = deviations.record_correction(
        plant.actor("ines"), in_force, subject_kind="reading", subject_number=1, control_point="pests",
        subject="traps", text="Rinsed.", form_id=uuid.uuid4(),
    )  # fmt: skip
    plant.at(AFTER)
    closing = actions.close_day(plant.actor("wren"), DAY)
    raised = deviations.raise_correction(plant.actor("wren"), in_force, row, "Third this month.")
    deviations.write_part(plant.actor("ines"), raised, "problem", "Rinsed again.", uuid.uuid4())
    assert queries.changed_since(closing, clock.now()) == []


def test_the_next_days_records_leave_it_as_it_is(plant: Plant) -> None:
    """A reading of the next day."""
    closing = closed(plant)
    record_reading(plant.actor("ines"), reading("press-seals", "press-1", "yes"))
    assert queries.changed_since(closing, clock.now()) == []


def test_closing_again_without_a_change_is_refused(plant: Plant) -> None:
    """Nothing is written."""
    closed(plant)
    with pytest.raises(Refused, match="nothing of it has changed"):
        actions.close_day(plant.actor("wren"), DAY, "Because.")
    assert DayClosing.objects.count() == 1


# --- signatures


def test_the_order_is_closing_operator_supervisor(plant: Plant) -> None:
    """Each is refused before the one before it."""
    lived(plant)
    for by, said in ((plant.actor("tomas"), actions.OPERATOR_IN_CHARGE), (plant.actor("wren"), actions.SUPERVISOR)):
        with pytest.raises(Refused):
            actions.sign_sheet(by, DAY, said)
    actions.close_day(plant.actor("wren"), DAY)
    with pytest.raises(Refused, match="first"):
        actions.sign_sheet(plant.actor("wren"), DAY, actions.SUPERVISOR)
    with pytest.raises(Refused, match="Tomas Reed"):
        actions.sign_sheet(plant.actor("ines"), DAY, actions.OPERATOR_IN_CHARGE)
    actions.sign_sheet(plant.actor("tomas"), DAY, actions.OPERATOR_IN_CHARGE)
    actions.sign_sheet(plant.actor("wren"), DAY, actions.SUPERVISOR)
    assert [one.state for one in queries.states(DAY)] == [
        "closed", "signed, operator in charge", "signed, supervisor",
    ]  # fmt: skip


def test_a_changed_day_is_not_signed(plant: Plant) -> None:
    """It has to be closed again first."""
    closed(plant)
    late_reading(plant)
    with pytest.raises(Refused, match="Close it again"):
        actions.sign_sheet(plant.actor("tomas"), DAY, actions.OPERATOR_IN_CHARGE)


def test_nobody_reviews_their_own_work_and_a_qualified_individual_stands_in(plant: Plant) -> None:
    """Wren read something that day: she does not review it, Odile does (21 CFR 117.165, foundations)."""
    lived(plant)
    plant.at(START + timedelta(hours=3))
    record_reading(plant.actor("wren"), reading("press-thermometers", "press-1", "164.2", typed_second="164.0"))
    plant.at(AFTER)
    actions.close_day(plant.actor("wren"), DAY)
    actions.sign_sheet(plant.actor("tomas"), DAY, actions.OPERATOR_IN_CHARGE)
    with pytest.raises(Refused, match="own work"):
        actions.sign_sheet(plant.actor("wren"), DAY, actions.SUPERVISOR)
    row = actions.sign_sheet(plant.actor("odile"), DAY, actions.SUPERVISOR)
    assert not row.own_work and row.meaning == "I have reviewed this day's records"


def test_a_plan_with_nobody_else_lets_it_be_and_says_so(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """'reviewed by the person who made the record' is what the signature says."""
    lived(plant)
    plant.at(START + timedelta(hours=3))
    record_reading(plant.actor("wren"), reading("press-thermometers", "press-1", "164.2", typed_second="164.0"))
    plant.at(AFTER)
    actions.close_day(plant.actor("wren"), DAY)
    actions.sign_sheet(plant.actor("tomas"), DAY, actions.OPERATOR_IN_CHARGE)
    found = plan_in_force(clock.now())
    assert found is not None
    alone = replace(found.plan.reviewers[0], sign_in="wren", self_review_allowed=True)
    allowed = replace(found, plan=replace(found.plan, reviewers=(alone,)))
    monkeypatch.setattr(queries, "plan_of_day", lambda *_args: allowed)
    row = actions.sign_sheet(plant.actor("wren"), DAY, actions.SUPERVISOR)
    assert row.own_work and row.meaning == "reviewed by the person who made the record"


def test_a_supervisor_whom_the_plan_does_not_name_does_not_review(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reviewers and dated deputies are named in the plan; one whose time is over is named no more."""
    found = plan_in_force(AFTER)
    assert found is not None
    for past in ((), (replace(found.plan.reviewers[0], until_date="2026-03-03"),)):
        changed = replace(found, plan=replace(found.plan, reviewers=past))
        assert not actions.may_review(changed, plant.actor("wren"), AFTER)
        assert actions.may_review(changed, plant.actor("odile"), AFTER)


# --- pages


def test_the_day_is_closed_and_signed_on_its_pages(plant: Plant, client_for: Clients) -> None:
    """Wren closes, Tomas signs with his PIN on the tablet, Wren signs; each PDF comes down."""
    lived(plant)
    wren, tomas = client_for(plant.people.wren), client_for(plant.people.tomas)
    assert "The plan made" in wren.get(ADDRESS).content.decode()
    for _ in range(2):
        assert wren.post(f"{ADDRESS}close/", signed_by(plant, "wren")).status_code == 302
    assert DayClosing.objects.count() == 1
    for client, name, place in ((tomas, "tomas", "operator"), (wren, "wren", "supervisor")):
        address = f"{ADDRESS}sign/{place}/"
        sheet = client.get(address).context["form"].initial["sheet"]
        body = {"sheet": str(sheet), "read": "on", **signed_by(plant, name)}
        assert client.post(address, body | {"signer_secret": "000000"}).status_code == 422
        assert client.post(address, body | {"sheet": "1"}).status_code == 422
        assert client.post(address, body).status_code == 302
        assert client.post(address, body).status_code == 302  # a double tap
    assert SheetSignature.objects.count() == 2
    for state in SheetState.objects.all():
        assert wren.get(f"/day-sheets/{state.number}.pdf").content.startswith(b"%PDF-")
    assert "closed, signed and reviewed" in wren.get("/days/").content.decode()


def test_what_stands_against_closing_is_on_the_page(plant: Plant, client_for: Clients) -> None:
    """And a post all the same closes nothing."""
    client = client_for(plant.people.wren)
    assert "last shift ends at 21:00" in client.get(ADDRESS).content.decode()
    answer = client.post(f"{ADDRESS}close/", signed_by(plant, "wren"))
    assert answer.status_code == 422 and not DayClosing.objects.exists()


def test_an_inspector_reads_days_and_changes_none(plant: Plant, client_for: Clients) -> None:
    """The pages open; every act is 403."""
    client = client_for(plant.people.guest)
    assert client.get("/days/").status_code == client.get(ADDRESS).status_code == 200
    for act_of in ("close/", "sign/operator/", "shifts/early/in-charge/", "shifts/early/leaving/"):
        assert client.post(ADDRESS + act_of, {}).status_code == 403


@pytest.mark.parametrize("day", ["2026-03-04", "2020-01-01", "2026-13-01", "x", "9999-12-31", "2026-3-3"])
def test_a_day_that_is_none_is_not_found(plant: Plant, client_for: Clients, day: str) -> None:
    """Tomorrow, before the first plan, or no day at all."""
    client = client_for(plant.people.wren)
    for rest in ("", "close/", "sign/operator/", "shifts/early/in-charge/", "shifts/early/leaving/"):
        assert client.get(f"/days/{day}/{rest}").status_code == 404


def test_shifts_places_and_sides_that_are_none_are_not_found(plant: Plant, client_for: Clients) -> None:
    """Whatever the address says."""
    client = client_for(plant.people.wren)
    for rest in ("sign/owner/", "shifts/night/in-charge/", "shifts/early/sideways/", "shifts/night/leaving/"):
        assert client.get(ADDRESS + rest).status_code == 404


def test_the_operator_in_charge_is_named_and_the_latest_naming_governs(plant: Plant, client_for: Clients) -> None:
    """Twice the same is one record; a guest is not on the list."""
    client, address = client_for(plant.people.ines), f"{ADDRESS}shifts/early/in-charge/"
    for person in (plant.people.ines, plant.people.ines, plant.people.tomas):
        assert client.post(address, {"person": str(person.id)}).status_code == 302
    assert [one.person_name for one in InCharge.objects.all()] == ["Ines Alder", "Tomas Reed"]
    assert queries.in_charge(DAY)["early"].person_name == "Tomas Reed"
    for wrong in ("", "nobody", str(plant.people.guest.id)):
        assert client.post(address, {"person": wrong}).status_code == 422


def hand_over_body(plant: Plant, who: str, notes: str = "All quiet.") -> dict[str, str]:
    """A hand-over's form."""
    return {"notes": notes, "form_id": str(uuid.uuid4()), **signed_by(plant, who)}


def test_a_shift_is_handed_over_by_its_operator_in_charge_and_taken_by_another(
    plant: Plant, client_for: Clients
) -> None:
    """Ines leaves, Tomas takes; Tomas cannot leave for her, Ines cannot take from herself."""
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    ines, tomas = client_for(plant.people.ines), client_for(plant.people.tomas)
    leaving, taking = f"{ADDRESS}shifts/early/leaving/", f"{ADDRESS}shifts/early/taking/"
    assert tomas.post(leaving, hand_over_body(plant, "tomas")).status_code == 422
    body = hand_over_body(plant, "ines", SCRIPT)
    for _ in range(2):
        assert ines.post(leaving, body).status_code == 302
    assert ines.post(taking, hand_over_body(plant, "ines")).status_code == 422
    assert tomas.post(taking, hand_over_body(plant, "tomas")).status_code == 302
    assert [(one.side, one.by_name) for one in HandOver.objects.all()] == [
        ("leaving", "Ines Alder"), ("taking", "Tomas Reed"),
    ]  # fmt: skip
    for address in ("/hand-over/", ADDRESS, taking):
        page = tomas.get(address).content.decode()
        assert "<script>alert" not in page and "&lt;script&gt;alert" in page


def links_to_sign(page: str, shift: str) -> list[str]:
    """The sides of a shift's hand-over that a page offers to sign."""
    return re.findall(rf'href="{ADDRESS}shifts/{shift}/(leaving|taking)/"', page)


def test_only_the_sides_that_nobody_signed_are_offered(plant: Plant, client_for: Clients) -> None:
    """Both, then the one that is left, then none; who signed which side and when stands on the page."""
    plant.at(START + timedelta(hours=8, minutes=30))  # the late shift is at work
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    client = client_for(plant.people.tomas)

    def offered() -> list[str]:
        pages = [client.get(address).content.decode() for address in ("/hand-over/", ADDRESS)]
        found = [links_to_sign(page, "early") for page in pages]
        assert found[0] == found[1]
        return found[0]

    assert offered() == ["leaving", "taking"]
    actions.hand_over(plant.actor("ines"), DAY, "early", "leaving", "Silo A is full.", uuid.uuid4())
    assert offered() == ["taking"]
    page = client.get("/hand-over/").content.decode()
    assert "Handed over by Ines Alder</strong>, 2026-03-03 13:30" in page and "Silo A is full." in page
    actions.hand_over(plant.actor("tomas"), DAY, "early", "taking", "", uuid.uuid4())
    assert offered() == []
    assert "Taken over by Tomas Reed</strong>, 2026-03-03 13:30" in client.get("/hand-over/").content.decode()


def test_a_side_is_signed_once(plant: Plant, client_for: Clients) -> None:
    """Its page shows who signed it, the way back, and no form; a form that was open all the while is refused."""
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    client, leaving = client_for(plant.people.ines), f"{ADDRESS}shifts/early/leaving/"
    assert 'href="/hand-over/"' in client.get(leaving).content.decode()  # the way out of the form
    assert client.post(leaving, hand_over_body(plant, "ines")).status_code == 302
    page = client.get(leaving).content.decode()
    assert "Handed over by Ines Alder" in page and 'href="/hand-over/"' in page and "signer_secret" not in page
    late = client.post(leaving, hand_over_body(plant, "ines", "And one thing more."))
    assert late.status_code == 422 and "Ines Alder has signed this side already." in late.content.decode()
    assert "And one thing more." in late.content.decode()
    assert HandOver.objects.count() == 1


def test_the_page_to_sign_a_sheet_has_a_way_back(plant: Plant, client_for: Clients) -> None:
    """To the day, beside the act; nothing is written by taking it."""
    closed(plant)
    page = client_for(plant.people.tomas).get(f"{ADDRESS}sign/operator/").content.decode()
    assert f'<a class="out" href="{ADDRESS}">I do not sign this now</a>' in page


def test_a_hand_over_that_cannot_be_kept_is_refused(plant: Plant, client_for: Clients) -> None:
    """A megabyte of notes, a stale form, a wrong PIN: nothing is written."""
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    client, before = client_for(plant.people.ines), HandOver.objects.count()
    good = hand_over_body(plant, "ines")
    for wrong in ({"notes": "x" * 1_000_000}, {"form_id": "none"}, {"signer_secret": "111111"}):
        assert client.post(f"{ADDRESS}shifts/early/leaving/", good | wrong).status_code == 422
    assert HandOver.objects.count() == before


def test_the_hand_over_begins_with_what_the_book_knows(plant: Plant, client_for: Clients) -> None:
    """An open deviation stands in its notes."""
    from tests.records.deviations.made import warm

    found = warm(plant)
    notes = client_for(plant.people.ines).get(f"{ADDRESS}shifts/early/leaving/").context["form"].initial["notes"]
    assert f"deviation {found.number} open" in notes and "on hold: Silo A" in notes
    assert Deviation.objects.filter(number=found.number).exists()


def test_looking_at_a_closed_day_changes_nothing(plant: Plant, client_for: Clients) -> None:
    """Its pages, and the signing page."""
    closed(plant)
    before = Entry.objects.count()
    client = client_for(plant.people.tomas)
    for address in ("/days/", ADDRESS, f"{ADDRESS}sign/operator/", f"{ADDRESS}close/", "/hand-over/"):
        assert client.get(address).status_code in (200, 302)
    assert Entry.objects.count() == before
