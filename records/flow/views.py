"""Pages that record: each form parses, one act saves, then the vessel's page says what followed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, cast
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plant.process.units import plain
from records.flow import actions, choices, closed_days, doubts, fields, forms, story
from records.flow.data import MovementData
from records.flow.errors import Refused
from records.flow.exits import exit_of
from records.flow.models import Movement, MovementEnd, PlantEvent
from records.flow.pages import answer, no_plan, now_and_plan, place_or_404, saved_by, show_form, washed_place_or_404
from records.flow.programs import programs_at
from records.flow.queries import Contents, contents_at
from records.ledger.models import Record
from records.lots.models import Lot
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import InForce

page = require_http_methods(["GET", "HEAD", "POST"])
MOST_NUMBER = 2**63 - 1  # of a ledger
signed = sensitive_post_parameters("signer_secret")


def _by(request: HttpRequest) -> Any:
    return cast(Request, request).actor


# --- movements


@page
def movement_new(request: HttpRequest) -> HttpResponse:
    """A movement from or into a vessel, with everything known filled in."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if request.method == "POST":
        form = forms.MovementForm(request.POST, in_force=in_force, now=now)
        begins = forms.BEGINS_NOW in request.POST
        if form.is_valid() and (begins or forms.TO_LOAD in request.POST):
            data = form.movement()
            if doubts.raw_from_outside(data, in_force):
                told = _("Raw product from outside is a load. Nothing is recorded yet: complete its paper.")
                messages.info(request, told)
                return redirect(f"{reverse('records:load-new')}?{urlencode(_as_load(data, in_force))}")
        if form.is_valid() and not _doubted(form, in_force, now if begins else None):
            saved = saved_by(form, lambda: actions.record_movement(_by(request), form.movement(start_now=begins)))
            if saved is not None:
                return answer(request, saved, _said(saved), code=_home_of(saved))
    else:
        known = known_movement(request.GET.get("from", ""), request.GET.get("into", ""), in_force, now)
        form = forms.MovementForm(initial=known, in_force=in_force, now=now)
    return show_form(request, form, _("A movement"), template="records/flow/movement_form.html")


def _as_load(data: MovementData, in_force: InForce) -> dict[str, str]:
    """What was typed of a movement, as the form of a load takes it; what has no field of its own goes into its note."""
    typed = " ".join(part for part in (data.quantity_typed, data.unit) if part)
    notes = [data.note]
    if typed and data.unit != "lb":
        notes.append(typed)
    if data.ended_at is not None:
        began, ended = (in_force.calendar.local(one).strftime("%H:%M") for one in (data.started_at, data.ended_at))
        notes.append(_("unloading from %(began)s to %(ended)s") % {"began": began, "ended": ended})
    return {
        "place": data.target,
        "product": data.product,
        "farm_1": data.source_name,
        "pounds": data.quantity_typed if data.unit == "lb" else "",
        "farm_pounds_1": data.quantity_typed if data.unit == "lb" else "",
        "happened_at": data.started_at.isoformat(),
        "words": "; ".join(one for one in notes if one),
    }


def _doubted(form: forms.MovementForm, in_force: InForce, begins_at: datetime | None) -> bool:
    """Whether something is asked once more before it is kept; a form that was saved already is asked nothing."""
    data = form.movement()
    if Movement.objects.filter(form_id=data.form_id).exists():
        return False
    found = doubts.about(data, in_force, begins_at or data.started_at)
    return form.doubt([*found, *doubts.too_full(found, lambda: actions.too_full(data))])


def _amendment_doubted(form: forms.AmendMovementForm, row: Movement) -> bool:
    """As _doubted, of an amendment: only whether the vessel would hold more than it can."""
    data = form.movement()
    if form.cleaned_data["void"] or Movement.objects.filter(form_id=data.form_id).exists():
        return False
    return form.doubt(doubts.too_full([], lambda: actions.too_full(data, row.number)))


def _end_doubted(form: forms.EndForm, row: Movement, in_force: InForce) -> bool:
    """As _doubted, of an end: nothing passes more than its vessels hold unnoticed."""
    if MovementEnd.objects.filter(movement=row.number).exists():
        return False
    data, places = form.end(), (row.target, row.source)
    found = doubts.about_quantity(data.quantity_typed, data.unit, places, in_force, row.product)
    return form.doubt([*found, *doubts.too_full(found, lambda: actions.end_too_full(row.number, data))])


def _said(row: Record) -> str:
    return _("Recorded: %(what)s.") % {"what": story.movement_words(cast(Movement, row), None)}


def _home_of(row: Record) -> str:
    moved = cast(Movement, row)
    return moved.target or moved.source


def known_movement(source: str, target: str, in_force: InForce, now: datetime) -> dict[str, Any]:
    """What the book knows of a movement that a person is about to record."""
    known: dict[str, Any] = {"started_at": now}
    if choices.exit_chosen(target):
        known["target"] = target
    holders = dict(choices.holders(in_force.plan))
    contents = contents_at(now, [one for one in (source, target) if one in holders])
    if source in holders:
        known |= {"source": source, **_from_contents(contents[source])}
    if target in holders:
        known["target"] = target
        known.setdefault("product", contents[target].product)
    vessel, goal = choices.vessel_of(in_force, source), choices.vessel_of(in_force, target)
    if vessel and goal and vessel.stage == "raw" and goal.stage == "pasteurized":
        presses = [one.code for one in in_force.plan.vessels if one.kind == "pasteurizer"]
        known["via"] = presses[0] if len(presses) == 1 else ""
    return known


def _from_contents(one: Contents) -> dict[str, Any]:
    quantity = plain(one.quantity, 1) if one.quantity else ""
    return {"product": one.product, "quantity": quantity, "unit": one.unit}


@page
def movement_end(request: HttpRequest, number: int) -> HttpResponse:
    """The end of a movement that runs."""
    now, in_force = now_and_plan()
    row = Movement.objects.filter(number=number).first()
    if in_force is None or row is None:
        raise Http404
    if request.method == "POST":
        form = forms.EndForm(request.POST, in_force=in_force, now=now)
        if form.is_valid() and not _end_doubted(form, row, in_force):
            saved = saved_by(form, lambda: actions.end_movement(_by(request), number, form.end()))
            if saved is not None:
                return answer(request, saved, _("Its end is recorded."), code=_home_of(row))
    else:
        known = {"ended_at": now, "quantity": row.quantity_typed}
        form = forms.EndForm(initial=known | ({"unit": row.unit} if row.unit else {}), in_force=in_force, now=now)
    return show_form(request, form, _("The end of a movement"), about=story.movement_words(row, None), movement=row)


@signed
@page
def movement_amend(request: HttpRequest, number: int) -> HttpResponse:
    """A movement as it should have been recorded; the old one stays, struck through."""
    now, in_force = now_and_plan()
    row = Movement.objects.filter(number=number).first()
    if in_force is None or row is None:
        raise Http404
    closed = closed_days.is_closed(in_force.calendar.plant_day(row.started_at))
    asked = cast(Request, request)
    if why_not := actions.may_amend(asked.actor, row, closed):
        messages.warning(request, why_not)
        return redirect("records:movement", number=number)
    if request.method == "POST":
        form = forms.AmendMovementForm(request.POST, in_force=in_force, now=now, request=asked)
        if form.is_valid() and not _amendment_doubted(form, row):
            saved = saved_by(form, lambda: _amend(asked, number, form))
            if saved is not None:
                messages.success(request, _("Amended. The old one stands struck through beside it."))
                return redirect("records:movement", number=saved.number)
    else:
        known = as_recorded(row)
        form = forms.AmendMovementForm(initial=known, in_force=in_force, now=now, request=asked)
    return show_form(request, form, _("Amend a movement"), about=story.movement_words(row, None), movement=row)


def _amend(request: Request, number: int, form: forms.AmendMovementForm) -> Movement:
    by = signature_actor(request, form)
    data = form.cleaned_data
    return actions.amend_movement(by, number, form.movement(), data["amend_reason"], data["void"])


def as_recorded(row: Movement) -> dict[str, Any]:
    """A movement's form as it was filled in, its end included."""
    version = story.chain_of(row)[-1] if Movement.objects.filter(amends=row.number).exists() else None
    stands = version.row if version else row
    end = MovementEnd.objects.filter(movement=stands.number).first()
    last = end or stands
    lot = Lot.objects.filter(id=stands.target_lot).first() if stands.target_lot else None
    leaves = exit_of(stands.target, stands.target_name)
    return {
        "source": stands.source or choices.OUTSIDE,
        "source_name": "" if stands.source else stands.source_name,
        "target": stands.target or (f"({leaves})" if leaves else choices.OUTSIDE),
        "target_name": "" if stands.target or leaves else stands.target_name,
        "via": stands.via,
        "product": stands.product,
        "started_at": stands.started_at,
        "ended_at": last.ended_at,
        "quantity": last.quantity_typed,
        "unit": last.unit or stands.unit,
        "unknown": last.quantity is None and last.ended_at is not None,
        "uncertainty": "" if last.uncertainty is None else f"{last.uncertainty.normalize():f}",
        "measured_by": last.measured_by,
        "code": (lot.code or "") if lot else "",
        "note": stands.note,
    }


# --- washes


@page
def washed(request: HttpRequest, code: str, what: str) -> HttpResponse:
    """A wash, or a sanitizing, that has happened."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = place_or_404(in_force, code)
    heading = (_("%(vessel)s: washed") if what == "washed" else _("%(vessel)s: sanitized")) % {"vessel": place.name}
    if request.method == "POST":
        form = forms.WashForm(request.POST, in_force=in_force, now=now, place=code)
        if form.is_valid():
            saved = saved_by(form, lambda: actions.record_wash(_by(request), form.wash(code, what)))
            if saved is not None:
                return answer(request, saved, _("Recorded."), code=code)
    else:
        form = forms.WashForm(initial=_known_wash(code, now), in_force=in_force, now=now, place=code)
    found = programs_at(in_force.plan, code, what)
    return show_form(request, form, heading, template="records/flow/washed.html", programs=found, code=code)


def _known_wash(code: str, now: datetime) -> dict[str, Any]:
    since = contents_at(now, [code])[code].washing_since
    return {"ended_at": now, **({"started_at": since} if since else {})}


@require_POST
def wash_begins(request: HttpRequest, code: str) -> HttpResponse:
    """One tap: the wash begins. Beside product it asks first whether the two are parted."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    name = washed_place_or_404(in_force, code)
    field = fields.form_id()
    try:
        form_id = field.clean(request.POST.get("form_id", ""))
        actions.begin_wash(_by(request), code, form_id, parted=request.POST.get("parted") == "yes")
    except ValidationError as error:
        messages.error(request, error.messages[0])
    except Refused as refused:
        if refused.field == "parted":
            context = {"code": code, "name": name, "why": refused.sentence, "form_id": form_id}
            return render(request, "records/flow/wash_begins.html", context, status=422)
        messages.error(request, str(refused.sentence))
    except actions.DifferentContent:
        messages.error(request, _("This button was used before for something else. Try it again."))
    else:
        messages.success(request, _("%(vessel)s is being washed.") % {"vessel": name})
    return _to_washed(in_force, code)


def _to_washed(in_force: InForce, code: str) -> HttpResponse:
    """The page of a vessel; of other equipment, which has none, the washes."""
    if choices.vessel_of(in_force, code) is None:
        return redirect("records:washes")
    return redirect("records:vessel", code=code)


@require_POST
def wash_not_done(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """One tap: the wash that was said to begin did not happen."""
    in_force = now_and_plan()[1]
    if in_force is None:
        return no_plan(request)
    name = washed_place_or_404(in_force, code)
    try:
        form_id = fields.form_id().clean(request.POST.get("form_id", ""))
        actions.wash_did_not_happen(_by(request), min(number, MOST_NUMBER), form_id)
    except ValidationError as error:
        messages.error(request, error.messages[0])
    except Refused as refused:
        messages.error(request, str(refused.sentence))
    else:
        messages.success(request, _("%(vessel)s: the wash that was begun did not happen.") % {"vessel": name})
    return _to_washed(in_force, code)


# --- levels, events, service, days without production


@page
def level(request: HttpRequest, code: str) -> HttpResponse:
    """A level seen in a vessel."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = place_or_404(in_force, code)
    if not place.holds_product:
        raise Http404
    if request.method == "POST":
        form = forms.LevelForm(request.POST, in_force=in_force, now=now)
        if form.is_valid():
            saved = saved_by(form, lambda: actions.see_level(_by(request), form.level(code)))
            if saved is not None:
                return answer(request, saved, _("The level is recorded."), code=code)
    else:
        known = {"seen_at": now, "unit": place.unit}
        form = forms.LevelForm(initial=known, in_force=in_force, now=now)
    heading = _("%(vessel)s: level seen") % {"vessel": place.name}
    return show_form(request, form, heading, about=contents_at(now, [code])[code].words)


@page
def service(request: HttpRequest, code: str) -> HttpResponse:
    """Take a vessel out of service, or back."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = place_or_404(in_force, code)
    out = not contents_at(now, [code])[code].out_of_service
    if request.method == "POST":
        out = request.POST.get("out", "yes" if out else "no") == "yes"
        form = forms.ServiceForm(request.POST, in_force=in_force, now=now)
        if form.is_valid():
            reason = form.cleaned_data["reason"]
            saved = saved_by(form, lambda: actions.set_service(_by(request), code, out, reason))
            if saved is not None:
                return answer(request, saved, _("Signed."), code=code)
    else:
        form = forms.ServiceForm(in_force=in_force, now=now)
    words = _("%(vessel)s: out of service") if out else _("%(vessel)s: back in service")
    return show_form(request, form, words % {"vessel": place.name}, hidden={"out": "yes" if out else "no"})


@page
def event(request: HttpRequest) -> HttpResponse:
    """Something that happened at the plant, and what was recorded of it in the last day."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if request.method == "POST":
        form = forms.EventForm(request.POST, in_force=in_force, now=now)
        if form.is_valid():
            saved = saved_by(form, lambda: actions.record_event(_by(request), form.event()))
            if saved is not None:
                messages.success(request, _("Recorded."))
                return redirect("records:event")
    else:
        form = forms.EventForm(initial={"happened_at": now}, in_force=in_force, now=now)
    lately = PlantEvent.objects.filter(observed_at__gt=now - timedelta(days=1)).order_by("-observed_at")[:50]
    return show_form(request, form, _("Something happened"), template="records/flow/event.html", lately=lately)


@signed
@page
def no_production(request: HttpRequest) -> HttpResponse:
    """Sign a day or a shift as without production."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    asked = cast(Request, request)
    if request.method == "POST":
        form = forms.SignNoProductionForm(request.POST, in_force=in_force, now=now, request=asked)
        if form.is_valid():
            saved = saved_by(form, lambda: _sign_no_production(asked, form))
            if saved is not None:
                return answer(request, saved, _("Signed: no production."))
    else:
        today = in_force.calendar.plant_day(now)
        form = forms.SignNoProductionForm(initial={"day": today}, in_force=in_force, now=now, request=asked)
    return show_form(request, form, _("No production"))


def _sign_no_production(request: Request, form: forms.SignNoProductionForm) -> Record:
    by = signature_actor(request, form)
    data = form.cleaned_data
    return actions.no_production(by, data["day"], data["shift"], data["reason"])
