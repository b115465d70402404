"""A live recorder that fell silent: noticed once; where product was there a deviation, not proven from then on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max
from django.utils.translation import gettext as _

from plant import clock
from plant.hazard_plan.content import TracedDef
from records.checks.consequences import hold_what_it_reaches
from records.deviations.actions import Cause, open_or_extend
from records.deviations.models import Outage, OutageEnd
from records.flow.queries import lots_touched
from records.ledger.actions import WATCH, Act, act
from records.live.models import LiveFeed, RecorderSilent, StagedSample
from records.people.plans import InForce, plan_in_force
from records.traces.models import TraceBlock
from records.traces.moments import to_moment

NOT_PROVEN = "not proven"
LONGEST = timedelta(days=7)  # an outage that nobody ended for longer covers nothing


@dataclass(frozen=True, slots=True)
class Heard:
    """A recorder that is expected live: when it last spoke (None: never), and how long it may be silent."""

    row: TracedDef
    last_at: datetime | None
    allowed: timedelta

    def silent_at(self, moment: datetime) -> bool:
        """Whether it has been silent for longer than the plan allows."""
        return self.last_at is not None and moment - self.last_at > self.allowed


def heard(in_force: InForce) -> list[Heard]:
    """Each recorder that the plan expects live and a feed brings. Three queries."""
    fed = set(LiveFeed.objects.values_list("instrument", flat=True))
    rows = [one for one in in_force.plan.traced if one.silent_min and one.key in fed]
    keys = [one.key for one in rows]
    staged = dict(
        StagedSample.objects.filter(instrument__in=keys).order_by().values_list("instrument").annotate(Max("at_ms"))
    )
    sealed = dict(
        TraceBlock.objects.filter(instrument__in=keys).order_by().values_list("instrument").annotate(Max("last_at"))
    )
    found = []
    for one in rows:
        ends = [to_moment(staged[one.key])] if one.key in staged else []
        ends += [sealed[one.key]] if one.key in sealed else []
        found.append(Heard(one, max(ends, default=None), timedelta(minutes=one.silent_min)))
    return found


def look() -> int:
    """Notice each silence once; gives how many this pass, and no other, noticed."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return 0
    noticed = 0
    for one in heard(in_force):
        if one.silent_at(now) and not _known(one):
            with act(WATCH) as a:
                if not _known(one):
                    _notice(a, one, now, in_force)
                    noticed += 1
    return noticed


def _known(one: Heard) -> bool:
    return one.last_at is None or RecorderSilent.objects.filter(instrument=one.row.key, since=one.last_at).exists()


def _notice(a: Act, one: Heard, now: datetime, in_force: InForce) -> None:
    assert one.last_at is not None  # it has been silent since
    point = in_force.plan.control_point_by_key(one.row.control_point)
    place = in_force.names.get(one.row.place, one.row.place)
    with in_force.speaking():
        words = {"place": place, "name": one.row.name, "min": one.row.silent_min}
        sentence = _("%(place)s: %(name)s has been silent for more than %(min)d min; nothing is proven since") % words
    row = a.write(
        RecorderSilent(
            instrument=one.row.key,
            instrument_name=one.row.name,
            place=one.row.place,
            place_name=place,
            since=one.last_at,
            allowed_min=one.row.silent_min,
            sentence=sentence,
        ),
        observed_at=one.last_at,
    )
    # A line that did not run, a tank that is empty: nothing to prove. One cause, one deviation: an outage has its own.
    if _in_an_outage(one.last_at) or not lots_touched(one.row.place, one.last_at, now):
        return
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point.key,
        subject=one.row.place,
        cause=NOT_PROVEN,
        found=Cause(RecorderSilent.KIND, row.number, one.last_at, sentence),
        since_at=one.last_at,
    )
    if point.kind == "ccp" or point.reaches_product:
        hold_what_it_reaches(a, deviation, point, one.row.place, one.last_at, now)


def _in_an_outage(moment: datetime) -> bool:
    begun = Outage.objects.filter(
        started_at__gte=moment - LONGEST, started_at__lte=moment + timedelta(minutes=5)
    ).values_list("number", flat=True)
    return set(begun) > set(OutageEnd.objects.filter(outage__in=begun).values_list("outage", flat=True))
