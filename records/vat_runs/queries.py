"""What the pages and the day sheet say of vat runs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta

from records.judging.models import Verdict
from records.judging.queries import governing
from records.judging.words import to_operator
from records.run_rows.queries import standing
from records.vat_runs.models import HOLD_ENDED, WITH_READINGS, VatEvent
from records.vat_runs.state import VatRun

# How far back the values of earlier runs are shown, and how many.
EARLIER, MOST_EARLIER = timedelta(days=14), 4


def verdicts_of(rows: Iterable[VatEvent]) -> dict[int, Verdict]:
    """The governing verdict of each row that has one. One query."""
    return governing(VatEvent.KIND, [one.number for one in rows if one.what in WITH_READINGS])


def outcomes(runs: Sequence[VatRun]) -> dict[int, str]:
    """What the last hold of each run was judged to be, by the run's number, in words. One query."""
    ended = {one.number: last for one in runs if (last := one.last(HOLD_ENDED)) is not None}
    found = verdicts_of(ended.values())
    return {run: to_operator(found[row.number].outcome) for run, row in ended.items() if row.number in found}


def last_weeks(run: VatRun, kind: str) -> list[VatEvent]:
    """The last rows of a kind of the same product at the same vat, from the two weeks before this run."""
    if kind not in WITH_READINGS:
        return []
    first = run.first.happened_at
    earlier = VatEvent.objects.filter(
        place=run.place, what=kind, happened_at__gte=first - EARLIER, happened_at__lt=first,
        run__in=VatEvent.objects.filter(
            place=run.place, product=run.first.product, what="begun", happened_at__gte=first - 2 * EARLIER
        ).values("number"),
    )  # fmt: skip
    return list(standing(earlier).order_by("-happened_at", "-number")[:MOST_EARLIER])
