"""The Ready page: what stands between now and the first milk. Everybody who may read the Floor may read it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from records.flow.pages import no_plan, now_and_plan
from records.review.common import may, show
from records.review.ready_data import ready_at
from records.review.ready_lines import AGAINST, LATE, UNKNOWN


@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Every place in flow order with what stands against its first product."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    places = ready_at(in_force, now, may_answer=may(request, "records:round-check"))
    return show(
        request,
        "records/review/ready.html",
        plant=places[0],
        places=places[1:],
        against=sum(len(one.of(AGAINST)) for one in places),
        late=sum(len(one.of(LATE)) for one in places),
        unknown=sum(len(one.of(UNKNOWN)) for one in places),
        now=now,
        in_force=in_force,
    )
