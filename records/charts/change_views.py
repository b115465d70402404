"""Pages that record what became of a chart: each form parses, one act saves, then the chart's page."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from records.charts import actions, day, queries
from records.charts.amend_forms import AmendOffForm, AmendOnForm, as_off, as_on
from records.charts.amending import why_not
from records.charts.during import ran_while_on
from records.charts.forms import ChangeForm, InitialsForm, PhotoForm, PutOnForm, SignForm, TakeOffForm
from records.charts.pages import asking, chart_or_404, plan_or_404, recorder_or_404, saved_by
from records.charts.queries import Chart
from records.charts.recorders import recorder_of, recorders
from records.flow.consequences import sentences_of
from records.flow.pages import no_plan, now_and_plan
from records.ledger.models import Record
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.refused import Refused

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


def _by(request: HttpRequest) -> Any:
    return cast(Request, request).actor


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _show(request: HttpRequest, form: Any, heading: str, **more: Any) -> HttpResponse:
    template = more.pop("template", "records/charts/form.html")
    status = 422 if form.errors else 200
    return render(request, template, {"form": form, "heading": heading, **more}, status=status)


def _saved(request: HttpRequest, row: Record, sentence: str, chart: int) -> HttpResponse:
    """Say what was saved and what followed, and go to the chart."""
    messages.success(request, sentence)
    for text in sentences_of(row.number):
        messages.warning(request, text)
    found = queries.chart_of(chart)
    if found is not None and found.past is not None and found.past.act == row.act:
        for text in sentences_of(found.past.number):
            messages.warning(request, text)
    return redirect("records:chart", chart=chart) if found else redirect("records:charts")


@page
def new(request: HttpRequest) -> HttpResponse:
    """A chart put on: first on which recorder, then what."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    recorder = recorder_of(request.GET.get("recorder", ""), in_force)
    if recorder is None:
        return render(request, "records/charts/which.html", {"recorders": recorders(in_force)})
    form = PutOnForm(
        _sent(request), in_force=in_force, now=now, initial={"changed_at": now}, **asking(recorder, in_force)
    )
    if request.method == "POST":
        saved = saved_by(form, lambda: actions.put_on(_by(request), form.on()))
        if saved is not None:
            return _saved(request, saved, _("The chart is recorded as on."), saved.number)
    heading = _("%(recorder)s: a chart put on") % {"recorder": recorder.name}
    return _show(request, form, heading, standing=queries.on_now(recorder.code), zone=in_force.zone)


@page
def off(request: HttpRequest, chart: int) -> HttpResponse:
    """A chart taken off, with none in its place."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    recorder = recorder_or_404(found, in_force)
    form = TakeOffForm(
        _sent(request), in_force=in_force, now=now, initial={"changed_at": now}, **asking(recorder, in_force)
    )
    if request.method == "POST":
        saved = saved_by(form, lambda: actions.take_off(_by(request), form.off(found.number)))
        if saved is not None:
            return _saved(request, saved, _("The chart is recorded as off."), found.number)
    return _show(request, form, _heading(_("%(recorder)s: chart %(chart)s taken off"), found), **_about(found, now))


@page
def change(request: HttpRequest, chart: int) -> HttpResponse:
    """A chart changed for the next one, with one indicating reading."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    recorder = recorder_or_404(found, in_force)
    form = ChangeForm(
        _sent(request), in_force=in_force, now=now, initial={"changed_at": now}, **asking(recorder, in_force)
    )
    if request.method == "POST":
        saved = saved_by(form, lambda: actions.change(_by(request), form.off(found.number), form.on()))
        if saved is not None:
            for text in sentences_of(saved.on.number):
                messages.warning(request, text)
            words = _("Changed: the next chart is on. Photograph this one, both sides, and sign it.")
            return _saved(request, saved.off, words, found.number)
    return _show(request, form, _heading(_("%(recorder)s: chart %(chart)s changed"), found), **_about(found, now))


def _heading(pattern: str, found: Chart) -> str:
    return pattern % {"recorder": found.on.recorder_name, "chart": found.on.chart_number}


def _about(found: Chart, now: Any) -> dict[str, Any]:
    said = {"chart": found, "span": day.span_words(found), "is_past": found.is_past(now)}
    return {**said, "ran": ran_while_on(found, now)}


@page
def photo(request: HttpRequest, chart: int) -> HttpResponse:
    """A photo of one side."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    form = PhotoForm(_sent(request), request.FILES or None, in_force=in_force, now=now, initial=_next_side(request))
    if request.method == "POST":
        saved = saved_by(form, lambda: _keep_photo(request, found.number, form))
        if saved is not None:
            messages.success(request, _("The photo is kept."))
            return redirect("records:chart", chart=found.number)
    return _show(request, form, _heading(_("%(recorder)s: a photo of chart %(chart)s"), found), has_file=True)


def _next_side(request: HttpRequest) -> dict[str, str]:
    side = request.GET.get("side", "")
    return {"side": side} if side in ("front", "back") else {}


def _keep_photo(request: HttpRequest, chart: int, form: PhotoForm) -> Record:
    said = form.cleaned_data
    return actions.keep_photo(_by(request), chart, said["side"], said["photo"], said["note"], said["form_id"])


@signed
@page
def sign(request: HttpRequest, chart: int) -> HttpResponse:
    """The operator's signature under a chart."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    asked = cast(Request, request)
    form = SignForm(_sent(request), request=asked)
    if request.method == "POST" and form.is_valid():
        try:
            actions.sign_chart(signature_actor(asked, form), found.number)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Signed."))
            return redirect("records:chart", chart=found.number)
    papers = queries.papers_of([found])[found.number]
    more = {"missing": day.missing(found, papers), "zone": in_force.zone, **_about(found, now)}
    heading = _heading(_("%(recorder)s: sign chart %(chart)s"), found)
    return _show(request, form, heading, template="records/charts/sign.html", **more)


@page
def initials(request: HttpRequest) -> HttpResponse:
    """The regulator's quarterly initials, copied from the paper."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    number = request.GET.get("chart", "")
    found = queries.chart_of(int(number)) if number.isascii() and number.isdecimal() and len(number) < 19 else None
    initial = {"recorder": found.on.recorder if found else request.GET.get("recorder", "")}
    form = InitialsForm(
        _sent(request), in_force=in_force, now=now, recorders=recorders(in_force), initial=initial
    )
    if request.method == "POST":
        saved = saved_by(
            form, lambda: actions.copy_initials(_by(request), form.initials(found.number if found else None))
        )
        if saved is not None:
            messages.success(request, _("Copied. The initials on the paper stay the ones that count."))
            return redirect("records:chart", chart=found.number) if found else redirect("records:charts")
    return _show(request, form, _("The regulator's quarterly initials"), template="records/charts/initials.html")


@signed
@page
def amend_on(request: HttpRequest, chart: int) -> HttpResponse:
    """What was said when a chart was put on, as it should have been said; signed."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    asked = cast(Request, request)
    if sentence := why_not(asked.actor, found.on):
        messages.warning(request, sentence)
        return redirect("records:chart", chart=found.number)
    form = AmendOnForm(
        _sent(request), in_force=in_force, now=now, request=asked, initial=as_on(found.on),
        **asking(recorder_or_404(found, in_force), in_force),
    )  # fmt: skip
    if request.method == "POST":
        saved = saved_by(
            form,
            lambda: actions.amend_on(
                signature_actor(asked, form), found.number, form.amended(found.on), form.cleaned_data["amend_reason"],
                void=form.cleaned_data["void"],
            ),
        )  # fmt: skip
        if saved is not None:
            return _saved(request, saved, _("Amended. The old one stands struck through beside it."), found.number)
    return _show(request, form, _heading(_("%(recorder)s: amend how chart %(chart)s was put on"), found))


@signed
@page
def amend_off(request: HttpRequest, chart: int) -> HttpResponse:
    """What was said when a chart was taken off, as it should have been said; signed."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    asked = cast(Request, request)
    if found.off is None:
        raise Http404(_("This chart has not been taken off."))
    old = found.off
    if sentence := why_not(asked.actor, old):
        messages.warning(request, sentence)
        return redirect("records:chart", chart=found.number)
    form = AmendOffForm(
        _sent(request), in_force=in_force, now=now, request=asked, initial=as_off(old),
        **asking(recorder_or_404(found, in_force), in_force),
    )  # fmt: skip
    if request.method == "POST":
        saved = saved_by(
            form,
            lambda: actions.amend_off(
                signature_actor(asked, form), found.number, form.amended(old), form.cleaned_data["amend_reason"],
                void=form.cleaned_data["void"],
            ),
        )  # fmt: skip
        if saved is not None:
            return _saved(request, saved, _("Amended. The old one stands struck through beside it."), found.number)
    return _show(request, form, _heading(_("%(recorder)s: amend how chart %(chart)s was taken off"), found))

