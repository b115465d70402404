"""What the regulator was told: of a broken seal, a work, a deviation; by whom, when, how, and the answer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from plant.rules.intervals import ToTell, to_tell
from records.deviations.models import Deviation
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.workshop import seals
from records.workshop.data import NoticeData
from records.workshop.keeping import Refused, common, fitting, local_day, plan_at, record_of, standing, wanted, write
from records.workshop.models import HoldingTest, RegulatorNotice, SealAct, WorkDone

TOLD, FORM_SENT, ANSWER = "told", "form sent", "answer"
WHAT = (TOLD, FORM_SENT, ANSWER)
HOW = ("telephone", "in person", "e-mail", "fax", "mail")
SUBJECTS = (SealAct.KIND, WorkDone.KIND, HoldingTest.KIND, Deviation.KIND)
LONGEST_NAME, LONGEST_WHOM = 120, 160


def record_notice(by: Actor, said: NoticeData) -> RegulatorNotice:
    """Keep a notice, once for each form."""
    in_force = plan_at(said.at)
    if said.subject_kind not in SUBJECTS or record_of(said.subject_kind, said.subject_number) is None:
        raise Refused(_("There is no such entry to tell of."))
    if said.what not in WHAT:
        raise Refused(_("Choose what was done."), "what")
    if said.how not in HOW:
        raise Refused(_("Choose how."), "how")
    answer = fitting(said.answer, "answer")
    if said.what == ANSWER and not answer:
        raise Refused(_("Write what the regulator answered."), "answer")
    row = RegulatorNotice(
        **common(said, in_force),
        subject_kind=said.subject_kind,
        subject_number=said.subject_number,
        what=said.what,
        told_by=wanted(said.told_by, "told_by", _("Write who told it."), LONGEST_NAME),
        told_whom=wanted(said.told_whom, "told_whom", _("Write who was told."), LONGEST_WHOM),
        how=said.how,
        answer=answer,
    )
    with act(by) as a:
        return write(a, by, row, in_force)[0]


@dataclass(frozen=True, slots=True)
class Untold:
    """A seal that was not whole, whether the regulator was told of it and sent the form, and what the rules ask."""

    act: SealAct
    told: RegulatorNotice | None
    form: RegulatorNotice | None
    answer: RegulatorNotice | None
    asks: tuple[ToTell, ...]

    @property
    def done(self) -> bool:
        """Told, and in writing where a rule asks for it."""
        return self.told is not None and (self.form is not None or not any(one.form_by for one in self.asks))

    def is_late(self, now: datetime) -> bool:
        """Whether the regulator has not been told within the hours of a rule, or at once."""
        if self.told is not None:
            return False
        return any(one.told_by is None or one.told_by < now for one in self.asks)


def of_seals(acts: Iterable[SealAct], in_force: InForce) -> list[Untold]:
    """Each act that the regulator has to hear of, with what was told of it."""
    rows = [one for one in acts if one.what in seals.BREAKING or _another(one)]
    given = _notices(SealAct.KIND, [one.number for one in rows])
    found = []
    for one in rows:
        said = given.get(one.number, [])
        asks = to_tell(in_force.plan.plant.rule_set, one.observed_at, local_day(in_force, one.observed_at))
        answer = next((each for each in reversed(said) if each.answer), None)
        found.append(Untold(one, _first(said, TOLD), _first(said, FORM_SENT), answer, tuple(asks)))
    return found


def untold(press: str, in_force: InForce) -> list[Untold]:
    """Seals of a pasteurizer of whose breaking the regulator was not told yet, or not yet in writing."""
    acts = standing(SealAct.objects.filter(place=press)).order_by("observed_at", "number")
    return [one for one in of_seals(acts, in_force) if not one.done]


def notices_of(kind: str, number: int) -> list[RegulatorNotice]:
    """What was told of one entry, in order of time."""
    return _notices(kind, [number]).get(number, [])


def _notices(kind: str, numbers: Iterable[int]) -> dict[int, list[RegulatorNotice]]:
    found: dict[int, list[RegulatorNotice]] = {}
    rows = RegulatorNotice.objects.filter(subject_kind=kind, subject_number__in=list(numbers))
    for one in standing(rows).order_by("observed_at", "number"):
        found.setdefault(one.subject_number, []).append(one)
    return found


def _first(said: list[RegulatorNotice], what: str) -> RegulatorNotice | None:
    return next((one for one in said if one.what == what), None)


def _another(one: SealAct) -> bool:
    return one.what == seals.SEEN_WHOLE and seals.is_another(one.number_known, one.number_seen)
