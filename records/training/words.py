"""The words of trainings in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from plant.hazard_plan.words import topic
from plant.process.training import Standing, last_day
from records.people.plans import InForce
from records.training.data import AT_WORK, ATTENDED, OUTSIDE, TEST
from records.training.models import Training

PROVEN_BY: dict[str, Promise] = {
    TEST: _("by a test"),
    AT_WORK: _("seen doing it at work"),
    OUTSIDE: _("certificate from outside"),
    ATTENDED: _("attended, nothing tested"),
}
STANDINGS: dict[str, Promise] = {
    Standing.IN_DATE: _("in date"),
    Standing.SOON: _("due soon"),
    Standing.OVERDUE: _("overdue"),
    Standing.MISSING: _("nothing recorded"),
}


def proven_words(key: str) -> str:
    """How it was proven."""
    return str(PROVEN_BY.get(key, key))


def topic_of(row: Training, in_force: InForce) -> str:
    """What was taught: as the plan says it now in the reader's language, else as it was recorded."""
    asked = next((one for one in in_force.plan.trainings if one.key and one.key == row.training), None)
    return topic(asked) if asked is not None and row.topic in (asked.topic, asked.topic_es) else row.topic


def counts_words(row: Training, in_force: InForce) -> str:
    """Until when a training counts by the plan in force; empty for one that neither plan nor certificate bounds."""
    asked = next((one for one in in_force.plan.trainings if one.key == row.training), None)
    last = last_day(row.trained_on, asked.every_months if asked else 0, row.ends_on)
    if last is not None and last == row.ends_on:
        return gettext("%(day)s, by its certificate") % {"day": last.isoformat()}
    if last is not None:
        return gettext("%(day)s, by plan version %(number)d") % {"day": last.isoformat(), "number": in_force.number}
    return gettext("no end, by plan version %(number)d") % {"number": in_force.number} if asked else ""


def people_words(row: Training) -> str:
    """The people trained, as recorded."""
    return ", ".join(f"{one['name']} ({one['initials']})" for one in row.people)


def told(row: Training, in_force: InForce) -> list[tuple[str, str]]:
    """(label, value) of what a training's record says."""
    found = [
        (gettext("Topic"), topic_of(row, in_force)), (gettext("People trained"), people_words(row)),
        (gettext("Day of the training"), row.trained_on.isoformat()), (gettext("Trained by"), row.trainer),
        (gettext("How it was proven"), proven_words(row.proven)),
        (gettext("The certificate itself ends on"), row.ends_on.isoformat() if row.ends_on else ""),
        (gettext("Counts until"), "" if row.void else counts_words(row, in_force)),
        (gettext("Note"), row.note),
    ]  # fmt: skip
    return [(label, value) for label, value in found if value]
