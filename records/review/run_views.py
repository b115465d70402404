"""The page of a run's record: what the law wants on the chart, joined from all that the book has of the run."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from records.deviations.models import Deviation
from records.flow.pages import no_plan
from records.people.plans import plan_in_force
from records.review.common import show
from records.review.run_record import record_of
from records.runs import queries
from records.runs.words import state_words
from records.traces import findings


@require_safe
def run_record(request: HttpRequest, run: int) -> HttpResponse:
    """A run's entries in the order of the rule, what the book lacks of them, the trace's findings and deviations."""
    found = queries.run_of(run)
    if found is None:
        raise Http404(_("There is no such run."))
    now = clock.now()
    in_force = plan_in_force(found.first.happened_at) or plan_in_force(now)
    if in_force is None:
        return no_plan(request)

    def when(moment: datetime) -> str:
        return in_force.calendar.local(moment).strftime("%Y-%m-%d %H:%M")

    end = found.ended_at or now
    rows = findings.standing(found.first.happened_at, end, [found.place], in_force.zone)
    opened = queries.deviations_of([found], now)[found.number] | {one.deviation for one in rows if one.deviation}
    return show(
        request,
        "records/review/run_record.html",
        run=found,
        state=state_words(found.state_at(now)),
        record=record_of(found, now, in_force, when),
        findings=rows,
        deviations=Deviation.objects.filter(number__in=opened).order_by("number"),
        until=when(now),
        plant=in_force.plan.plant.name,
        zone=in_force.zone,
    )
