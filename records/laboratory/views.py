"""The pages of samples: what is due and what came in, one sample with its results, tables, the trend of a test."""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.process.laboratory import CONTROLS, TESTS, Kind
from records.flow.consequences import sentences_of
from records.flow.pages import no_plan, now_and_plan
from records.judging.queries import governing
from records.judging.words import to_operator
from records.laboratory import actions, consequences, forms, queries, retained, running_rule, sites, tables
from records.laboratory.controls import batch_of
from records.laboratory.models import PLATE, RETAINED, LabResult, Sample
from records.laboratory.picture import trend_chart
from records.laboratory.words import in_words, result_words, running_words
from records.people.plans import InForce
from records.run_rows import pages

page = require_http_methods(["GET", "HEAD", "POST"])
FORM = "records/laboratory/form.html"
MOST = 60


@require_safe
def samples(request: HttpRequest) -> HttpResponse:
    """What is due, and the latest samples with what each still waits for."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    rows = list(queries.standing(Sample.objects.all()).order_by("-observed_at", "-number")[:MOST])
    results = list(queries.standing(LabResult.objects.filter(sample__in=[queries.root_of(one) for one in rows])))
    verdicts = governing(LabResult.KIND, [one.number for one in results])
    lines = []
    for one in rows:
        mine = [each for each in results if each.sample == queries.root_of(one)]
        there = {each.test for each in mine}
        outcomes = {verdicts[each.number].outcome for each in mine if each.number in verdicts}
        missed = "not met" in outcomes
        waits = [in_words(test) for test in one.tests if test not in there]
        lines.append({"row": one, "kind": in_words(one.kind), "waits": waits, "missed": missed, "results": len(mine),
                      "unproven": "not proven" in outcomes,
                      "of": one.lot_label or one.farm or one.place_name})  # fmt: skip
    shown = {
        "again": [(one, in_words(one.test)) for one in running_rule.asked_again(now, in_force)],
        "follow": _follow(sites.trends(now), in_force),
        "due": [(one, in_words(one.row.test)) for one in queries.due_samples(now, in_force)],
        "ended": retained.ended(now, in_force),
        "lines": lines,
        "most": MOST,
        "tests": [(key, in_words(key)) for key in TESTS if any(one.test == key for one in results)],
        "may_record": pages.may(request, "records:sample-new"),
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/laboratory/samples.html", shown)


@require_safe
def sample(request: HttpRequest, number: int) -> HttpResponse:
    """One sample: of what, on its way, its results with their verdicts, what its lot still waits for."""
    row = _sample_or_404(number)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    root = queries.root_of(row)
    results = list(LabResult.objects.filter(sample=root).order_by("observed_at", "number"))
    replaced = {one.amends for one in results}
    verdicts = governing(LabResult.KIND, [one.number for one in results])
    by, may = pages.by(request), pages.may(request, "records:sample-result")
    told: list[dict[str, Any]] = []
    for one in results:
        verdict = verdicts.get(one.number)
        stands = one.number not in replaced and not one.void
        told.append({
            "row": one, "test": in_words(one.test), "said": result_words(one), "stands": stands, "verdict": verdict,
            "outcome": to_operator(verdict.outcome) if verdict is not None else _("not judged: the plan has no limit"),
            "missed": verdict is not None and verdict.outcome == "not met",
            "deviation": consequences.deviation_of(one.number),
            "may_amend": stands and may and not actions.why_not(by, one),
        })  # fmt: skip
    shown = {
        "row": row,
        "kind": in_words(row.kind),
        "retained": row.kind == RETAINED,
        "told": told,
        "waits": [in_words(one) for one in row.tests if not any(each["stands"] and each["row"].test == one
                                                               for each in told)],
        "wanted": queries.wanted_results(row.lot) if row.lot is not None else [],
        "batch": _batch(row, results, in_force),
        "running": _running(row, results, in_force),
        "counts": any(TESTS[one.test].kind is Kind.COUNT and one.test not in CONTROLS for one in results),
        "may_result": may and not row.void,
        "may_amend": may and not row.void and not actions.why_not(by, row),
        "zone": in_force.zone,
        "now": now,
    }  # fmt: skip
    return render(request, "records/laboratory/sample.html", shown)


def _batch(row: Sample, results: list[LabResult], in_force: InForce) -> list[dict[str, Any]]:
    """What a control plate speaks for, with how each is judged by now."""
    if row.kind != PLATE or not results:
        return []
    found = {one.number: one for control in results if not control.void for one in batch_of(control, in_force)}
    verdicts = governing(LabResult.KIND, list(found))
    return [
        {"row": one, "test": in_words(one.test), "said": result_words(one),
         "outcome": to_operator(verdicts[one.number].outcome) if one.number in verdicts else "—"}
        for one in sorted(found.values(), key=lambda one: one.number)
    ]  # fmt: skip


def _running(row: Sample, results: list[LabResult], in_force: InForce) -> list[str]:
    found = []
    for test in dict.fromkeys(one.test for one in results):
        rule = queries.running_of(row, test, in_force)
        text = running_words(rule) if rule is not None else ""
        if text:
            found.append(f"{in_words(test).capitalize()}: {text}")
    return found


@page
def new(request: HttpRequest) -> HttpResponse:
    """A sample taken; the address may say of what (lot, place, test)."""
    now, in_force = _open()
    known: dict[str, Any] = {
        name: request.GET[one]
        for name, one in (("lot_code", "lot"), ("place", "place"), ("kind", "kind"), ("farm", "farm"))
        if request.GET.get(one)
    }
    if tests := [one for one in request.GET.getlist("test") if one in TESTS]:
        known["tests"] = tests
    form = forms.SampleForm(pages.sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.take(pages.by(request), form.said()))
        if saved is not None:
            messages.success(request, _("Recorded: sample %(code)s.") % {"code": saved.code})
            return redirect("records:sample", number=saved.number)
    return pages.show(request, form, _("A sample was taken"), FORM)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A sample as it should have been written."""
    row = _sample_or_404(number)
    now, in_force = _open()
    if refusal := actions.why_not(pages.by(request), row):
        messages.error(request, refusal)
        return redirect("records:sample", number=row.number)
    form = forms.SampleForm(pages.sent(request), in_force=in_force, now=now, old=row)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.take(pages.by(request), form.said()))
        if saved is not None:
            messages.success(request, _("Recorded: sample %(code)s.") % {"code": saved.code})
            return redirect("records:sample", number=saved.number)
    return pages.show(request, form, _("Amend sample %(code)s") % {"code": row.code}, FORM, sample=row)


@page
def result(request: HttpRequest, number: int) -> HttpResponse:
    """A result of a sample."""
    row = _sample_or_404(number)
    now, in_force = _open()
    form = forms.ResultForm(pages.sent(request), in_force=in_force, now=now, sample=row)
    return _result(request, form, row, _("Sample %(code)s: a result") % {"code": row.code})


@page
def amend_result(request: HttpRequest, number: int) -> HttpResponse:
    """A result as it should have been written; what it missed before stays missed."""
    old = LabResult.objects.filter(number=number).first() if number < 2**63 else None
    if old is None:
        raise Http404(_("There is no such entry."))
    row = _sample_or_404(old.sample)
    now, in_force = _open()
    if refusal := actions.why_not(pages.by(request), old):
        messages.error(request, refusal)
        return redirect("records:sample", number=row.number)
    form = forms.ResultForm(pages.sent(request), in_force=in_force, now=now, sample=row, old=old)
    return _result(request, form, row, _("Amend entry %(number)d") % {"number": number}, amended=True)


def _result(request: HttpRequest, form: Any, row: Sample, heading: str, **more: Any) -> HttpResponse:
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.record_result(pages.by(request), form.said()))
        if saved is not None:
            said = cast(LabResult, saved)
            messages.success(
                request, _("Recorded: %(what)s.") % {"what": f"{in_words(said.test)} {result_words(said)}"}
            )
            for text in sentences_of(said.number):
                messages.warning(request, text)
            return redirect("records:sample", number=row.number)
    return pages.show(request, form, heading, FORM, sample=row, **more)


@page
def table(request: HttpRequest) -> HttpResponse:
    """A laboratory's table: looked at first, each refused line with its reason; then kept as a whole or not at all."""
    now, in_force = _open()
    form = forms.TableForm(pages.sent(request), in_force=in_force, now=now)
    lines: list[tables.Line] = []
    wrong = ""
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        lines, wrong = tables.read(given["table"], given["form_id"], given["read_at"])
        if wrong:
            form.add_error("table", wrong)
        elif forms.RECORD_ALL in request.POST:
            if bad := sum(bool(one.wrong) for one in lines):
                form.add_error("table", _("Nothing was kept: %(many)d lines are refused, as named below.")
                               % {"many": bad})  # fmt: skip
            else:
                rows = [one.result for one in lines if one.result is not None]
                saved = pages.saved(form, lambda: actions.record_table(pages.by(request), rows))
                if saved is not None:
                    messages.success(request, _("Recorded: %(many)d results.") % {"many": len(saved)})
                    for text in dict.fromkeys(text for one in saved for text in sentences_of(one.number)):
                        messages.warning(request, text)
                    return redirect("records:samples")
    return pages.show(request, form, _("Results from a table"), "records/laboratory/table.html", lines=lines,
                      columns=tables.COLUMNS, refused=sum(bool(one.wrong) for one in lines))  # fmt: skip


@require_safe
def sites_by_zone(request: HttpRequest) -> HttpResponse:
    """What was found at each environmental site, by zone, and what a find still asks for."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    rows = sites.trends(now)
    zones: dict[int, list[Any]] = {}
    for one in rows:
        said = [(swab, _("not proven") if swab.doubted and not swab.said else in_words(swab.said) if swab.said
                 else _("not in yet")) for swab in one.latest]  # fmt: skip
        zones.setdefault(one.zone, []).append((one, in_words(one.test), said))
    shown = {
        "zones": list(zones.items()),
        "follow": _follow(rows, in_force),
        "may_record": pages.may(request, "records:sample-new"),
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/laboratory/sites.html", shown)


@require_safe
def retained_samples(request: HttpRequest) -> HttpResponse:
    """What stands on the shelf of retained samples: to be kept still, in order of the last day, and what has ended."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    rows, more = retained.kept(now, in_force)
    shown = {
        "kept": rows,
        "more": more,
        "most": retained.MOST,
        "ended": retained.ended(now, in_force),
        "may_record": pages.may(request, "records:sample-new"),
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/laboratory/retained.html", shown)


def _follow(rows: list[sites.SiteTrend], in_force: InForce) -> list[tuple[sites.FollowUp, str]]:
    return [(one, in_words(one.trend.test)) for one in sites.follow_ups(rows, in_force)]


@require_safe
def trend(request: HttpRequest) -> HttpResponse:
    """The counts or amounts of one test of a product, or of all, in order of time, against the limit."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    test = request.GET.get("test", "bacteria")
    if test not in TESTS:
        raise Http404(_("There is no such test."))
    product = request.GET.get("product", "")
    pairs = queries.counts_of(test, {"product": product} if product else {})
    verdicts = governing(LabResult.KIND, [one.number for _taken, one in pairs])
    rows = [
        {"sample": taken, "result": one, "said": result_words(one), "verdict": verdicts.get(one.number),
         "outcome": to_operator(verdicts[one.number].outcome) if one.number in verdicts else "",
         "missed": one.number in verdicts and verdicts[one.number].outcome == "not met"}
        for taken, one in pairs
    ]  # fmt: skip
    shown = {
        "test": in_words(test),
        "key": test,
        "product": product,
        "products": [(one.code, one.name) for one in in_force.plan.products],
        "tests": [(one, in_words(one)) for one in TESTS],
        "rows": rows,
        "chart": trend_chart(pairs, verdicts, TESTS[test]) if TESTS[test].kind is not Kind.SIGN else "",
        "is_count": TESTS[test].kind is Kind.COUNT,
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/laboratory/trend.html", shown)


def _sample_or_404(number: int) -> Sample:
    found = queries.sample_of(number)
    if found is None:
        raise Http404(_("There is no such sample."))
    return found


def _open() -> tuple[datetime, InForce]:
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return now, in_force
