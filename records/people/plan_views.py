"""Pages that sign: approving a draft, and changing a description of the plant after an approval."""

from __future__ import annotations

from datetime import datetime
from typing import cast
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from plant.hazard_plan.content import Plan
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.written import plan_of
from plant.people.models import Role
from records.people import plan_actions, revisions
from records.people.components import signature_actor
from records.people.forms import SignPlan
from records.people.middleware import Request
from records.people.models import PlanApproval
from records.people.refused import Refused

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


@signed
@page
def approve(request: HttpRequest, number: int) -> HttpResponse:
    """What an approval would freeze, its hash, the signatures so far, and the form for the reader's own."""
    asked, version = cast(Request, request), get_object_or_404(PlanVersion, number=number)
    plan = plan_of(version)
    _text, content_hash = plan_actions.frozen_plan(plan)
    approval = PlanApproval.objects.filter(version_id=version.id).first()
    given = plan_actions.signatures(version, approval.content_hash if approval else content_hash)
    meaning = _meaning(asked, [one.meaning for one in given])
    form = None
    if approval is None and meaning:
        form = SignPlan(request.POST or None, request=asked, initial={"signed_hash": content_hash})
        if not given:  # the first of the two cannot bring it into force
            del form.fields["in_force_from"]
        if request.method == "POST" and form.is_valid() and _sign(asked, version, meaning, form, plan):
            return redirect("records:plan-approve", number)
    elif request.method == "POST":
        messages.warning(request, _("There is nothing left for you to sign here; nothing was written."))
        return redirect("records:plan-approve", number)
    place = {
        "version": version,
        "plan": plan,
        "content_hash": content_hash,
        "approval": approval,
        "given": given,
        "meaning": meaning,
        "form": form,
        "counts": _counts(plan),
        "problems": plan_actions.refusals(plan),
        "plan_zone": plan.plant.time_zone,
    }
    return render(request, "records/people/approve.html", place)


def _meaning(request: Request, given: list[str]) -> str:
    """The signature that the reader could still give."""
    roles = {Role.QUALIFIED.value: plan_actions.QUALIFIED_SIGNS, Role.OWNER.value: plan_actions.OWNER_SIGNS}
    return next((said for role, said in roles.items() if role in request.roles and said not in given), "")


def _sign(request: Request, version: PlanVersion, meaning: str, form: SignPlan, plan: Plan) -> bool:
    wanted = form.cleaned_data.get("in_force_from")
    starts = _at_the_plant(wanted, plan.plant.time_zone) if wanted else None
    try:
        by = signature_actor(request, form)
        done = plan_actions.sign_plan(by, version, meaning, starts, form.cleaned_data["signed_hash"])
    except Refused as refused:
        form.refuse(refused)
        return False
    approved = isinstance(done, PlanApproval)
    messages.success(request, _("Approved and frozen.") if approved else _("Signed. The second signature approves it."))
    return True


def _at_the_plant(typed: datetime, zone: str) -> datetime:
    """The form reads times as UTC (TIME_ZONE); the person meant the plant's."""
    return typed.replace(tzinfo=ZoneInfo(zone))


def _counts(plan: Plan) -> list[tuple[str, int]]:
    return [
        (_("shifts"), len(plan.shifts)),
        (_("vessels"), len(plan.vessels)),
        (_("other equipment and areas"), len(plan.equipment)),
        (_("instruments"), len(plan.instruments)),
        (_("products"), len(plan.products)),
        (_("process steps"), len(plan.steps)),
        (_("hazards"), len(plan.hazards)),
        (_("control points"), len(plan.control_points)),
        (_("limits"), len(plan.limits)),
        (_("checks to make"), len(plan.monitoring)),
        (_("programmes"), len(plan.programmes)),
        (_("verification activities"), len(plan.verification)),
    ]


@signed
@page
def revise(request: HttpRequest, table: str, code: str) -> HttpResponse:
    """Change the description of a vessel, instrument, product or other equipment, signed, with the reason."""
    asked = cast(Request, request)
    row = revisions.find(table, code)
    form = revisions.form_for(row, request.POST or None, request=asked)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            done = revisions.revise(by, table, row, form.changes(), form.cleaned_data["reason"])
        except Refused as refused:
            form.refuse(refused)
        else:
            said = _("Written and signed.") if done else _("Nothing was different; nothing was written.")
            messages.success(request, said)
            return redirect("records:plant-revise", table, code)
    place = {"form": form, "row": row, "history": revisions.history(row)}
    return render(request, "records/people/revise.html", place)
