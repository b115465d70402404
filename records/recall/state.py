"""A recall as its records have it: what is in its scope, who got it, what is still missing. Nothing of it is stored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from plant.process.errors import CalculationError
from plant.process.lots import found_percent, in_unit
from plant.process.said import again
from records.recall.models import (
    CHECK,
    DESTROYED,
    GROWN,
    LOCATED,
    NOTICE,
    PUBLIC,
    RETURNED,
    RecallBegun,
    RecallEnded,
    RecallStep,
)


@dataclass(frozen=True, slots=True)
class InScope:
    """A lot as a recall's records name it: its code where it is packs, what was made of it, and who got how much."""

    lot: str
    label: str
    code: str
    made: Decimal | None
    unit: str
    sent: tuple[tuple[str, Decimal | None, str], ...]  # to, quantity, unit


@dataclass(frozen=True, slots=True)
class Recall:
    """A recall or rehearsal: its beginning, the steps that stand, its end."""

    begun: RecallBegun
    steps: tuple[RecallStep, ...]
    ended: RecallEnded | None

    @property
    def number(self) -> int:
        return self.begun.number

    @property
    def lots(self) -> tuple[InScope, ...]:
        """Everything in scope: as computed when it was begun, with what it grew by since."""
        grown = [one for step in self.of(GROWN) for one in step.lots]
        return tuple(_in_scope(one) for one in [*self.begun.lots, *grown])

    @property
    def packs(self) -> tuple[InScope, ...]:
        """The lots of packs alone."""
        return tuple(one for one in self.lots if one.code)

    @property
    def consignees(self) -> tuple[str, ...]:
        """Everybody who got any of it."""
        return tuple(dict.fromkeys(to for one in self.packs for to, _quantity, _unit in one.sent))

    def of(self, *kinds: str) -> list[RecallStep]:
        """The steps of these kinds that stand."""
        return [one for one in self.steps if one.what in kinds]


@dataclass(frozen=True, slots=True)
class Needed:
    """One thing that a recall must have, whether it has it, and by which records."""

    words: str
    done: bool
    entries: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Accounted:
    """What was made of the packs in scope and what of it was accounted for; `percent` None with `why_none`."""

    made: Fraction | None
    accounted: Fraction | None
    unit: str
    percent: Fraction | None
    why_none: str


def _in_scope(one: dict[str, Any]) -> InScope:
    sent = tuple((row["to"], _decimal(row["quantity"]), row["unit"]) for row in one.get("sent", ()))
    return InScope(one["lot"], one["label"], one["code"], _decimal(one["made"]), one["unit"], sent)


def _decimal(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def recall_of(number: int) -> Recall | None:
    """The recall of this number, with what stands of it."""
    begun = RecallBegun.objects.filter(number=number).first() if number < 2**63 else None
    return next(iter(_with_steps([begun])), None) if begun is not None else None


def recalls(most: int) -> list[Recall]:
    """The latest recalls and rehearsals."""
    return _with_steps(list(RecallBegun.objects.order_by("-begun_at", "-number")[:most]))


def still_open() -> list[Recall]:
    """Recalls and rehearsals that nobody has ended."""
    ended = RecallEnded.objects.filter(recall=OuterRef("number"))
    return _with_steps(list(RecallBegun.objects.filter(~Exists(ended)).order_by("number")))


def ended_after(moment: datetime) -> list[Recall]:
    """Recalls, no rehearsals, that were ended since a moment."""
    ended = RecallEnded.objects.filter(received_at__gt=moment).values("recall")
    return _with_steps(list(RecallBegun.objects.filter(number__in=ended, mock=False).order_by("number")))


def _with_steps(begun: list[RecallBegun]) -> list[Recall]:
    numbers = [one.number for one in begun]
    successor = RecallStep.objects.filter(amends=OuterRef("number"))
    steps: dict[int, list[RecallStep]] = {number: [] for number in numbers}
    rows = RecallStep.objects.filter(~Exists(successor), recall__in=numbers, void=False)
    for one in rows.order_by("happened_at", "number"):
        steps[one.recall].append(one)
    ends = {one.recall: one for one in RecallEnded.objects.filter(recall__in=numbers)}
    return [Recall(one, tuple(steps[one.number]), ends.get(one.number)) for one in begun]


# --- what it must have


def needed(recall: Recall) -> list[Needed]:
    """What a rehearsal or a recall must have, each with whether it has it (for a recall: 21 CFR 117.139(b))."""
    if recall.begun.mock:
        return [*_located(recall), _outcome(recall)]
    found = []
    for kind, words in (
        (NOTICE, _("%(who)s told, with how to return or dispose of it (21 CFR 117.139(b)(1))")),
        (CHECK, _("checked that the recall works at %(who)s (117.139(b)(3))")),
    ):
        found += [_by(recall, kind, who, words) for who in recall.consignees]
    public = recall.of(PUBLIC)
    words = _("decided whether the public is told, for its health (117.139(b)(2))")
    found.append(Needed(words, bool(public), tuple(one.number for one in public)))
    found += [_disposed(recall, one) for one in recall.packs]
    return [*found, _outcome(recall)]


def missing(recall: Recall) -> list[str]:
    """What it lacks, in words."""
    return [one.words for one in needed(recall) if not one.done]


def key(name: str) -> str:
    """A recipient's name as it is compared: the same one is written in more than one way."""
    return " ".join(name.split()).casefold()


def _by(recall: Recall, kind: str, who: str, words: str) -> Needed:
    rows = [one for one in recall.of(kind) if key(one.consignee) == key(who)]
    return Needed(words % {"who": who}, bool(rows), tuple(one.number for one in rows))


def _located(recall: Recall) -> list[Needed]:
    found = []
    for one in recall.packs:
        rows = [step for step in recall.of(LOCATED) if step.code == one.code]
        found.append(Needed(_("%(lot)s located") % {"lot": one.label}, bool(rows), tuple(row.number for row in rows)))
    return found


def _disposed(recall: Recall, one: InScope) -> Needed:
    """All of what was made of it was destroyed, or otherwise accounted for in words."""
    rows = [step for step in recall.of(RETURNED, DESTROYED, LOCATED) if step.code == one.code]
    account = accounted(recall, [one])
    done = account.percent is not None and account.percent >= 100
    words = _("%(lot)s: all that was made is located, returned or destroyed (117.139(b)(4))") % {"lot": one.label}
    return Needed(words, done, tuple(row.number for row in rows))


def _outcome(recall: Recall) -> Needed:
    entries = (recall.ended.number,) if recall.ended else ()
    return Needed(_("ended, with its outcome"), recall.ended is not None, entries)


def accounted(recall: Recall, packs: Iterable[InScope] | None = None) -> Accounted:
    """What was made of the packs in scope, and what was located, returned, or destroyed where it was found.

    What was destroyed in this plant was located or returned before: it counts once.
    """
    chosen = list(recall.packs if packs is None else packs)
    unit = next((one.unit for one in chosen if one.unit), "")
    codes = {one.code for one in chosen}
    made = _sum([(one.made, one.unit) for one in chosen], unit)
    rows = [
        one for one in recall.of(LOCATED, RETURNED, DESTROYED)
        if one.code in codes and (one.what != DESTROYED or one.consignee.strip())
    ]  # fmt: skip
    found = _sum([(one.quantity, one.unit) for one in rows], unit)
    if not chosen:
        return Accounted(made, found, unit, None, _("no packs are in its scope"))
    try:
        return Accounted(made, found, unit, found_percent(made, found), "")
    except CalculationError as refusal:
        return Accounted(made, found, unit, None, again(refusal.sentence, _))


def _sum(amounts: Iterable[tuple[Decimal | None, str]], unit: str) -> Fraction | None:
    total = Fraction(0)
    for one in amounts:
        known = in_unit(one, unit)
        if known is None:
            return None
        total += known
    return total
