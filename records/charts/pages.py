"""What the views of charts share: the plan, a chart or 404, and a refusal beside its field."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar, cast

from django.http import Http404, HttpRequest
from django.utils.translation import gettext as _

from plant import clock
from records.charts import queries
from records.charts.changing import recorder_of_chart
from records.charts.models import ChartPhoto
from records.charts.queries import Chart
from records.charts.recorders import Recorder, indicators, usual_indicator
from records.deviations.errors import Refused
from records.flow.errors import DifferentContent
from records.ledger.files import FileRefused
from records.people.middleware import Request
from records.people.plans import InForce, plan_in_force
from records.people.rights import RIGHTS

T = TypeVar("T")


def may(request: HttpRequest, route: str) -> bool:
    """Whether the person's roles open a route: no link to a page that refuses them."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


def chart_or_404(number: int) -> Chart:
    """The chart of an address."""
    found = queries.chart_of(number)
    if found is None:
        raise Http404(_("There is no such chart."))
    return found


def plan_or_404() -> tuple[datetime, InForce]:
    """Now, and the plan in force."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return now, in_force


def photo_or_404(chart: Chart, number: int) -> ChartPhoto:
    """A photo of this chart."""
    found = ChartPhoto.objects.filter(number=number, chart=chart.number).first() if number < 2**63 else None
    if found is None:
        raise Http404(_("There is no such photo of this chart."))
    return found


def recorder_or_404(chart: Chart, in_force: InForce) -> Recorder:
    """The recorder of a chart, by the plan in force, else by that of its time."""
    try:
        return recorder_of_chart(chart, in_force)
    except Refused as refused:
        raise Http404(str(refused.sentence)) from refused


def asking(recorder: Recorder, in_force: InForce) -> dict[str, Any]:
    """What a form about a recorder's chart is made with."""
    return {
        "recorder": recorder,
        "indicators": indicators(recorder, in_force),
        "usual": usual_indicator(recorder, in_force),
    }


def saved_by(form: Any, save: Callable[[], T]) -> T | None:
    """What the act made, or None with its refusal beside the form's field.

    A form saved before with other content gets its saved record put on the form as `saved_before`.
    """
    if not form.is_valid():
        return None
    try:
        return save()
    except Refused as refusal:
        name = form.field_of(refusal.field) if hasattr(form, "field_of") else refusal.field
        if name == "strip_hours" and form.data.get("span") != "strip":
            name = "span"
        form.add_error(name if name in form.fields else None, str(refusal.sentence))
    except FileRefused as refused:
        form.add_error("photo" if "photo" in form.fields else None, str(refused))
    except DifferentContent as different:
        form.saved_before = different.saved
        form.add_error(
            None, _("This form was saved before with other content. What was saved stands; amend it if it is wrong.")
        )
    return None
