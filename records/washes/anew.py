"""The first product after a wash, judged anew by what is now known of its steps: amended, recorded late, or traced.

What is newly wrong is a deviation on the place, and what went in after is held. Nothing is closed or released here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from plant.process.limits import Outcome
from records.deviations.models import DeviationCause
from records.flow.common import history_at, plan_at
from records.flow.consequences import follow_product
from records.flow.finding import Finding
from records.flow.history import History
from records.flow.models import Movement, Wash
from records.flow.programs import product_place
from records.ledger.actions import WATCH, Act, act
from records.ledger.models import Record
from records.people.plans import InForce
from records.washes import state
from records.washes.models import WashStep

# A step is traced to its ends and a little beyond, as they are typed to the minute.
NEAR = timedelta(minutes=1)


def reached(a: Act, wash: Wash, row: Record, in_force: InForce) -> None:
    """The first product after a wash that its steps do not prove: a deviation on the place, what it touched held.

    `row` is the cause.
    """
    history = _of(wash, in_force)
    product = _product_after(wash, history, in_force)
    if product:
        follow_product(a, _wrong(wash, product[0], history, in_force), row, in_force, product)


def _of(wash: Wash, in_force: InForce) -> History:
    return history_at(in_force, wash.started_at, [product_place(in_force.plan, wash.vessel)])


def _product_after(wash: Wash, history: History, in_force: InForce) -> list[Movement]:
    place = product_place(in_force.plan, wash.vessel)
    return [one.row for one in history.product_after(place, wash.ended_at)]


def _wrong(wash: Wash, first: Movement, history: History, in_force: InForce) -> list[Finding]:
    with in_force.speaking():
        found = state.about(first, history.without(first.number), in_force)
    return [one for one in found if one.subject == product_place(in_force.plan, wash.vessel)]


def follow_traces(spans: Iterable[tuple[str, datetime, datetime]]) -> int:
    """What newly kept traces (recorder, first and last moment) show of the washes of that time, where product followed.

    A step that its trace contradicts opens a deviation and holds what went in after, once; so does one that its trace
    no longer proves, unless the product is known to have gone in unproven. A trace that proves a step adds nothing,
    and what waits for a person goes on waiting. Gives how many washes it wrote of. May run twice.
    """
    steps: dict[int, WashStep] = {}
    for recorder, start, end in spans:
        near = WashStep.objects.filter(started_at__lte=end + NEAR, ended_at__gte=start - NEAR)
        steps |= {one.number: one for one in near if recorder in _recorders_of(one)}
    return sum(_follow(wash) for wash in _washes({one.wash for one in steps.values()}))


def _recorders_of(row: WashStep) -> set[str]:
    planned = state.program(plan_at(row.started_at).plan, row.program)
    return set(planned[row.place_in - 1].recorders.values()) if row.place_in <= len(planned) else set()


def _washes(roots: set[int]) -> list[Wash]:
    """The washes that stand of these first records, and the sanitizings within them."""
    firsts = list(Wash.objects.filter(number__in=roots))
    within = Wash.objects.filter(form_id__in=[state.sanitizing_form(one.form_id) for one in firsts])
    found = [_latest(one) for one in (*firsts, *within)]
    return sorted((one for one in found if not one.void), key=lambda one: one.number)


def _latest(wash: Wash) -> Wash:
    while (later := Wash.objects.filter(amends=wash.number).first()) is not None:
        wash = later
    return wash


def _follow(wash: Wash) -> bool:
    """Whether something new is wrong with the product after a wash, by its traces; then it is written."""
    in_force = plan_at(wash.started_at)
    with act(WATCH) as a:
        history = _of(wash, in_force)
        product = _product_after(wash, history, in_force)
        wrong = _wrong_now(wash, product[0], history, in_force) if product else []
        said = _said_before(wash, product[0], in_force) if wrong else set()
        new = [one for one in wrong if one.sentence not in said]
        if not new or (said and not any(_contradicted(one) for one in state.judged([wash]))):
            return False
        follow_product(a, new, wash, in_force, product)
    return True


def _wrong_now(wash: Wash, first: Movement, history: History, in_force: InForce) -> list[Finding]:
    """What is wrong with the product because of this very wash: another may stand nearer to it."""
    found = _wrong(wash, first, history, in_force)
    with in_force.speaking():
        told = state.unproven_among([wash.vessel], history.without(first.number), first.started_at, in_force)
    mine = [sentence for number, sentence in told.get(wash.vessel, []) if number == wash.number]
    return [replace(found[0], sentence=one) for one in mine] if found else []


def _said_before(wash: Wash, product: Movement, in_force: InForce) -> set[str]:
    """What deviations say of this wash already, with the product, the wash or one of its steps as the cause."""
    root = state.root(wash)
    numbers = {wash.number, root, *_amended(product)}
    numbers |= set(WashStep.objects.filter(wash=root).values_list("number", flat=True))
    with in_force.speaking():
        begins = state.unproven_words(wash, [], in_force)
    causes = DeviationCause.objects.filter(cause_number__in=numbers, sentence__startswith=begins)
    return set(causes.values_list("sentence", flat=True))


def _amended(row: Movement) -> set[int]:
    """A movement's number and those that it replaced."""
    found = {row.number}
    while row.amends is not None and (old := Movement.objects.filter(number=row.amends).first()) is not None:
        row = old
        found.add(row.number)
    return found


def _contradicted(one: state.JudgedWash) -> bool:
    """Whether a trace shows otherwise than its step: not met, not merely unproven."""
    steps = one.result.steps if one.result is not None else ()
    traced = [each.judged for step in steps for each in step.findings if each.quantity in state.TRACES.values()]
    return any(each.outcome is Outcome.NOT_MET for each in traced)
