"""What is open, what is missing, what is held: computed from the records that exist, at a moment."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant import clock
from records.deviations.models import (
    CorrectiveAction,
    Deviation,
    DeviationCause,
    DeviationClosing,
    Disposition,
    Hold,
    HoldLift,
    Outage,
)
from records.ledger.registry import kinds

# The four parts of 21 CFR 117.150(a)(2); the fifth is asked when nothing written foresaw the deviation (117.150(b)).
PARTS = {
    "problem": gettext_lazy("what was done to find and correct the problem"),
    "recurrence": gettext_lazy("what makes it less likely to come back"),
    "evaluation": gettext_lazy("what the affected food was found to be, and how"),
    "product": gettext_lazy("what keeps unsafe product from leaving"),
}
REANALYSIS = {"reanalysis": gettext_lazy("whether the plan has to be reanalyzed, and why")}
# Asked where the law or the plan may want the regulator told; it never keeps a deviation open by itself.
REGULATOR = {"regulator": gettext_lazy("who told the regulator, when, and the answer")}
ALL_PARTS = PARTS | REANALYSIS | REGULATOR


def _closed(moment: datetime | None = None) -> Exists:
    closing = DeviationClosing.objects.filter(deviation=OuterRef("number"))
    return Exists(closing if moment is None else closing.filter(received_at__lte=moment))


def _known(at: datetime) -> Q:
    """What was known at a moment; also what is dated later than now, for the clock was set back since it was written.

    Nobody can say when that was, so it counts: held product must not look free for it.
    """
    return Q(received_at__lte=at) | Q(received_at__gt=clock.now())


def open_deviations(at: datetime | None = None) -> QuerySet[Deviation]:
    """Deviations without a closing (at a moment: known by then and not closed by then), oldest first."""
    known = Deviation.objects.all() if at is None else Deviation.objects.filter(_known(at))
    return known.exclude(_closed(at)).order_by("number")


def is_closed(number: int) -> bool:
    """Whether a closing exists."""
    return DeviationClosing.objects.filter(deviation=number).exists()


def status_at(deviation: Deviation, moment: datetime) -> str:
    """'not known', 'open' or 'closed' at that moment."""
    if moment < deviation.received_at:
        return "not known"
    closing = DeviationClosing.objects.filter(deviation=deviation.number, received_at__lte=moment)
    return "closed" if closing.exists() else "open"


def readers(deviation: int) -> set[UUID]:
    """The people who made the records that are its causes: who read, moved or corrected; not who raised or told."""
    by_kind: dict[str, list[int]] = {}
    for kind, number in DeviationCause.objects.filter(deviation=deviation).values_list("cause_kind", "cause_number"):
        by_kind.setdefault(kind, []).append(number)
    found: set[UUID] = set()
    for kind, numbers in by_kind.items():
        if kind == Outage.KIND or kind not in kinds():
            continue
        rows: Any = kinds()[kind]._default_manager
        found.update(one for one in rows.filter(number__in=numbers).values_list("by_id", flat=True) if one is not None)
    return found


def parts_wanted(deviation: Deviation) -> dict[str, str]:
    """The parts that must be written before it can close, with their words."""
    wanted = PARTS if deviation.foreseen else PARTS | REANALYSIS
    return {key: str(words) for key, words in wanted.items()}


def parts_offered(deviation: Deviation) -> dict[str, str]:
    """The parts that may be written: those wanted, and where the law is touched what the regulator was told."""
    extra = REGULATOR if deviation.weight == "legal" or deviation.is_ccp else {}
    return parts_wanted(deviation) | {key: str(words) for key, words in extra.items()}


def parts_written(deviation: int) -> dict[str, list[CorrectiveAction]]:
    """All that was written for each part, oldest first; the last one governs."""
    found: dict[str, list[CorrectiveAction]] = {}
    for one in CorrectiveAction.objects.filter(deviation=deviation).order_by("number"):
        found.setdefault(one.part, []).append(one)
    return found


def missing(deviation: Deviation) -> list[str]:
    """What is missing before it can close, in words: parts, and product still held."""
    written = parts_written(deviation.number)
    absent = [words for key, words in parts_wanted(deviation).items() if key not in written]
    held = open_holds().filter(deviation=deviation.number)
    return absent + [_("a disposition with two signatures for %(lot)s") % {"lot": one.lot_label} for one in held]


def _lifted(moment: datetime | None = None) -> Exists:
    lift = HoldLift.objects.filter(hold=OuterRef("number"))
    return Exists(lift if moment is None else lift.filter(received_at__lte=moment))


def is_lifted(hold: int) -> bool:
    """Whether a hold was lifted."""
    return HoldLift.objects.filter(hold=hold).exists()


def open_holds(at: datetime | None = None) -> QuerySet[Hold]:
    """Holds not lifted (at a moment: placed by then and not lifted by then)."""
    known = Hold.objects.all() if at is None else Hold.objects.filter(_known(at))
    return known.exclude(_lifted(at)).order_by("number")


def open_holds_of(lot: UUID) -> QuerySet[Hold]:
    """The holds that a lot is under by name."""
    return open_holds().filter(lot=lot)


def held_by_name(at: datetime | None = None) -> dict[UUID, list[Hold]]:
    """Lots under hold by name; what they flowed into is computed in records.flow."""
    found: dict[UUID, list[Hold]] = {}
    for hold in open_holds(at):
        found.setdefault(hold.lot, []).append(hold)
    return found


def dispositions_waiting() -> list[tuple[Hold, Disposition]]:
    """The newest disposition of each open hold that still lacks its second signature."""
    holds = {hold.number: hold for hold in open_holds()}
    newest: dict[int, Disposition] = {}
    for one in Disposition.objects.filter(hold__in=list(holds)).order_by("number"):
        newest[one.hold] = one
    return [(holds[number], one) for number, one in newest.items()]


def causes_with(number: int) -> QuerySet[DeviationCause]:
    """Each deviation that a record opened or joined, with its sentence."""
    return DeviationCause.objects.filter(cause_number=number).order_by("number")


def causes_of(numbers: Iterable[int]) -> dict[int, list[DeviationCause]]:
    """The causes of several deviations, oldest first."""
    found: dict[int, list[DeviationCause]] = {}
    for cause in DeviationCause.objects.filter(deviation__in=list(numbers)).order_by("number"):
        found.setdefault(cause.deviation, []).append(cause)
    return found
