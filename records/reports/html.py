"""The day sheet as HTML: one set of templates for the screen and for the PDF."""

from __future__ import annotations

from django.template.loader import render_to_string

from records.reports import rows
from records.reports.picture import paper
from records.reports.values import Data


def sheet_html(data: Data, chart_svg: str, for_pdf: bool) -> str:
    """The sheet of a day's data, in the present language.

    For the PDF a whole page that takes its style sheets from /static/; else the part that goes inside a page of ours.
    `chart_svg` is trusted: it comes from plant.pictures, which escapes what people typed.
    """
    view = rows.view_of(data)
    context = {"data": data, "view": view, "chart": chart_svg, "paper": paper(data), "for_pdf": for_pdf}
    template = "day_sheet.html" if for_pdf else "_sheet.html"
    return render_to_string(f"records/reports/{template}", context)
