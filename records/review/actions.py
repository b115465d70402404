"""Naming who is in charge, handing over, closing the day, rendering and signing its sheet.

The order: the watch renders a draft, a person closes the day, the sheet is rendered with the signed head, the operator
in charge signs, the supervisor signs. Layout is slow, so it happens outside the act that keeps its result.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from plant import clock
from plant.people.models import Person
from plant.signing.authority import SigningMaterial
from plant.signing.sign import sign_pdf
from records.checks import queries as checks
from records.checks import watch
from records.checks.models import WatchState
from records.deviations.errors import Refused
from records.ledger import files, heads
from records.ledger.actions import WATCH, Act, Actor, act
from records.people.keys import authority, refused_by_keys
from records.people.plans import InForce, plan_in_force
from records.reports import pdf as day_pdf
from records.reports.day import Data
from records.review import queries, sheet
from records.review.models import DayClosing, HandOver, InCharge, SheetSignature, SheetState

OPERATOR_IN_CHARGE, SUPERVISOR = "operator in charge", "supervisor"
DRAFT, CLOSED = "draft", "closed"
# The PDF's empty signature fields, by who signs in them (templates/records/reports/day_sheet.html has their places).
FIELDS = {OPERATOR_IN_CHARGE: "operator", SUPERVISOR: "supervisor"}
OPEN_STATES = ("not yet", "due", "late")
# A check whose own patience reaches further than this past the day's end (a yearly test) does not keep the day open:
# the sheet says that it is open, and its answer or its miss makes a new revision.
PATIENCE = timedelta(days=1)
RENDERING_TAKES = timedelta(minutes=2)  # after so long a rendering was cut off
DRAFTS_BACK = 3  # days: a watch that was away drafts these when it is back


def name_in_charge(by: Actor, plant_day: date, shift: str, person: Person) -> InCharge:
    """Name the operator in charge of a shift; naming another later is another record."""
    if not {"operator", "supervisor", "qualified individual"} & person.roles_at(clock.now()):
        raise Refused(_("Only someone who works the floor can be in charge of a shift."), "person")
    with act(by) as a:
        standing = queries.in_charge(plant_day).get(shift)
        if standing and standing.person_id == person.id:
            return standing
        return a.write(InCharge(plant_day=plant_day, shift=shift, person_id=person.id, person_name=person.name))


def hand_over(by: Actor, plant_day: date, shift: str, side: str, notes: str, form_id: UUID) -> HandOver:
    """Sign one side of a shift's hand-over: 'leaving' by its operator in charge, 'taking' by who takes over."""
    with act(by) as a:
        saved = HandOver.objects.filter(form_id=form_id).first()
        if saved:
            said = (plant_day, shift, side, notes.strip(), by.person_id)
            if (saved.plant_day, saved.shift, saved.side, saved.notes, saved.by_id) != said:
                raise Refused(_("This form was saved before with other words. Open the page again."))
            return saved
        signed = HandOver.objects.filter(plant_day=plant_day, shift=shift, side=side).order_by("number").first()
        if signed is not None:
            raise Refused(_("%(name)s has signed this side already.") % {"name": signed.by_name})
        if side == "leaving":
            charged = queries.in_charge(plant_day).get(shift)
            if charged is None:
                raise Refused(_("Nobody is named as the operator in charge of this shift yet."))
            if charged.person_id != by.person_id:
                raise Refused(_("The operator in charge signs this: %(name)s.") % {"name": charged.person_name})
        elif HandOver.objects.filter(plant_day=plant_day, shift=shift, side="leaving", by_id=by.person_id).exists():
            raise Refused(_("You handed this shift over: whoever takes it over signs here."))
        return a.write(HandOver(plant_day=plant_day, shift=shift, side=side, notes=notes.strip(), form_id=form_id))


def why_not_close(plant_day: date, now: datetime) -> list[str]:
    """What still stands against closing a day: it is running, or checks of it are open."""
    in_force = queries.plan_of_day(plant_day, now)
    if in_force is None:
        return [_("No plan was in force on this day.")]
    start, end = in_force.calendar.day_bounds(plant_day)
    working = [one for one in in_force.calendar.day_shifts(plant_day) if not one.closed]
    over = max((one.end_at for one in working), default=end)
    if now < min(over, end):
        local = in_force.calendar.local(min(over, end))
        return [_("The day's last shift ends at %(time)s.") % {"time": local.strftime("%H:%M")}]
    waiting = [one for one in checks.due_between(start, end, now) if one.state in OPEN_STATES]
    waiting = [one for one in waiting if one.state != "late" or one.due.missed_at < end + PATIENCE]
    return [
        _("%(where)s: %(what)s, due %(time)s, is still open.")
        % {
            "where": one.subject_name,
            "what": one.monitoring.what,
            "time": in_force.calendar.local(one.due.due_at).strftime("%H:%M"),
        }
        for one in waiting
    ]


def close_day(by: Actor, plant_day: date, reason: str = "") -> DayClosing:
    """Close a day under a head signed by the plant's key; again only when its records changed, with the reason."""
    now = clock.now()
    _let_the_watch_catch_up(now)
    against = why_not_close(plant_day, now)
    if against:
        raise Refused(" ".join(against))
    in_force = queries.plan_of_day(plant_day, now)
    assert in_force is not None  # why_not_close has looked
    with act(by) as a:
        before = queries.closing(plant_day)
        if before is not None:
            if not queries.changed_since(before, now):
                raise Refused(_("This day is closed, and nothing of it has changed since."))
            if not reason.strip():
                raise Refused(_("Write why the day is closed again."), "reason")
        revision = before.revision + 1 if before else 1
        with refused_by_keys():
            head = heads.sign_present_head(authority(), in_force.plan.plant.name, plant_day, revision, a.now)
        closing = a.write(
            DayClosing(
                plant_day=plant_day,
                revision=revision,
                tree_size=head.tree_size,
                root=head.root,
                head=head.text,
                signature=head.signature,
                certificate=head.certificate,
                reason=reason.strip(),
            )
        )
        # Read under the ledger's lock: what the sheet says is what the signed head covers.
        data = sheet.sheet_data(plant_day, revision, closing.received_at)
    _render(by, data, plant_day, revision, CLOSED)
    return closing


def _let_the_watch_catch_up(now: datetime) -> None:
    """What was missed up to this moment is written before the closing, not a minute after it."""
    state = WatchState.objects.filter(only=1).first()
    if state is not None and now - state.looked_at <= watch.DOWN_AFTER:
        watch.look()


def render_state(by: Actor, plant_day: date, revision: int, state: str, at: datetime) -> SheetState:
    """Render the sheet as it stands and keep it; a state that is kept already is given back."""
    standing = SheetState.objects.filter(plant_day=plant_day, revision=revision, state=state).first()
    return standing or _render(by, sheet.sheet_data(plant_day, revision, at), plant_day, revision, state)


def _render(by: Actor, data: Data, plant_day: date, revision: int, state: str) -> SheetState:
    rendered = day_pdf.render_sheet(data)
    files.put(rendered.data)
    with act(by) as a:
        return _keep_state(a, plant_day, revision, state, rendered.data, rendered.pages)


def _keep_state(a: Act, plant_day: date, revision: int, state: str, data: bytes, pages: int) -> SheetState:
    standing = SheetState.objects.filter(plant_day=plant_day, revision=revision, state=state).first()
    if standing:
        return standing
    name = f"day-sheet-{plant_day.isoformat()}-r{revision}-{state.replace(' ', '-')}.pdf"
    kept = files.keep(a, data, name, "application/pdf")
    return a.write(
        SheetState(
            plant_day=plant_day,
            revision=revision,
            state=state,
            sha256=kept.sha256,
            size=kept.size,
            pages=pages,
        )
    )


def draft_ended_days() -> list[str]:
    """The watch's part: a draft of each plant day that ended lately and has neither draft nor closing."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return []
    drafted = []
    today = in_force.calendar.plant_day(now)
    for back in range(DRAFTS_BACK, 0, -1):
        plant_day = today - timedelta(days=back)
        if in_force.calendar.day_bounds(plant_day)[1] <= in_force.in_force_from:
            continue
        if queries.closing(plant_day) or SheetState.objects.filter(plant_day=plant_day, state=DRAFT).exists():
            continue
        render_state(WATCH, plant_day, 1, DRAFT, now)
        drafted.append(plant_day.isoformat())
    return drafted


def render_what_was_cut_off() -> list[str]:
    """The watch's part: the sheet of a closing whose rendering was cut off (a power cut), while it is still true."""
    now = clock.now()
    rendered = SheetState.objects.filter(plant_day=OuterRef("plant_day"), revision=OuterRef("revision"), state=CLOSED)
    lately = DayClosing.objects.filter(received_at__gte=now - timedelta(days=DRAFTS_BACK)).exclude(Exists(rendered))
    done = []
    for closing in lately.order_by("number"):
        newest = queries.closing(closing.plant_day)
        still = newest is not None and newest.number == closing.number and not queries.changed_since(closing, now)
        if still and closing.received_at < now - RENDERING_TAKES:
            render_state(WATCH, closing.plant_day, closing.revision, CLOSED, closing.received_at)
            done.append(closing.plant_day.isoformat())
    return done


def not_rendered() -> str:
    """Why there is nothing to sign right after a closing that was cut off."""
    return _("The sheet of this closing was cut off while it was made. The watch makes it again within minutes.")


def may_sign(by: Actor, plant_day: date, signed_as: str, now: datetime) -> tuple[str, bool]:
    """Why this person may not sign the sheet so (empty: may), and whether it would be a review of their own work."""
    closing = queries.closing(plant_day)
    if closing is None:
        return _("The day has to be closed before its sheet is signed."), False
    done = queries.signatures(plant_day, closing.revision)
    if signed_as in done:
        return _("This sheet has that signature already."), False
    if queries.changed_since(closing, now):
        return _("Records of this day were added since it was closed. Close it again first."), False
    if signed_as == OPERATOR_IN_CHARGE:
        return _charged(by, plant_day, now), False
    if OPERATOR_IN_CHARGE not in done:
        return _("The operator in charge signs first."), False
    if by.role not in ("supervisor", "qualified individual"):
        return _("The supervisor, or a qualified individual in their place, signs here."), False
    in_force = plan_in_force(now)
    if in_force is not None and not may_review(in_force, by, now):
        return _("The plan does not name you as a reviewer of records."), False
    if by.person_id == done[OPERATOR_IN_CHARGE].by_id:
        return _("You signed as the operator in charge: somebody else reviews."), False
    if by.person_id not in queries.workers(plant_day, now):
        return "", False
    of_day = queries.plan_of_day(plant_day, now)
    if of_day is not None and self_review_allowed(of_day, by, plant_day):
        return "", True
    return _("Records of this day are your own work: somebody else has to review them."), True


def _charged(by: Actor, plant_day: date, now: datetime) -> str:
    shift = queries.last_shift(plant_day, now)
    charged = queries.in_charge(plant_day).get(shift)
    if charged is None:
        return _("Nobody is named as the operator in charge of the last shift.")
    if charged.person_id != by.person_id:
        return _("The operator in charge of the last shift signs this: %(name)s.") % {"name": charged.person_name}
    return ""


def may_review(in_force: InForce, by: Actor, now: datetime) -> bool:
    """Whether the plan names this person as a reviewer today; a qualified individual may always stand in."""
    if by.role == "qualified individual":
        return True
    today = in_force.calendar.plant_day(now).isoformat()
    person = Person.objects.filter(id=by.person_id).first() if by.person_id else None
    sign_in = person.sign_in if person else None
    return any(
        one.sign_in == sign_in
        and (not one.from_date or one.from_date <= today)
        and (not one.until_date or today <= one.until_date)
        for one in in_force.plan.reviewers
    )


def self_review_allowed(in_force: InForce, by: Actor, plant_day: date) -> bool:
    """Whether the plan says that truly nobody else exists to review this person's records."""
    person = Person.objects.filter(id=by.person_id).first() if by.person_id else None
    day = plant_day.isoformat()
    return person is not None and any(
        one.sign_in == person.sign_in
        and one.self_review_allowed
        and (not one.from_date or one.from_date <= day)
        and (not one.until_date or day <= one.until_date)
        for one in in_force.plan.reviewers
    )


def place_in_words(signed_as: str) -> str:
    """Whose place on the sheet a signature takes, in the reader's language."""
    return _("operator in charge") if signed_as == OPERATOR_IN_CHARGE else _("supervisor")


def meaning_of(signed_as: str, own_work: bool) -> str:
    """What a signature says (21 CFR 11.50(a)(3))."""
    if signed_as == OPERATOR_IN_CHARGE:
        return _("I was in charge and this is the day's record")
    if own_work:
        return _("reviewed by the person who made the record")
    return _("I have reviewed this day's records")


def sign_sheet(by: Actor, plant_day: date, signed_as: str) -> SheetSignature:
    """Sign the newest sheet in the person's own name. Call only after both components were asked afresh."""
    now = clock.now()
    why_not, own_work = may_sign(by, plant_day, signed_as, now)
    if why_not:
        raise Refused(why_not)
    closing = queries.closing(plant_day)
    assert closing is not None and by.person_id is not None  # may_sign has looked
    state = queries.newest_state(plant_day, closing.revision)
    if state is None:
        raise Refused(not_rendered())
    before = files.read(state.sha256)
    of_day = queries.plan_of_day(plant_day, now)
    assert of_day is not None  # a closed day had a plan
    with of_day.speaking():
        meaning, place = meaning_of(signed_as, own_work), place_in_words(signed_as)
    with refused_by_keys():
        material = authority().material(str(by.person_id), now)
    lines = (by.name, place, meaning, f"{of_day.calendar.local(now):%Y-%m-%d %H:%M:%S %Z}")
    signed = _signed(before, material, by, signed_as, meaning, now, lines)
    files.put(signed)
    with act(by) as a:
        # Asked again under the ledger's lock: while the sheet was being signed, records of the day may have come.
        why_not, _own = may_sign(by, plant_day, signed_as, now)
        if why_not:
            raise Refused(why_not)
        newest = queries.newest_state(plant_day, closing.revision)
        if queries.closing(plant_day) != closing or newest is None or newest.sha256 != state.sha256:
            raise Refused(_("The sheet was signed by somebody else just now. Open it again."))
        row = a.write(
            SheetSignature(
                plant_day=plant_day,
                revision=closing.revision,
                signed_as=signed_as,
                meaning=meaning,
                certificate_serial=material.serial,
                signed_sha256=state.sha256,
                own_work=own_work,
            )
        )
        _keep_state(a, plant_day, closing.revision, f"signed, {signed_as}", signed, state.pages)
    return row


def _signed(
    pdf: bytes, material: SigningMaterial, by: Actor, signed_as: str, meaning: str, at: datetime, lines: tuple[str, ...]
) -> bytes:
    return sign_pdf(
        pdf,
        material,
        name=by.name,
        role=signed_as,
        reason=meaning,
        at=at,
        field_name=FIELDS[signed_as],
        static_dir=Path(settings.BASE_DIR) / "static",
        lines=lines,
    )
