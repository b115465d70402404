"""Pages of rework: what is kept now, one portion, its use, its being thrown away."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from records.deviations.errors import Refused
from records.flow import choices
from records.flow.consequences import sentences_of
from records.flow.forms import BEGINS_NOW
from records.flow.models import Movement
from records.flow.pages import no_plan, now_and_plan, saved_by
from records.freezer_runs.words import allergen_words
from records.labels.contents import contents_of
from records.people.plans import InForce
from records.rework import actions, pages
from records.rework.forms import AwayForm, PortionForm, UseForm
from records.rework.state import Portion, like_only, portion_of, portions
from records.run_rows import pages as run_pages

page = require_http_methods(["GET", "HEAD", "POST"])
FORM = "records/rework/form.html"
# What is gone is shown for so long.
LATELY = timedelta(days=14)


@require_safe
def rework(request: HttpRequest) -> HttpResponse:
    """What is kept as rework now, the shortest hours first; then what became of the last weeks'."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    found = portions(now, in_force)
    kept = sorted((one for one in found if one.is_kept), key=lambda one: (one.until(in_force), one.number))
    gone = [one for one in reversed(found) if one.emptied_at is not None and one.emptied_at > now - LATELY]
    told = pages.all_shown([*kept, *gone], now, in_force)
    context = {
        "kept": told[: len(kept)],
        "gone": told[len(kept) :],
        "days": LATELY.days,
        "most": in_force.plan.settings.rework_h,
        "like_only": like_only(in_force.plan),
        "version": in_force.number,
        "may_say": run_pages.may(request, "records:rework-use"),
        "zone": in_force.zone,
    }
    return render(request, "records/rework/rework.html", context)


def _portion_or_404(number: int) -> tuple[Portion, datetime, InForce]:
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    found = portion_of(number, in_force)
    if found is None:
        raise Http404(_("There is no such rework."))
    return found, now, in_force


@require_safe
def portion(request: HttpRequest, number: int) -> HttpResponse:
    """One portion: where it came from, its hours, what is in it, what it went into."""
    found, now, in_force = _portion_or_404(number)
    numbers = [found.row.number, *(one.number for one in found.out)]
    contents = contents_of(found.code, found.lot, found.row.product, now, in_force)
    context = {
        "one": pages.all_shown([found], now, in_force)[0],
        "contents": [(one.name, allergen_words(", ".join(sorted(one.allergens)))) for one in contents],
        "deviations": run_pages.deviations_of(numbers),
        "may_say": run_pages.may(request, "records:rework-use"),
        "version": in_force.number,
        "most": in_force.plan.settings.rework_h,
        "zone": in_force.zone,
    }
    return render(request, "records/rework/portion.html", context)


def _doubted(form: PortionForm, portion: Portion, said: Any) -> bool:
    """Whether something is asked once more; a form that was saved already is asked nothing."""
    if Movement.objects.filter(form_id=said.form_id).exists():
        return False
    try:
        return form.doubt(actions.doubts(portion, said, form.in_force))
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused.sentence))
        return True


def _saved(request: HttpRequest, row: Movement, number: int) -> HttpResponse:
    messages.success(request, _("Recorded: %(what)s.") % {"what": pages.took_words(row)})
    for text in sentences_of(row.number):
        messages.warning(request, text)
    return redirect("records:rework-portion", number=number)


def _show(request: HttpRequest, form: PortionForm, heading: str, now: datetime) -> HttpResponse:
    one = pages.all_shown([form.portion], now, form.in_force)[0]
    context = {
        "form": form, "heading": heading, "one": one, "zone": form.in_force.zone, "back": reverse("records:rework"),
    }  # fmt: skip
    return render(request, FORM, context, status=422 if form.errors else 200)


@page
def use(request: HttpRequest, number: int) -> HttpResponse:
    """Rework used: it begins now, or has happened."""
    found, now, in_force = _portion_or_404(number)
    form = UseForm(
        run_pages.sent(request), in_force=in_force, now=now, portion=found, initial=_known(request, found, in_force)
    )
    if request.method == "POST" and form.is_valid():
        said = form.said(begins_now=BEGINS_NOW in request.POST)
        if not _doubted(form, found, said):
            saved = saved_by(form, lambda: actions.use(run_pages.by(request), said))
            if isinstance(saved, Movement):
                return _saved(request, saved, number)
    heading = _("%(name)s: use it") % {"name": in_force.names.get(found.code, found.code)}
    return _show(request, form, heading, now)


def _known(request: HttpRequest, found: Portion, in_force: InForce) -> dict[str, Any]:
    """The vessel that the page was opened for, else the one that it was drawn from."""
    wanted = request.GET.get("into", "") or (found.moved.source if found.moved is not None else "")
    return {"target": wanted} if wanted in dict(choices.holders(in_force.plan)) else {}


@page
def away(request: HttpRequest, number: int) -> HttpResponse:
    """Rework thrown away."""
    found, now, in_force = _portion_or_404(number)
    form = AwayForm(run_pages.sent(request), in_force=in_force, now=now, portion=found)
    if request.method == "POST" and form.is_valid():
        said = form.said()
        if not _doubted(form, found, said):
            saved = saved_by(form, lambda: actions.throw_away(run_pages.by(request), said))
            if isinstance(saved, Movement):
                return _saved(request, saved, number)
    heading = _("%(name)s: throw it away") % {"name": in_force.names.get(found.code, found.code)}
    return _show(request, form, heading, now)
