"""Writing a verdict, inside the act that gives cause to judge."""

from __future__ import annotations

from records.judging.judge import Judgement
from records.judging.models import Verdict
from records.ledger.actions import Act
from records.people.plans import InForce


def write_verdict(
    a: Act,
    subject_kind: str,
    subject_number: int,
    judgement: Judgement,
    in_force: InForce,
    why: str,
    follows: int | None = None,
) -> Verdict:
    """Keep a judgement as a record. `why`: as Verdict lists them; `follows`: the verdict before it."""
    return a.write(verdict_row(subject_kind, subject_number, judgement, in_force, why, follows))


def verdict_row(
    subject_kind: str,
    subject_number: int,
    judgement: Judgement,
    in_force: InForce,
    why: str,
    follows: int | None = None,
) -> Verdict:
    """A verdict that is not written yet: for those who write many at once."""
    return Verdict(
        subject_kind=subject_kind,
        subject_number=subject_number,
        outcome=judgement.outcome,
        plan_number=in_force.number,
        plan_hash=in_force.content_hash,
        monitoring_key=judgement.monitoring_key,
        limit_key=judgement.limit_key,
        rule=judgement.rule,
        clause=judgement.clause,
        basis=judgement.basis,
        numbers=judgement.numbers,
        reason=judgement.reason,
        why=why,
        follows=follows,
    )
