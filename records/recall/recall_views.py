"""Recalls and rehearsals: the list, one with what it still lacks, a form for each step."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.process.units import plain
from records.flow.pages import no_plan, now_and_plan
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import InForce
from records.recall import actions, recipients, state
from records.recall.forms import EndForm, RecallForm, ScopeForm, StepAmendForm, StepForm
from records.recall.models import ProductReturned, RecallStep
from records.recall.pages import opened
from records.recall.returned import fate, held_as
from records.recall.state import Recall
from records.recall.told import address_query, asked_of
from records.recall.views import find
from records.recall.words import REHEARSED, STEPS, step_words
from records.run_rows.pages import by, deviations_of, may, saved, sent, show

MOST = 60
FORM = "records/recall/form.html"
# The address of each step by itself.
SLUGS = {one.replace(" ", "-"): one for one in STEPS}
page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


@require_safe
def recalls(request: HttpRequest) -> HttpResponse:
    """The latest recalls and rehearsals, each with what it lacks."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    context = {
        "rows": [(one, len(state.missing(one)), _percent(one)) for one in state.recalls(MOST)],
        "zone": in_force.zone,
        "most": MOST,
    }
    return render(request, "records/recall/recalls.html", context)


@require_safe
def recall(request: HttpRequest, recall: int) -> HttpResponse:
    """One: its scope as begun, what it must have, what was done, who answers."""
    found, in_force = _open(recall)
    mine = by(request)
    told = list(RecallStep.objects.filter(recall=found.number).order_by("happened_at", "number"))
    standing = {one.number for one in found.steps}
    may_say = may(request, "records:recall-step")
    account = state.accounted(found)
    parts = [one.part for one in told if one.part is not None]
    came = dict(ProductReturned.objects.filter(part__in=parts).order_by("number").values_list("part", "number"))
    holds = held_as(parts)
    context = {
        "recall": found,
        "needed": state.needed(found),
        "told": [
            (
                one, step_words(one.what), one.number not in standing,
                may_say and one.number in standing and one.what in STEPS and one.part is None
                and not actions.may_amend_row(mine, one),
                (came[one.part], fate(holds.get(one.part, []))) if one.part in came else None,
            )
            for one in told
        ],
        "account": account,
        "recipients": [_recipient(one) for one in ([] if found.begun.mock else recipients.recipients(found))],
        "apart": [] if found.begun.mock else recipients.apart(found),
        "may_return": may(request, "records:return-new") and not found.begun.mock,
        "may_amend_return": may(request, "records:return-amend"),
        "made": _amount(account.made, account.unit),
        "accounted": _amount(account.accounted, account.unit),
        "percent": _percent(found),
        "deviations": deviations_of(one.number for one in found.steps),
        "steps": [(slug, step_words(what)) for slug, what in SLUGS.items() if what in _steps(found)],
        "may_say": may_say and not (found.begun.mock and found.ended is not None),
        "may_end": may(request, "records:recall-end") and found.ended is None,
        "query": _query(found, in_force),
        "zone": in_force.zone,
    }  # fmt: skip
    return render(request, "records/recall/recall.html", context)


def _recipient(one: recipients.Recipient) -> dict[str, Any]:
    """A row of the table, in words."""
    figures = {name: _amount(getattr(one, name), one.unit) for name in ("sent", "returned", "destroyed", "outstanding")}
    return {"row": one, "more": _amount(one.more, one.unit) if one.more else "", "out": one.outstanding != 0, **figures}


def _steps(found: Recall) -> tuple[str, ...]:
    return REHEARSED if found.begun.mock else STEPS


def _percent(found: Recall) -> str:
    """How much was accounted for: as it was written down at the end, else as it is now."""
    if found.ended is not None:
        return "" if found.ended.percent is None else f"{plain(found.ended.percent, 1)} %"
    percent = state.accounted(found).percent
    return "" if percent is None else f"{plain(percent, 1)} %"


def _amount(value: Any, unit: str) -> str:
    return _("not known") if value is None else f"{plain(value, 1)} {unit}"


def _query(found: Recall, in_force: InForce) -> str:
    """The address of the scope as it is computed now, from what it began from."""
    asked = asked_of(found.begun.origin)
    local = in_force.calendar.local
    times = {
        name: local(moment).strftime("%Y-%m-%dT%H:%M")
        for name, moment in (("since", asked.since), ("until", asked.until))
        if moment is not None
    }
    return address_query(
        {
            "entry": str(asked.entry or ""), "code": asked.code, "lot": str(asked.lot or ""), "place": asked.place,
            "source": asked.source, "roll": asked.roll, **times,
        }
    )  # fmt: skip


@signed
@page
def new(request: HttpRequest) -> HttpResponse:
    """A recall or rehearsal begun, from the scope that the address names; signed afresh."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    asked_form = ScopeForm(QueryDict(request.GET.urlencode()), in_force=in_force, now=now)
    found = find(asked_form, in_force, now) if request.GET else None
    if found is None:
        messages.warning(request, _("Say first from what it begins."))
        return redirect("records:recall-scope")
    asked = cast(Request, request)
    form = RecallForm(sent(request), in_force=in_force, now=now, request=asked)
    if request.method == "POST":
        row = saved(form, lambda: actions.begin_recall(signature_actor(asked, form), form.said(asked_form.asked())))
        if row is not None:
            messages.success(request, _("It is begun."))
            return redirect("records:recall", recall=row.number)
    about = _("%(words)s: %(lots)d lots, %(packs)d of them packs") % {
        "words": found.begun.words, "lots": len(found.scope.lots), "packs": len(found.scope.packs),
    }  # fmt: skip
    return show(request, form, _("Begin a recall, or a rehearsal of one"), FORM, about=about)


@page
def step(request: HttpRequest, recall: int, what: str) -> HttpResponse:
    """One thing done."""
    found, in_force = _open(recall)
    if SLUGS.get(what, "") not in _steps(found):
        raise Http404(_("There is no such step."))
    now, _plan = now_and_plan()
    kind = SLUGS[what]
    known = {"consignee": request.GET.get("who", "")}
    form = StepForm(sent(request), in_force=in_force, now=now, what=kind, recall=found, initial=known)
    if request.method == "POST":
        row = saved(form, lambda: actions.record_step(by(request), form.said()))
        if row is not None:
            return _recorded(request, row)
    words = {"number": found.number, "what": step_words(kind)}
    return show(request, form, _("Recall %(number)d: %(what)s") % words, FORM, recall=found)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A step as it should have been recorded."""
    row, now, in_force = opened(RecallStep, number, _("There is no such step."))
    if row.what not in STEPS:
        raise Http404(_("There is no such step."))
    found, _plan = _open(row.recall)
    known: dict[str, Any] = {
        "happened_at": row.happened_at, "consignee": row.consignee, "code": row.code, "quantity": row.quantity_typed,
        "words": row.words,
    }  # fmt: skip
    if row.unit:
        known["unit"] = row.unit
    form = StepAmendForm(sent(request), in_force=in_force, now=now, what=row.what, recall=found, initial=known)
    if request.method == "POST":
        amended = saved(form, lambda: _amended(request, form, row))
        if amended is not None:
            return _recorded(request, amended)
    words = {"number": found.number, "what": step_words(row.what)}
    refusal = actions.may_amend_row(by(request), row)
    return show(request, form, _("Recall %(number)d: amend “%(what)s”") % words, FORM, recall=found, refusal=refusal)


def _amended(request: HttpRequest, form: StepAmendForm, row: RecallStep) -> RecallStep:
    given = form.cleaned_data
    return actions.amend_step(by(request), row.number, form.said(), given["reason"], void=given["void"])


@signed
@page
def end(request: HttpRequest, recall: int) -> HttpResponse:
    """The end, with what is still missing in sight; signed afresh."""
    found, in_force = _open(recall)
    now, _plan = now_and_plan()
    asked = cast(Request, request)
    form = EndForm(sent(request), in_force=in_force, now=now, request=asked)
    if request.method == "POST":
        row = saved(form, lambda: actions.end_recall(signature_actor(asked, form), form.said(found.number)))
        if row is not None:
            messages.success(request, _("It is ended."))
            return redirect("records:recall", recall=found.number)
    heading = _("End recall %(number)d") % {"number": found.number}
    return show(request, form, heading, FORM, recall=found, missing=state.missing(found)[:-1])


def _recorded(request: HttpRequest, row: Any) -> HttpResponse:
    messages.success(request, _("Recorded: %(what)s.") % {"what": step_words(row.what)})
    return redirect("records:recall", recall=row.recall)


def _open(number: int) -> tuple[Recall, InForce]:
    found = state.recall_of(number)
    _now, in_force = now_and_plan()
    if found is None or in_force is None:
        raise Http404(_("There is no such recall."))
    return found, in_force
