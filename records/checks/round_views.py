"""The Round: one check at a time, saved at the first submit; then what was done; then the signature under it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, cast
from urllib.parse import urlencode

from django import forms as django_forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from records.checks import announced, elsewhere, matters, saying, walk
from records.checks import asking as asks
from records.checks.actions import DifferentContent, Saved, record_reading, sign_round, unsigned_readings
from records.checks.asking import Asking
from records.checks.entry import Nonsense
from records.checks.forms import DoneForm, NotTakenForm, ReadingForm
from records.checks.models import Reading, RoundSigned
from records.deviations.errors import Refused
from records.flow import queries as flow
from records.flow.pages import back_to, no_plan, now_and_plan, with_query
from records.judging import queries as verdicts
from records.judging.judge import OUT
from records.ledger.files import FileRefused
from records.people.components import signature_actor
from records.people.forms import SignatureFields
from records.people.middleware import Request
from records.people.plans import InForce, plan_in_force

page = require_http_methods(["GET", "HEAD", "POST"])
# A round left open longer than this is signed as it stands, and a new one begins.
ROUND = timedelta(hours=16)


def sent(request: HttpRequest) -> QueryDict | None:
    """What a submit sent, be it nothing at all; None for a page that was only asked for."""
    return request.POST if request.method == "POST" else None


@require_safe
def round_page(request: HttpRequest) -> HttpResponse:
    """The first check that waits, or what comes next when none does. `?after=`: the reading just saved."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    after = reading_of(request.GET.get("after", ""))
    way = walk.walk_at(now, in_force, cast(Request, request).roles)
    found = walk.next_check(way, after, now)
    context = _context(request, now, in_force, way, after)
    if found is None:
        return render(request, "records/checks/round_rest.html", context)
    return _show(request, asks.of_check(found), None, context)


@page
def round_check(request: HttpRequest, key: str) -> HttpResponse:
    """The form of one check, and its submit."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    asking = asks.asked(key, now)
    if asking is None:
        raise Http404(_("The plan asks for no such check."))
    form = None
    if request.method == "POST":
        form = _form(request, asking, request.POST)
        saved = saved_by(request, form, asking)
        if saved is not None:
            return redirect(_onward(request, saved))
    way = walk.walk_at(now, in_force, cast(Request, request).roles)
    return _show(request, asking, form, _context(request, now, in_force, way, None))


def _form(request: HttpRequest, asking: Asking, data: Any = None) -> ReadingForm | NotTakenForm:
    initials = cast(Request, request).actor.initials
    if request.GET.get("could_not"):
        back = with_query(address(asking), next=back_to(request))
        return NotTakenForm(data, asking=asking, initials=initials, back=back)
    now, _in_force = now_and_plan()
    return ReadingForm(
        data, request.FILES or None, asking=asking, now=now, initials=initials, back=back_to(request)
    )


def saved_by(request: HttpRequest, form: Any, asking: Asking | None = None) -> Saved | None:
    """Save what a form says; None with its refusal beside the fields, or with what was saved before on the form."""
    if not form.is_valid():
        return None
    try:
        return record_reading(cast(Request, request).actor, form.data_of())
    except (Nonsense, Refused) as refused:
        form.refuse(refused)
    except FileRefused as refused:
        form.add_error("photo" if "photo" in form.fields else None, str(refused))
    except DifferentContent as different:
        form.saved_before = different.saved
        form.add_error(None, _("This form was saved before with other content. What was saved stands."))
    return None


def address(asking: Asking) -> str:
    """Where a check's form is."""
    moment = f"{asking.due_at:{asks.KEY_TIME}}" if asking.due_at else ""
    key = f"{asking.monitoring.key}|{asking.subject}|{asking.event}|{moment}"
    return reverse("records:round-check", args=[key])


def _onward(request: HttpRequest, saved: Saved) -> str:
    """After a save: what was done, when it asks for that; else the page it was opened from, or the next check."""
    back = back_to(request)
    if saved.verdict is not None and saved.verdict.outcome in OUT:
        return with_query(reverse("records:reading-answer", args=[saved.reading.number]), next=back)
    if back:
        words = {"name": saved.reading.what, "value": saying.value_words(saved.reading)}
        messages.success(request, _("Kept: %(name)s, %(value)s") % words)
    return back or f"{reverse('records:round')}?after={saved.reading.number}"


def reading_of(text: str) -> Reading | None:
    """The reading of a number in an address, or None."""
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        return None
    return Reading.objects.filter(number=int(text)).first()


def _context(
    request: HttpRequest, now: datetime, in_force: InForce, way: walk.Walk, after: Reading | None
) -> dict[str, Any]:
    actor = cast(Request, request).actor
    unsigned = unsigned_readings(actor.person_id, now - ROUND)
    context: dict[str, Any] = {
        "way": way,
        "now": now,
        "zone": in_force.zone,
        "today": in_force.calendar.local(now),
        "unsigned": len(unsigned),
        "initials": actor.initials,
        "coming": [(asks.of_check(one), one) for one in way.coming],
    }
    if after is not None:
        context["after"] = after
        context["after_words"] = saying.value_words(after)
        context["after_verdict"] = verdicts.governing(Reading.KIND, [after.number]).get(after.number)
        context["after_answered"] = matters.is_answered(after)
    return context


def _show(
    request: HttpRequest, asking: Asking, form: ReadingForm | NotTakenForm | None, context: dict[str, Any]
) -> HttpResponse:
    """The page of one check, with the walk beside it."""
    now = context["now"]
    held = flow.contents_at(now, [asking.subject]).get(asking.subject)
    running = flow.held_or_running(asking.subject, now) if held is None else None
    product = held.product if held and held.holds else (running.product if running else "")
    if held is None and not product:
        product = announced.product_at(asking.subject, now)
    classes = {one.code: one.product_class for one in asking.in_force.plan.products}
    lot = held.lot if held else (running.lot if running else None)
    key = asking.check.key if asking.check else ""
    context |= {
        "asking": asking,
        "form": form or _form(request, asking),
        "action": with_query(
            address(asking), could_not="1" if request.GET.get("could_not") else "", next=back_to(request)
        ),
        "could_not": bool(request.GET.get("could_not")),
        "here": key,
        "held": held,
        "running": running,
        "on_hold": flow.held_lots_at(now).get(lot, []) if lot else [],
        "due_words": saying.since_due(asking, now),
        "limits": [(one, saying.limit_words(one)) for one in asking.limits(classes.get(product, ""))],
        "gauge": saying.gauge(asking, classes.get(product, ""), now),
        "keep": f"{asking.monitoring.key} {asking.subject} {asking.event} {asking.due_at}",
        "unit_other": asking.units[1] if len(asking.units) > 1 else "",
        "usual": asking.usual,
        "answered": asking.check.reading if asking.check else None,
    }
    own_form = elsewhere.form_of(asking.monitoring, asking.subject, asking.event, asking.in_force)
    if own_form and form is None and not context["could_not"]:
        joined = "&" if "?" in own_form else "?"
        context["own_form"] = f"{own_form}{joined}{urlencode({'next': back_to(request) or reverse('records:round')})}"
    if context["answered"] is not None:
        context["answered_words"] = saying.value_words(context["answered"])
    errors = bool(context["form"].errors)
    return render(request, "records/checks/round.html", context, status=422 if errors else 200)


# --- after a reading that asks for an answer


@page
def answer(request: HttpRequest, number: int) -> HttpResponse:
    """The verdict of a reading just kept, and at once: what was done? Leaving leaves the deviation open."""
    reading = Reading.objects.filter(number=number).first()
    if reading is None:
        raise Http404(_("There is no such reading."))
    matter = matters.matter_of(reading)
    leave = back_to(request) or f"{reverse('records:round')}?after={number}"
    actor = cast(Request, request).actor
    form = DoneForm(
        sent(request),
        initials=actor.initials,
        leave=leave,
        leave_words=_("Leave it open") if matter.deviation else _("Go on"),
        label=matter.question,
    )
    if request.method == "POST" and form.is_valid():
        try:
            matters.write(actor, matter, form.cleaned_data["text"], form.cleaned_data["form_id"])
        except (Nonsense, Refused) as refused:
            form.refuse(refused)
        else:
            return redirect(leave)
    return render(request, "records/checks/answer.html", _answer_context(reading, matter, form), status=_status(form))


def _answer_context(reading: Reading, matter: matters.Matter, form: DoneForm) -> dict[str, Any]:
    in_force = plan_in_force(reading.observed_at)
    asking = asks.of_reading(reading)
    outcome = matter.verdict.outcome if matter.verdict else ""
    gauge = None
    if asking is not None and reading.value is not None:
        gauge = saying.gauge(asking, reading.product_class, reading.observed_at, reading, outcome)
    recheck = asking.monitoring.recheck_min if asking else 0
    return {
        "reading": reading,
        "value_words": saying.value_words(reading),
        "matter": matter,
        "asking": asking,
        "gauge": gauge,
        "form": form,
        "zone": in_force.zone if in_force else "",
        "recheck_at": reading.observed_at + timedelta(minutes=recheck) if recheck and matter.is_out else None,
        "on_hold": flow.held_lots_at(reading.received_at).get(reading.lot, []) if reading.lot else [],
    }


def _status(form: django_forms.Form) -> int:
    return 422 if form.errors else 200


# --- the signature under the round


class SignRound(SignatureFields):
    """The PIN at the round's end, afresh."""

    main = gettext_lazy("Sign the round")


@sensitive_post_parameters("signer_secret")
@page
def sign(request: HttpRequest) -> HttpResponse:
    """One's own readings that no signature covers yet, and the PIN that signs them."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    asked = cast(Request, request)
    readings = unsigned_readings(asked.actor.person_id, now - ROUND)
    last = RoundSigned.objects.filter(by_id=asked.actor.person_id).order_by("-number").first()
    form = SignRound(sent(request), request=asked, out_url=reverse("records:round"))
    form.out = _("Back to the round")
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            shift = walk.shift_of(in_force, now)
            day = shift.plant_day if shift else in_force.calendar.plant_day(now)
            opened = readings[0].received_at if readings else (last.started_at if last else now)
            sign_round(by, shift.key if shift else "", day, opened)
        except Refused as refused:
            form.refuse(refused)
        else:
            return redirect("records:round-sign")
    outcomes = verdicts.governing(Reading.KIND, [one.number for one in readings])
    rows = [(one, saying.value_words(one), outcomes.get(one.number)) for one in readings]
    signed = {"rows": rows, "form": form, "last": last, "zone": in_force.zone}
    return render(request, "records/checks/sign.html", signed, status=_status(form))


# --- the QR on a vessel


@require_safe
def at(request: HttpRequest, code: str) -> HttpResponse:
    """Where the QR on a vessel leads: its first check that waits, else its page."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if code not in in_force.names:
        raise Http404(_("The plan in force knows no place of that code."))
    way = walk.walk_at(now, in_force, cast(Request, request).roles)
    found = next((one for one in way.waiting if one.due.subject == code), None)
    if found is not None:
        return redirect("records:round-check", key=found.key)
    if any(one.code == code for one in in_force.plan.vessels):
        return redirect("records:vessel", code=code)
    return redirect(f"{reverse('records:readings')}?place={code}")

