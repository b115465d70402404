"""The Workshop: what stands at each pasteurizer, what is due, a place's history, one entry, and the forms."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.equipment.models import Instrument
from records.deviations.models import Deviation
from records.flow.pages import no_plan, now_and_plan, saved_by
from records.ledger import files
from records.ledger.models import Entry, FileKept
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS
from records.workshop import actions, overview, story, telling
from records.workshop.forms import NoticeForm, SealForm, WorkForm
from records.workshop.judging import cautions_of
from records.workshop.keeping import press_of, record_of
from records.workshop.models import Calibration, HoldingTest, Kept
from records.workshop.record_forms import CalibrationForm, HoldingForm, TestForm
from records.workshop.sealing import deviation_of
from records.workshop.words import in_words

page = require_http_methods(["GET", "HEAD", "POST"])


def may(request: HttpRequest, route: str) -> bool:
    """Whether the reader's roles open a route."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


def rights_of(request: HttpRequest) -> dict[str, bool]:
    """Which acts the reader may do, by the last word of their routes."""
    acts = ("work", "test", "holding", "seal", "notice", "calibration", "amend", "revise")
    return {f"may_{one}": may(request, f"records:workshop-{one}") for one in acts}


@require_safe
def workshop(request: HttpRequest) -> HttpResponse:
    """What is overdue or due soon, what has to be tested again, and the seals as they stand."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = {
        "now": now,
        "rows": [overview.press_row(one, now, in_force) for one in overview.presses(in_force)],
        "instruments": overview.instrument_rows(now, in_force),
        "places": sorted(in_force.names.items(), key=lambda one: one[1]),
        "lately": story.lines(most=12),
        **rights_of(request),
    }
    return render(request, "records/workshop/workshop.html", place)


@require_safe
def place(request: HttpRequest, code: str) -> HttpResponse:
    """Everything of one place, newest first."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    name = _name(in_force, code)
    listed = Paginator(story.lines(code), 25).get_page(request.GET.get("page"))
    shown = {
        "code": code,
        "name": name,
        "now": now,
        "press": press_of(in_force, code),
        "listed": listed,
        "lines": listed.object_list,
        "instruments": Instrument.objects.filter(place_code=code, is_active=True),
        **rights_of(request),
    }
    return render(request, "records/workshop/place.html", shown)


def _name(in_force: InForce, code: str) -> str:
    if code not in in_force.names:
        raise Http404(_("The plan in force knows no place of that code."))
    return in_force.names[code]


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One entry with all its facts, what amended it, what it led to, and what was told of it."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    row = entry_or_404(number)
    doubted = row.doubted if isinstance(row, Calibration) else []
    shown = {
        "row": row,
        "kind": in_words(row.KIND),
        "words": story.sentence(row),
        "facts": story.facts(row),
        "successor": story.successor(row),
        "verdicts": story.verdicts_of(row),
        "deviation": deviation_of(row.number),
        "told": story.as_lines(telling.notices_of(row.KIND, row.number)),
        "may_tell_of": row.KIND in telling.SUBJECTS,
        "cautions": cautions_of(row) if isinstance(row, HoldingTest) else [],
        "asks": telling.of_seals([row], in_force) if row.KIND == "seal act" else [],  # type: ignore[list-item]
        "doubted": doubted,
        "points": row.points if isinstance(row, Calibration) else [],
        "now": now,
        **rights_of(request),
    }
    return render(request, "records/workshop/entry.html", shown)


def entry_or_404(number: int) -> Kept:
    """The workshop's record of that number."""
    found = story.find(number)
    if found is None:
        raise Http404
    return found


@require_safe
def report(request: HttpRequest, number: int) -> HttpResponse:
    """The report of a test or calibration, as it was kept."""
    row = entry_or_404(number)
    kept = FileKept.objects.filter(sha256=getattr(row, "report", "") or "none").first()
    if kept is None:
        raise Http404
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as error:
        raise Http404(str(error)) from error
    answer = HttpResponse(data, content_type=kept.mime)
    answer.headers["Content-Disposition"] = f'attachment; filename="report-{number}.{kept.mime.rpartition("/")[2]}"'
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer


# --- the forms


def form_page(
    request: HttpRequest, form: Any, heading: str, about: str, save: Callable[[], Any], **more: Any
) -> HttpResponse:
    """A page with one form: what was typed stays, a refusal stands beside its field, what was kept is shown."""
    if request.method == "POST" and form.is_valid():
        kept = saved_by(form, save)
        if kept is not None:
            return _kept(request, cast(Kept, kept))
    shown = {"form": form, "heading": heading, "about": about, **more}
    return render(request, "records/workshop/form.html", shown, status=422 if form.errors else 200)


def _kept(request: HttpRequest, row: Kept) -> HttpResponse:
    messages.success(request, _("Recorded as entry %(number)s.") % {"number": row.number})
    return redirect("records:workshop-entry", number=row.number)


def _of_place(
    request: HttpRequest,
    code: str,
    kind: type[Any],
    heading: str,
    act: Callable[..., Any],
    *,
    press: bool,
    **known: Any,
) -> HttpResponse:
    """The form of one place, with what the address and the session know filled in."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    name = _name(in_force, code)
    if press and not press_of(in_force, code):
        raise Http404(_("That is no pasteurizer."))
    known = {"at": now, **{one: request.GET.get(one, given)[:80] for one, given in known.items()}}
    form = kind(
        request.POST or None, request.FILES or None, in_force=in_force, now=now, place=code, initial=known
    )
    by = cast(Request, request).actor
    return form_page(request, form, heading, name, lambda: row_of(act(by, form.said())))


def row_of(saved: Any) -> Any:
    """The record of what an act gave."""
    return getattr(saved, "row", saved)


@page
def work(request: HttpRequest, code: str) -> HttpResponse:
    """Work on a part of a place."""
    by = cast(Request, request).actor
    return _of_place(
        request, code, WorkForm, _("Work on equipment"), actions.record_work, press=False, part="", worker=by.name
    )


@page
def test(request: HttpRequest, code: str) -> HttpResponse:
    """One numbered test."""
    return _of_place(request, code, TestForm, _("An equipment test"), actions.record_test, press=False, test="")


test.__test__ = False  # type: ignore[attr-defined]


@page
def holding(request: HttpRequest, code: str) -> HttpResponse:
    """A holding-time test."""
    heading = _("A holding-time test")
    return _of_place(request, code, HoldingForm, heading, actions.record_holding, press=True, set_up="")


@page
def seal(request: HttpRequest, code: str) -> HttpResponse:
    """One act on one seal."""
    heading = _("A seal")
    return _of_place(request, code, SealForm, heading, actions.record_seal, press=True, seal_place="", what="")


@page
def notice(request: HttpRequest, number: int) -> HttpResponse:
    """What the regulator was told of an entry: a seal, a work, a test, a deviation."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    subject = _subject(number)
    kind, place_code, words = subject
    form = NoticeForm(
        request.POST or None, in_force=in_force, now=now, place=place_code, subject=(kind, number),
        initial={"at": now, "told_by": cast(Request, request).actor.name},
    )  # fmt: skip
    by = cast(Request, request).actor
    return form_page(
        request, form, _("The regulator was told"), words, lambda: actions.record_notice(by, form.said())
    )


def _subject(number: int) -> tuple[str, str, str]:
    """Kind, place and sentence of what the regulator is told of."""
    known = Entry.objects.filter(number=number, kind__in=telling.SUBJECTS).first() if 0 < number < 2**63 else None
    row: Any = record_of(known.kind, number) if known is not None else None
    if row is None:
        raise Http404
    if isinstance(row, Deviation):
        return Deviation.KIND, row.subject, row.sentence
    return row.KIND, row.place, f"{row.place_name}: {story.sentence(row)}"


@page
def calibration(request: HttpRequest, instrument: str) -> HttpResponse:
    """An instrument against a reference."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    tool = Instrument.objects.filter(code=instrument).first()
    if tool is None:
        raise Http404(_("There is no instrument with this number."))
    by = cast(Request, request).actor
    form = CalibrationForm(
        request.POST or None, request.FILES or None, in_force=in_force, now=now, place=place_of(tool, in_force),
        instrument=tool, initial={"at": now, "tester": by.name},
    )  # fmt: skip
    heading = _("Calibration of %(what)s") % {"what": tool.code}
    about = _("%(name)s: %(low)s to %(high)s %(unit)s, tolerance ± %(accuracy)s") % {
        "name": tool.name,
        "low": f"{tool.low.normalize():f}",
        "high": f"{tool.high.normalize():f}",
        "unit": tool.unit,
        "accuracy": f"{tool.accuracy.normalize():f}",
    }
    return form_page(request, form, heading, about, lambda: actions.record_calibration(by, form.said()).row)


def place_of(tool: Instrument, in_force: InForce) -> str:
    """Where an instrument stands; nowhere for a loose one, or a place that the plan no longer has."""
    return tool.place_code if tool.place_code in in_force.names else ""


def moment_of(now: datetime, in_force: InForce) -> str:
    """A moment on the plant's clocks, for a sentence."""
    return in_force.calendar.local(now).strftime("%Y-%m-%d %H:%M")
