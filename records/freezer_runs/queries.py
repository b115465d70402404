"""What the pages and the day sheet say of freezer runs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any

from django.utils.translation import gettext as _

from records.deviations.models import DeviationCause
from records.freezer_runs import state
from records.freezer_runs.models import CUP, DRAW, DRAW_ENDED, FIRST_RIGHT, PURGED, REWORK, FreezerEvent
from records.freezer_runs.state import FreezerRun
from records.people.plans import InForce
from records.run_rows.queries import standing

# How far back the values of earlier runs are shown, and how many.
EARLIER, MOST_EARLIER = timedelta(days=14), 4


def readings_of(rows: Iterable[FreezerEvent]) -> list[int]:
    """The readings that rows answered."""
    return [number for one in rows for number in (one.reading, one.reading_two) if number]


def numbers(run: FreezerRun) -> list[int]:
    """The ledger numbers of a run's rows and of their readings."""
    return [*(one.number for one in run.events), *readings_of(run.events)]


def causes(runs: Sequence[FreezerRun]) -> dict[int, int]:
    """The deviation of each row, or reading of a row, that is a cause of one. One query."""
    wanted = [number for one in runs for number in numbers(one)]
    return dict(DeviationCause.objects.filter(cause_number__in=wanted).values_list("cause_number", "deviation"))


def tubs_made(run: FreezerRun) -> int:
    """How many tubs the run made, as said at the end of each draw."""
    return sum(one.tubs or 0 for one in run.of(DRAW_ENDED))


def tubs_aside(run: FreezerRun) -> int:
    """How many of the first tubs were set aside."""
    return sum(one.tubs or 0 for one in run.of(FIRST_RIGHT))


def rework(run: FreezerRun) -> list[FreezerEvent]:
    """What went to rework, with its allergens and hours."""
    return [one for one in run.of(PURGED, FIRST_RIGHT) if one.became == REWORK]


def product_name(code: str, in_force: InForce) -> str:
    """A product's name in the plan."""
    return next((one.name for one in in_force.plan.products if one.code == code), code)


def last_weeks(run: FreezerRun, kind: str) -> list[FreezerEvent]:
    """The last rows of a kind of the same product at the same freezer, from runs of the two weeks before."""
    if kind not in (DRAW, CUP):
        return []
    last = run.last("draw begun")
    product = last.product if last is not None else run.first.product
    first = run.first.happened_at
    rows = FreezerEvent.objects.filter(
        place=run.place, what=kind, product=product, happened_at__gte=first - EARLIER, happened_at__lt=first
    )
    return list(standing(rows).order_by("-happened_at", "-number")[:MOST_EARLIER])


def known_before(run: FreezerRun, kind: str) -> dict[str, Any]:
    """What a form already knows: the cup, its unit and the mix's weight as they were last weighed in this run."""
    last = run.last(kind)
    if kind != CUP or last is None:
        return {}
    return {name: getattr(last, name) for name in ("cup_empty", "cup_mix", "mass_unit", "mix_lb_gal")}


def limit_words(quantity: str, place: str, in_force: InForce) -> list[str]:
    """The plan's limits on a quantity at a place, each with its clause."""
    check = state.check_of(quantity, place, in_force)
    if check is None:
        return []
    found = []
    for one in (in_force.plan.limit_by_key(key) for key in check.limits):
        bounds = [_("at least %(low)s") % {"low": one.low}] if one.low else []
        bounds += [_("at most %(high)s") % {"high": one.high}] if one.high else []
        words = {"what": in_force.what_of(check), "bounds": ", ".join(bounds), "unit": one.unit, "clause": one.clause}
        found.append(_("%(what)s: %(bounds)s %(unit)s (%(clause)s)") % words)
    return found
