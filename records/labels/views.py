"""Pages of filling: the lines, a form for each act, the label of a pack."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from records.checks import photos
from records.deviations.queries import causes_with
from records.flow.consequences import sentences_of
from records.flow.pages import no_plan, now_and_plan, saved_by
from records.flow.queries import not_free_at
from records.labels import actions, keeping, overview, queries, sheet
from records.labels.findings import why_not_clear
from records.labels.forms import (
    AmendCountForm,
    AmendOpenForm,
    CheckForm,
    ClearForm,
    CountForm,
    OpenForm,
    VoidForm,
)
from records.labels.models import ClearanceCheck, LineClearance, OfLine, PackagingCounted, PackagingOpened
from records.labels.words import kind_words, things_words
from records.ledger import files
from records.ledger.models import FileKept
from records.lots.models import Lot
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")
FORM = "records/labels/form.html"


def _by(request: HttpRequest) -> Any:
    return cast(Request, request).actor


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _may_say(request: HttpRequest) -> bool:
    return bool(cast(Request, request).roles & RIGHTS["records:packaging-open"])


def _show(request: HttpRequest, form: Any, heading: str, **more: Any) -> HttpResponse:
    context = {"form": form, "heading": heading, "zone": form.in_force.zone, **more}
    return render(request, FORM, context, status=422 if form.errors else 200)


def _line(code: str) -> tuple[str, datetime, InForce]:
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    name = dict(queries.filling_lines(in_force.plan)).get(code)
    if name is None:
        raise Http404(_("The plan knows no such filling line."))
    return name, now, in_force


@require_safe
def filling(request: HttpRequest) -> HttpResponse:
    """Each filling line as it stands, and what was recorded last."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    may_say = _may_say(request)
    code = request.GET.get("roll", "").strip()[:60]
    context = {
        "lines": overview.lines_at(now, in_force),
        "told": overview.lately(_by(request), may_say),
        "roll": code,
        "packs": queries.packs_with_roll(code) if code else [],
        "may_say": may_say,
        "zone": in_force.zone,
    }
    return render(request, "records/labels/filling.html", context)


@signed
@page
def clear(request: HttpRequest, code: str) -> HttpResponse:
    """A line cleared for the next product."""
    name, now, in_force = _line(code)
    asked = cast(Request, request)
    form = ClearForm(_sent(request), in_force=in_force, now=now, request=asked)
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, lambda: actions.clear_line(signature_actor(asked, form), form.cleared(code)))
        if saved is not None:
            messages.success(request, _("Recorded. A second person has to check the line now."))
            return redirect("records:filling")
    last = queries.last_through(code, now)
    return _show(request, form, _("%(line)s: line clearance") % {"line": name}, last=last)


@signed
@page
def check(request: HttpRequest, clearance: int) -> HttpResponse:
    """The second person's look at a cleared line."""
    found = _clearance_or_404(clearance)
    _name, now, in_force = _line(found.place)
    asked = cast(Request, request)
    form = CheckForm(_sent(request), in_force=in_force, now=now, request=asked)
    if request.method == "POST" and form.is_valid():
        saved = saved_by(
            form, lambda: actions.check_clearance(signature_actor(asked, form), form.checked(found.number))
        )
        if saved is not None:
            messages.success(request, _("Recorded."))
            last = queries.last_through(found.place, now)
            if why := why_not_clear(found.place, found.product, now, last, in_force):
                messages.warning(request, why)
            return redirect("records:filling")
    heading = _("%(line)s: check of the cleared line") % {"line": found.place_name}
    return _show(request, form, heading, clearance=found, things=things_words(found.things))


def _clearance_or_404(number: int) -> LineClearance:
    rows = LineClearance.objects.filter(number=number) if number < 2**63 else LineClearance.objects.none()
    found = queries.standing(rows).first()
    if found is None:
        raise Http404(_("There is no such clearance."))
    return found


@page
def opened(request: HttpRequest, code: str) -> HttpResponse:
    """A roll or sleeve opened at a line."""
    name, now, in_force = _line(code)
    filled = queries.filling_at(code, now)
    cleared = queries.standing(LineClearance.objects.filter(place=code)).order_by("-observed_at", "-number").first()
    product = filled.product if filled is not None else cleared.product if cleared is not None else ""
    form = OpenForm(_sent(request), request.FILES or None, in_force=in_force, now=now, initial={"product": product})
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, lambda: actions.open_packaging(_by(request), form.opened(code)))
        if isinstance(saved, PackagingOpened):
            _say_opened(request, saved)
            return redirect("records:filling")
    return _show(request, form, _("%(line)s: roll or sleeve opened") % {"line": name}, has_file=True)


def _say_opened(request: HttpRequest, row: PackagingOpened) -> None:
    words = {"kind": kind_words(row.kind), "code": row.roll_code, "printed": row.printed_name}
    if row.matches:
        messages.success(request, _("Recorded: %(kind)s %(code)s, printed for %(printed)s.") % words)
        return
    words["product"] = row.product_name
    sentence = _("Refused: %(kind)s %(code)s is printed for %(printed)s, not %(product)s. Take it off the line.")
    messages.error(request, sentence % words)
    for text in sentences_of(row.number):
        messages.warning(request, text)


@page
def counted(request: HttpRequest, opened: int) -> HttpResponse:
    """A roll or sleeve off the line, counted."""
    rows = queries.standing(PackagingOpened.objects.filter(number=opened)) if opened < 2**63 else None
    found = rows.first() if rows is not None else None
    if found is None:
        raise Http404(_("There is no such roll or sleeve."))
    _name, now, in_force = _line(found.place)
    form = CountForm(_sent(request), in_force=in_force, now=now)
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, lambda: actions.count_packaging(_by(request), form.counted(found.number)))
        if saved is not None:
            what, details, warns = overview.in_words(cast(Any, saved))
            say = messages.warning if warns else messages.success
            say(request, f"{what.capitalize()}: {details}")
            for text in sentences_of(cast(Any, saved).number):
                messages.warning(request, text)
            return redirect("records:filling")
    words = {"kind": kind_words(found.kind), "code": found.roll_code}
    heading = _("%(kind)s %(code)s: count") % words
    return _show(request, form, heading.capitalize() if heading[:1].islower() else heading, roll=found)


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One entry with its photo, what it amends or what amends it, and what it led to."""
    row = keeping.row_of(number)
    _now, in_force = now_and_plan()
    if row is None or in_force is None:
        raise Http404(_("There is no such entry."))
    told = overview.told(row, set(), _by(request), _may_say(request))
    successor = keeping.successor_of(row)
    context = {
        "told": told,
        "row": row,
        "zone": in_force.zone,
        "successor": successor,
        "may_void": told.may_void and successor is None,
        "deviations": [(one.deviation, one.sentence) for one in causes_with(number)],
        "on_page": bool(getattr(row, "photo", "")) and photos.shows(_mime(row)),
    }
    return render(request, "records/labels/entry.html", context)


def _mime(row: Any) -> str:
    return FileKept.objects.filter(sha256=row.photo).values_list("mime", flat=True).first() or ""


@signed
@page
def void(request: HttpRequest, number: int) -> HttpResponse:
    """An entry that did not happen."""
    row, now, in_force = _amendable_or_404(number)
    if (away := _not_theirs(request, row)) is not None:
        return away
    asked = cast(Request, request)
    form = VoidForm(_sent(request), in_force=in_force, now=now, request=asked)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        saved = saved_by(
            form, lambda: actions.void(signature_actor(asked, form), number, said["form_id"], said["amend_reason"])
        )
        if saved is not None:
            return _amended(request, saved.number)
    what, details, _warns = overview.in_words(row)
    heading = _("Entry %(number)s did not happen") % {"number": number}
    return _show(request, form, heading, said=f"{what}: {details}")


@signed
@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An entry as it should have been recorded; the old one stays, struck through."""
    row, now, in_force = _amendable_or_404(number)
    if (away := _not_theirs(request, row)) is not None:
        return away
    asked = cast(Request, request)
    kind, act = _AMENDED[type(row)]
    form = kind(_sent(request), request.FILES or None, in_force=in_force, now=now, request=asked, old=row)
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, lambda: act(signature_actor(asked, form), form, row))
        if saved is not None:
            return _amended(request, saved.number)
    what, details, _warns = overview.in_words(row)
    heading = _("Amend entry %(number)s") % {"number": number}
    return _show(request, form, heading, said=f"{what}: {details}", has_file=kind is AmendOpenForm)


_AMENDED: dict[type[OfLine], tuple[Any, Callable[[Any, Any, Any], OfLine]]] = {
    LineClearance: (ClearForm, lambda by, form, old: actions.clear_line(by, form.cleared(old.place))),
    ClearanceCheck: (CheckForm, lambda by, form, old: actions.check_clearance(by, form.checked(old.clearance))),
    PackagingOpened: (AmendOpenForm, lambda by, form, old: actions.open_packaging(by, form.opened(old.place))),
    PackagingCounted: (AmendCountForm, lambda by, form, old: actions.count_packaging(by, form.counted(old.opened))),
}


def _amendable_or_404(number: int) -> tuple[OfLine, datetime, InForce]:
    row = keeping.row_of(number)
    now, in_force = now_and_plan()
    if row is None or in_force is None:
        raise Http404(_("There is no such entry to amend."))
    return row, now, in_force


def _not_theirs(request: HttpRequest, row: OfLine) -> HttpResponse | None:
    """Away to the entry's page when it is not theirs to amend. What was amended since a form was opened is refused."""
    refusal = keeping.why_not(_by(request), row)
    if row.void or (request.method != "POST" and keeping.successor_of(row) is not None):
        refusal = _("This entry was amended already. Amend the one that stands.")
    if not refusal:
        return None
    messages.error(request, refusal)
    return redirect("records:filling-entry", number=row.number)


def _amended(request: HttpRequest, number: int) -> HttpResponse:
    messages.success(request, _("Amended. The old one stands struck through beside it."))
    for text in sentences_of(number):
        messages.warning(request, text)
    return redirect("records:filling-entry", number=number)


@require_safe
def photo(request: HttpRequest, opened: int) -> HttpResponse:
    """The photo of a roll or sleeve exactly as it came."""
    row = PackagingOpened.objects.filter(number=opened).first() if opened < 2**63 else None
    kept = FileKept.objects.filter(sha256=row.photo).first() if row is not None and row.photo else None
    if kept is None:
        raise Http404(_("There is no such photo."))
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as damaged:
        raise Http404(str(damaged)) from damaged
    mime = kept.mime if kept.mime.startswith("image/") else "application/octet-stream"
    response = HttpResponse(data, content_type=mime)
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_safe
def label_sheet(request: HttpRequest, lot_id: UUID) -> HttpResponse:
    """The label of a pack's code, to print and hold beside the packs."""
    found, now, _in_force = _label_or_404(lot_id)
    return render(request, "records/labels/label_sheet.html", {"label": found, "held": _held(found, now)})


@require_safe
def label_pdf(request: HttpRequest, lot_id: UUID) -> HttpResponse:
    """The same as a PDF of one page; the page itself, with its reason, where no label may be drawn."""
    from records.labels.paper import label_paper  # half a second

    found, now, in_force = _label_or_404(lot_id)
    if found.left:
        return redirect("records:label-sheet", lot_id=lot_id)
    with in_force.speaking():
        pdf = label_paper(found, _held(found, now), in_force.plan.plant, now)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="label-{lot_id}.pdf"'
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer


def _label_or_404(lot_id: UUID) -> tuple[sheet.LabelSheet, datetime, InForce]:
    lot = get_object_or_404(Lot, id=lot_id)
    now, in_force = now_and_plan()
    found = sheet.label_of_pack(lot) if lot.code and in_force is not None else None
    if found is None or in_force is None:
        raise Http404(_("This lot has no packs with a code."))
    return found, now, in_force


def _held(label: sheet.LabelSheet, now: datetime) -> list[str]:
    """Why the packs are held now: a sheet beside them must not look as if they may go."""
    return not_free_at(now).get(label.lot.id, [])
