"""The pages of foreign matter: what was looked at lately, place by place; one entry; the forms."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from records.checks import photos
from records.flow import choices
from records.flow.consequences import sentences_of
from records.flow.pages import back_to, no_plan, now_and_plan, saved_by, show_form, with_query
from records.foreign_matter import actions, queries
from records.foreign_matter.consequences import deviation_of
from records.foreign_matter.forms import FORMS, form_of
from records.foreign_matter.models import Look, StrainerLook
from records.foreign_matter.words import length_words
from records.ledger import files
from records.ledger.models import FileKept
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.rights import RIGHTS

signed = sensitive_post_parameters("signer_secret")
page = require_http_methods(["GET", "HEAD", "POST"])
FORM = "records/foreign_matter/form.html"
LATELY = 40


@require_safe
def foreign_matter(request: HttpRequest) -> HttpResponse:
    """Every place with its forms, and what was recorded lately, of one place with ?place=."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = request.GET.get("place", "")
    shown = {
        "now": now,
        "zone": in_force.zone,
        "places": [(one.code, one.name) for one in choices.in_flow_order(in_force.plan)],
        "kinds": kind_words(),
        "rows": [_line(row, stands) for row, stands in queries.lately(LATELY, place)],
        "place": in_force.names.get(place, ""),
        "may_record": _may(request),
    }
    return render(request, "records/foreign_matter/foreign_matter.html", shown)


def kind_words() -> list[tuple[str, str]]:
    """The forms by their words."""
    return [
        ("strainer", _("Strainer or filter")),
        ("magnet", _("Magnet")),
        ("detector", _("Metal detector")),
        ("parts", _("Count the parts")),
        ("breakage", _("Something broke")),
    ]


def _line(row: Look, stands: bool) -> dict[str, Any]:
    return {"row": row, "stands": stands, "about": _about(row)}


def _about(row: Look) -> str:
    if isinstance(row, StrainerLook) and row.length_mm is not None:
        return length_words(row.length_mm, row.hard)
    return ""


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One entry, what it amends or what amends it, and what it led to."""
    row = _row_or_404(number)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    successor = type(row)._default_manager.filter(amends=row.number).first()
    by = cast(Request, request).actor
    amendable = successor is None and not row.void and _may(request) and not actions.why_not(by, row)
    shown = {
        "row": row,
        "now": now,
        "zone": in_force.zone,
        "about": _about(row),
        "successor": successor,
        "deviation": deviation_of(row),
        "on_page": photos.shows(_mime(row)) if row.photo else False,
        "may_amend": amendable,
    }
    return render(request, "records/foreign_matter/entry.html", shown)


def _mime(row: Look) -> str:
    return FileKept.objects.filter(sha256=row.photo).values_list("mime", flat=True).first() or ""


@require_safe
def photo(request: HttpRequest, number: int) -> HttpResponse:
    """The photo of an entry, as it was sent."""
    row = _row_or_404(number)
    kept = FileKept.objects.filter(sha256=row.photo).first() if row.photo else None
    if kept is None:
        raise Http404(_("This entry has no photo."))
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as damaged:
        raise Http404(str(damaged)) from damaged
    mime = kept.mime if kept.mime.startswith("image/") else "application/octet-stream"
    answer = HttpResponse(data, content_type=mime)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@page
def new(request: HttpRequest, kind: str, code: str) -> HttpResponse:
    """One of the forms, at a place."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if kind not in FORMS or code not in in_force.names:
        raise Http404(_("The plan in force knows no place of that code."))
    known = {name: request.GET[name] for name in ("when", "after") if request.GET.get(name)}
    form = FORMS[kind](
        _sent(request), request.FILES or None, in_force=in_force, now=now, place=code, initial=known
    )
    heading = f"{in_force.names[code]}: {dict(kind_words())[kind]}"
    return _answer(request, form, heading, in_force.zone)


@signed
@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An entry as it should have been recorded; the old one stays, struck through."""
    row = _row_or_404(number)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if refusal := actions.why_not(cast(Request, request).actor, row):
        messages.error(request, refusal)
        return redirect("records:foreign-matter-entry", number=number)
    asked = cast(Request, request)
    form = form_of(row)(
        _sent(request), request.FILES or None, in_force=in_force, now=now, place=row.place, old=row, request=asked
    )
    return _answer(request, form, _("Amend entry %(number)s: %(where)s") % {
        "number": row.number, "where": row.place_name,
    }, in_force.zone)  # fmt: skip


def _answer(request: HttpRequest, form: Any, heading: str, zone: Any) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        asked = cast(Request, request)
        signs = "signer" in form.fields
        saved = saved_by(form, lambda: form.save(signature_actor(asked, form) if signs else asked.actor))
        if saved is not None:
            messages.success(request, _("Recorded: %(what)s.") % {"what": cast(Look, saved).words})
            for text in sentences_of(saved.number):
                messages.warning(request, text)
            if back := back_to(request):
                return redirect(_onward(cast(Look, saved), back))
            return redirect("records:foreign-matter-entry", number=saved.number)
    return show_form(request, form, heading, template=FORM, zone=zone)


def _onward(row: Look, back: str) -> str:
    """Back to where the form was opened from; on the Round to what comes after, or first to what was done."""
    if back == reverse("records:round") and row.reading is not None:
        back = with_query(back, after=str(row.reading))
    if row.reading is not None and not row.good:
        return with_query(reverse("records:reading-answer", args=[row.reading]), next=back)
    return back


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _row_or_404(number: int) -> Look:
    row = queries.look_of(number)
    if row is None:
        raise Http404(_("There is no such entry."))
    return row


def _may(request: HttpRequest) -> bool:
    return bool(cast(Request, request).roles & RIGHTS["records:foreign-matter-new"])
