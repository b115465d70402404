"""What a reading leaves to be answered, and where the answer is kept: a deviation's part, a correction, or a note."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from records.checks import consequences
from records.checks.actions import write_note
from records.checks.models import Reading, ReadingNote
from records.deviations.actions import record_correction, write_part
from records.deviations.models import Correction, CorrectiveAction, Deviation
from records.judging import queries as verdicts
from records.judging.judge import OUT
from records.judging.models import Verdict
from records.ledger.actions import Actor
from records.people.plans import plan_in_force

NOT_MET = "not met"
# The part of a corrective action that is written at the vessel; the others are the supervisor's page.
AT_ONCE = "problem"


@dataclass(frozen=True, slots=True)
class Matter:
    """A reading with its governing verdict, its deviation if it opened or joined one, and the question to ask."""

    reading: Reading
    verdict: Verdict | None
    deviation: Deviation | None
    corrective_action: str
    question: str

    @property
    def is_out(self) -> bool:
        """Whether it is out of limits or not proven."""
        return self.verdict is not None and self.verdict.outcome in OUT

    @property
    def is_correction(self) -> bool:
        """Whether its answer is a correction: out of limits, and no deviation (21 CFR 117.150(c))."""
        return self.deviation is None and self.verdict is not None and self.verdict.outcome == NOT_MET


def matter_of(reading: Reading) -> Matter:
    """What stands to be answered after a reading."""
    verdict = verdicts.governing(Reading.KIND, [reading.number]).get(reading.number)
    deviation = consequences.deviation_of(reading.number)
    in_force = plan_in_force(reading.observed_at)
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key) if in_force else None
    if deviation is not None:
        question = _("What was done at once?")
    elif verdict is not None and verdict.outcome == NOT_MET:
        question = consequences.words_for_correction(reading)
    else:
        question = _("What was seen or done?")
    return Matter(reading, verdict, deviation, monitoring.corrective_action if monitoring else "", question)


def is_answered(reading: Reading) -> bool:
    """Whether somebody has written what was done since the reading was kept."""
    deviation = consequences.deviation_of(reading.number)
    since = CorrectiveAction.objects.filter(part=AT_ONCE, number__gt=reading.number)
    if deviation is not None and since.filter(deviation=deviation.number).exists():
        return True
    corrections = Correction.objects.filter(subject_kind=Reading.KIND, subject_number=reading.number)
    return corrections.exists() or ReadingNote.objects.filter(reading=reading.number).exists()


def write(by: Actor, matter: Matter, text: str, form_id: UUID) -> None:
    """Keep the answer as a record of its own; the reading stays as it is. Raises Refused or Nonsense."""
    reading = matter.reading
    if matter.deviation is not None:
        write_part(by, matter.deviation, AT_ONCE, text, form_id)
        return
    in_force = plan_in_force(reading.observed_at)
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key) if in_force else None
    if matter.is_correction and monitoring is not None:
        record_correction(
            by,
            in_force,
            subject_kind=Reading.KIND,
            subject_number=reading.number,
            control_point=monitoring.control_point,
            subject=reading.subject,
            text=text,
            form_id=form_id,
        )
        return
    write_note(by, reading, text, form_id)
