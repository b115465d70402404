"""Answering a check as an operator of that shift would: what is typed, and who types it."""

from __future__ import annotations

from datetime import datetime

from plant.hazard_plan.content import MonitoringDef
from records.checks.actions import Saved, record_reading
from records.checks.entry import ReadingData, place_answers
from records.checks.queries import DueCheck
from records.demo import answers
from records.demo.acts import Say
from records.demo.hand import form_id
from records.demo.staff import Crew
from records.flow import queries as flow
from records.ledger.actions import Actor
from records.people.plans import InForce

BY_ROLE = {
    "maintenance": "piet",
    "qualified individual": "odile",
    "supervisor": "wren",
    "owner": "hanne",
}


def who(crew: Crew, role: str, operator: str) -> Actor:
    """The person who answers checks of this role, by now."""
    return crew.actor(BY_ROLE.get(role, operator))


def answer(
    crew: Crew, operator: str, check: DueCheck, say: Say | None, now: datetime, observed_at: datetime | None = None
) -> Saved:
    """Answer a due check as usual, or as the scenario says. `observed_at`: from paper, when it was read."""
    due = check.due
    if due.key == "raw-hours" and say is None:
        say = Say(due.key, typed=hours_since_first_milk(due.subject, now))
    data = reading(
        check.monitoring,
        check.in_force,
        due.subject,
        seed=check.key,
        product_class=class_at(check.in_force, due.subject, now),
        say=say,
        event=due.event,
        due_at=due.due_at,
        observed_at=observed_at,
    )
    return record_reading(who(crew, check.monitoring.role, operator), data)


def hours_since_first_milk(subject: str, now: datetime) -> str:
    """What the log on the silo's door would say."""
    first = flow.contents_at(now, [subject])[subject].first_product_at
    return "0" if first is None else f"{(now - first).total_seconds() / 3600:.1f}"


def class_at(in_force: InForce, subject: str, moment: datetime) -> str:
    """The pasteurization class of what a place holds or runs now; empty for nothing."""
    held = flow.held_or_running(subject, moment) if subject else None
    product = next((one for one in in_force.plan.products if held and one.code == held.product), None)
    return product.product_class if product else ""


def reading(
    monitoring: MonitoringDef,
    in_force: InForce,
    subject: str,
    *,
    seed: str,
    product_class: str = "",
    say: Say | None = None,
    event: str = "",
    due_at: datetime | None = None,
    observed_at: datetime | None = None,
) -> ReadingData:
    """What the form of a check would send."""
    say = say or Say(monitoring.key)
    typed, second = (say.typed, "") if say.typed else _typed(monitoring, in_force, product_class, seed)
    places = {}
    if monitoring.answer.kind == "places":
        words = place_answers(monitoring)
        usual = answers.wanted(monitoring, _wanted(monitoring, in_force)) or words[0]
        places = dict.fromkeys(monitoring.answer.places, usual)
        if say.one_place[0]:
            places[say.one_place[0]] = say.one_place[1]
    asked = bool(monitoring.agitator_min) and not say.not_taken
    return ReadingData(
        form_id=form_id(seed, say.typed, due_at, observed_at),
        subject=subject,
        monitoring_key=monitoring.key,
        event=event,
        due_at=due_at,
        typed="" if say.not_taken else typed,
        typed_second="" if say.not_taken else second,
        places={} if say.not_taken else places,
        not_taken=say.not_taken,
        instrument=answers.INSTRUMENTS.get(monitoring.key, ""),
        agitator_ran=True if asked else None,
        bulb_covered=True if asked else None,
        note=say.note,
        observed_at=observed_at,
        late_reason=say.reason,
        paper_form=say.paper,
    )


def _wanted(monitoring: MonitoringDef, in_force: InForce) -> tuple[str, ...]:
    return tuple(word for key in monitoring.limits for word in in_force.plan.limit_by_key(key).wanted)


def _typed(monitoring: MonitoringDef, in_force: InForce, product_class: str, seed: str) -> tuple[str, str]:
    kind = monitoring.answer.kind
    if kind == "pair":
        return answers.pair(product_class, seed)
    if kind in ("number", "count"):
        return answers.number(monitoring, product_class, seed), ""
    if kind == "code":
        return answers.code(monitoring, seed), ""
    if kind in ("yes_no", "choice"):
        return answers.wanted(monitoring, _wanted(monitoring, in_force)), ""
    return ("", "") if kind == "places" else ("in order", "")
