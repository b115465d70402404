"""From a deviation to the calculators, with what was read filled in: an aid for whoever evaluates the food."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from urllib.parse import urlencode

from django.urls import reverse

from plant.calculators import calculators
from plant.calculators.forms import given_for
from plant.process.units import CELSIUS, FAHRENHEIT
from records.checks.models import Reading
from records.checks.queries import governing
from records.deviations.models import Deviation, DeviationCause
from records.judging.models import Verdict
from records.people.plans import InForce

MOST_READINGS = 60
MINUTE = timedelta(minutes=1)
# A tank that warmed: what could grow meanwhile, and how long it was out of limits.
OF_A_WARM_TANK = ("growth", "storage")


def evaluations(deviation: Deviation, causes: Sequence[DeviationCause], in_force: InForce) -> list[tuple[str, str]]:
    """(what it works out, its address) for the calculators that its readings can be taken to; often none.

    Only where an upper temperature limit was missed in a vessel. The readings run from the last one in limits to the
    first one after the last cause; they may lie as far apart as the plan lets them.
    """
    keys = set(
        Verdict.objects.filter(
            subject_kind=Reading.KIND, subject_number__in=[one.cause_number for one in causes]
        ).values_list("monitoring_key", flat=True)
    )
    for key in sorted(keys):
        monitoring = in_force.plan.monitoring_by_key(key)
        if monitoring is None or monitoring.answer.unit not in (FAHRENHEIT, CELSIUS):
            continue
        limits = [in_force.plan.limit_by_key(one) for one in monitoring.limits]
        if not any(one.high and not one.low for one in limits):
            continue
        readings = _readings(deviation, key, causes)
        if len(readings) >= 2:
            apart = max(60, monitoring.frequency.every_min or 0)
            return [(str(calculators()[one].title), _address(one, readings, apart)) for one in OF_A_WARM_TANK]
    return []


def _readings(deviation: Deviation, key: str, causes: Sequence[DeviationCause]) -> list[Reading]:
    last = max(one.observed_at for one in causes)
    rows = Reading.objects.filter(
        monitoring_key=key, subject=deviation.subject, observed_at__gte=deviation.since_at, value__isnull=False
    )
    found = sorted(governing(rows.order_by("observed_at")), key=lambda one: (one.observed_at, one.number))
    after = [one for one in found if one.observed_at > last][:1]
    units = {one.unit for one in found}
    chosen = [one for one in found if one.observed_at <= last] + after
    return chosen[:MOST_READINGS] if len(units) == 1 else []


def _address(key: str, readings: Sequence[Reading], apart: int) -> str:
    start = readings[0].observed_at
    lines = [
        f"{(one.observed_at - start) / MINUTE:.0f}; {one.value.normalize():f}"
        for one in readings
        if one.value is not None
    ]
    calculator = calculators()[key]
    given = {"unit": readings[0].unit, "readings": "\n".join(lines), "gap": f"{apart} min"}
    return f"{reverse('plant:calculator', args=[key])}?{urlencode(given_for(calculator, given))}"
