"""The washes before product of each place that a tub's product went through, each with what its record proves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Q, Subquery

from plant.process.limits import Outcome
from records.flow.choices import WASHED
from records.flow.common import plan_at
from records.flow.effective import standing
from records.flow.lineage import FIRST
from records.flow.models import Movement, Wash
from records.recall.rows import Fill
from records.washes import state

AT_ONCE = 60


@dataclass(frozen=True, slots=True)
class Washed:
    """A wash or a sanitizing. `outcome`: of its program, '' where the plan had none for it; `why`: what it lacks.

    It is said as the wash's own page says it: of the record, never of the surface.
    """

    wash: Wash
    program: str
    plan_number: int
    outcome: str
    why: tuple[str, ...]


def judged_by_number(washes: Iterable[Wash]) -> dict[int, Washed]:
    """These washes judged together, by number, as their programs in force then ask."""
    found = {}
    for one in state.judged(list({each.number: each for each in washes}.values())):
        wash = one.wash
        asked = bool(one.program or state.programs_at(plan_at(wash.started_at).plan, wash.vessel, wash.what))
        outcome = ""
        if asked:
            outcome = one.result.outcome.value if one.result is not None else Outcome.NOT_PROVEN.value
        why = tuple(state.why_not_proven(one)) if asked else ()
        found[wash.number] = Washed(wash, one.program, one.plan_number, outcome, why)
    return found


def before_fills(fills: Sequence[Fill]) -> dict[Fill, list[Wash]]:
    """The wash that began each fill, with the sanitizings of it before its end. One statement for each 60."""
    found: dict[Fill, list[Wash]] = {}
    for first in range(0, len(fills), AT_ONCE):
        some = [one for one in fills[first : first + AT_ONCE] if one.begin > FIRST]
        wanted = Q(pk__in=[])
        for one in some:
            wanted |= Q(vessel=one.vessel, started_at__gte=one.begin, started_at__lt=one.end)
        for wash in standing(Wash.objects.filter(wanted)).order_by("started_at", "number"):
            for one in some:
                begins = wash.what != WASHED or wash.started_at == one.begin
                if wash.vessel == one.vessel and one.begin <= wash.started_at < one.end and begins:
                    found.setdefault(one, []).append(wash)
    return found


def before_runs(movements: Sequence[int]) -> dict[int, list[Wash]]:
    """By movement through a line: the line's last wash before it, and its last sanitizing since that. Few statements.

    They are the ones before the first product where several movements ran in a row.
    """
    found: dict[int, list[Wash]] = {}
    for first in range(0, len(movements), 500):
        ran = Movement.objects.filter(number__in=movements[first : first + 500]).exclude(via="")
        before = Wash.objects.filter(vessel=OuterRef("via"), ended_at__lte=OuterRef("started_at"))
        last = standing(before).order_by("-ended_at", "-number").values("number")
        asked = ran.annotate(
            washed=Subquery(last.filter(what=WASHED)[:1]), sanitized=Subquery(last.exclude(what=WASHED)[:1])
        )
        told = list(asked.values_list("number", "washed", "sanitized"))
        numbers = {number for _movement, *both in told for number in both if number is not None}
        rows = {one.number: one for one in Wash.objects.filter(number__in=numbers)}
        for movement, washed, sanitized in told:
            wash, after = rows.get(washed or 0), rows.get(sanitized or 0)
            mine = [wash] if wash is not None else []
            if after is not None and (wash is None or after.started_at >= wash.started_at):
                mine.append(after)
            found[movement] = mine
    return found
