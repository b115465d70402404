"""Pages of the day sheet: today so far, a day's newest state, the kept PDFs, the day's data."""

from __future__ import annotations

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from records.ledger import files
from records.ledger.canonical import canonical
from records.reports import pages, pdf, picture
from records.reports.html import sheet_html
from records.reports.values import Data
from records.review import queries, sheet
from records.review.models import SheetState

LARGEST = 2**63 - 1  # a ledger's number


@require_safe
def day_so_far(request: HttpRequest) -> HttpResponse:
    """Today as it stands, unreviewed."""
    return _page(request, pages.today(), so_far=True)


@require_safe
def day_so_far_pdf(request: HttpRequest) -> HttpResponse:
    """Today as it stands as a PDF that says it is a draft; it is not kept."""
    day, now = pages.today(), clock.now()
    rendered = pdf.render_sheet(sheet.sheet_data(day, 1, now))
    name = f"day-{day.isoformat()}-so-far.pdf"
    return pages.download(rendered.data, name, "application/pdf", inline=True)


@require_safe
def day_sheet(request: HttpRequest, day: str) -> HttpResponse:
    """A day's newest state: as it was closed, with what came since; else the draft."""
    pages.in_force_or_404()
    return _page(request, pages.day_of(day), so_far=False)


@require_safe
def day_json(request: HttpRequest, day: str) -> HttpResponse:
    """The day's data, as the sheet's attachment carries it."""
    pages.in_force_or_404()
    data = _data(pages.day_of(day))
    return pages.download(canonical(data).encode(), f"day-{data['day']}.json", "application/json")


@require_safe
def sheet_pdf(request: HttpRequest, number: int) -> HttpResponse:
    """A kept state of a sheet, byte for byte as it was signed."""
    state = SheetState.objects.filter(number=number).first() if number <= LARGEST else None
    if state is None:
        raise Http404(_("There is no such sheet."))
    said = state.state.replace(" ", "-").replace(",", "")
    name = f"day-sheet-{state.plant_day.isoformat()}-r{state.revision}-{said}.pdf"
    try:
        return pages.download(files.read(state.sha256), name, "application/pdf", inline=True)
    except files.FileDamaged as error:
        raise Http404(str(error)) from error


def _data(day: date) -> Data:
    closing = queries.closing(day)
    if closing is None:
        return sheet.sheet_data(day, 1, clock.now())
    return sheet.sheet_data(day, closing.revision, closing.received_at, since=closing)


def _page(request: HttpRequest, day: date, *, so_far: bool) -> HttpResponse:
    now, closing = clock.now(), queries.closing(day)
    data = _data(day)
    context = {
        "day": day,
        "so_far": so_far,
        "data": data,
        "sheet": sheet_html(data, picture.svg(data, print_=False), for_pdf=False),
        "states": queries.states(day),
        "signatures": queries.signatures(day, closing.revision).values() if closing else (),
        "changed": len(queries.changed_since(closing, now)) if closing else 0,
        "before": pages.beside(day)[0],
    }
    return render(request, "records/review/day_sheet_page.html", context)
