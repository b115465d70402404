"""Everything that bears on one lot, as plain values: the packet's pages and its attached JSON are made of this alone.

What is in it is found by the lot's own page (records.recall.tub); here it is written down, with the whole verdict of
each check, the deviations and holds of its family, its labels, and what left and came back.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext as _

from records.checks.models import Reading
from records.deviations.models import Correction, Deviation, DeviationCause, Hold
from records.flow.disposed import NotReleased
from records.flow.models import Wash
from records.flow.queries import label_of, not_free_at
from records.judging.models import Verdict
from records.labels.models import PackagingCounted
from records.labels.overview import opened_words
from records.labels.queries import counts_of
from records.labels.sheet import LabelSheet, label_of_pack
from records.labels.words import difference_words, kind_words
from records.ledger.canonical import moment
from records.ledger.models import Installation
from records.lots.models import Lot
from records.people.plans import InForce, versions_between
from records.recall import tables
from records.recall.dispatched import standing as dispatches
from records.recall.models import Dispatch, ProductReturned
from records.recall.sampled import Tested
from records.recall.scope import RecallScope
from records.recall.strips import strips_of
from records.recall.tub import Check, Tank, Tub, tub_of
from records.recall.washed import Washed
from records.reports import recalled, troubles
from records.reports.day import plan_row, plant_header
from records.reports.values import Data, by_of

AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Packet:
    """A lot's data, and the pictures of it, which are no data."""

    data: Data
    family_before: RecallScope
    family_after: RecallScope
    strips: tuple[str, ...]


def packet_of(lot: Lot, in_force: InForce, at: datetime, ledger: Callable[[Sequence[date]], Data]) -> Packet:
    """A lot at `at`, in the present language. JSON-able and canonical: text, whole numbers, true, false, null.

    `ledger` says what the review has of plant days: of those on which any of it was observed. Some fifty statements,
    however long the history is.
    """
    tub = tub_of(lot, in_force, at)
    strips = strips_of(tub.pressed, in_force, at, on_paper=True)
    sent = list(dispatches().filter(lot=lot.id).order_by("dispatched_at", "number"))
    back = list(ProductReturned.objects.filter(lot=lot.id).order_by("returned_at", "number"))
    counts = counts_of(one.number for one in tub.packaging)
    parts = dict.fromkeys(one.part for one in back)
    held, not_free = _holds(_family(tub, parts)), not_free_at(at)
    touched = _deviations(tub, held, [*(one.number for one in sent), *(one.number for one in counts.values())])
    label = label_of_pack(lot) if lot.code else None
    since = _since(tub, lot)
    told = tables.told(tub.after, in_force)
    account = next((line for line in told.lines if line.lot.lot == lot.id), None)
    data: Data = {
        "format": 1,
        "plant": plant_header(in_force),
        "invented": bool(Installation.objects.values_list("invented", flat=True).first()),
        "zone": in_force.zone,
        "as_of": moment(at),
        "kept_until": in_force.kept_until(at).isoformat(),
        "lot": {
            "id": str(lot.id),
            "label": label_of(lot, in_force),
            "code": lot.code or "",
            "product": lot.product_name,
            "entry": lot.number,
            "made": account.made if account else "",
            "in_house": account.in_house if account else "",
            "gone": account.gone if account else "",
        },
        "on_hold": _reasons(why for one in (lot.id, *parts) for why in not_free.get(one, [])),
        "plans": [plan_row(one) for one, _from, _until in versions_between(since, at)],
        "sources": [
            {
                "from": one.row.source_name,
                "share": one.share,
                "at": moment(one.row.started_at),
                "words": one.words,
                "entry": one.row.number,
            }
            for one in tub.sources
        ],
        "lines": [
            {
                "line": one.line,
                "start_at": moment(one.start),
                "end_at": moment(one.end) if one.end else "",
                "words": one.words,
                "entry": one.row.number,
                "washes": [_wash(each) for each in one.washes],
            }
            for one in tub.pressed
        ],
        "tanks": [_tank(one) for one in tub.tanks],
        "before": [_member(line) for line in tables.told(tub.before, in_force).lines],
        "after": [_member(line) for line in told.lines if line.lot.lot != lot.id],
        "label": _label(label),
        "packaging": [
            {
                "kind": kind_words(one.kind),
                "words": opened_words(one),
                "matches": one.matches,
                "photo": one.photo,
                **_count(counts.get(one.number)),
                **by_of(one),
            }
            for one in tub.packaging
        ],
        "checks": [_check(one) for one in tub.checks],
        "more_checks": tub.more_checks,
        "laboratory": [_tested(one) for one in tub.tested],
        "deviations": troubles.deviation_rows(touched),
        "holds": troubles.hold_rows(held),
        "corrections": troubles.correction_rows(_corrections(tub)),
        "dispatched": recalled.dispatch_rows(sent),
        "returned": recalled.return_rows(back),
        "recalls": recalled.recalls_of(lot.id),
        "people": list(tub.people),
        "ledger": ledger(_days(tub, sent, back, in_force)),
    }
    return Packet(data, tub.before, tub.after, tuple(drawn for _one, drawn in strips))


# --- the parts


def _reasons(found: Iterable[str]) -> list[str]:
    """Why it is not free, each once: what holds it, or what was signed for it instead of a release."""
    reasons = dict.fromkeys(found)
    return [str(one) if isinstance(one, NotReleased) else _("on hold: %(reason)s") % {"reason": one} for one in reasons]


def _since(tub: Tub, lot: Lot) -> datetime:
    """The first moment that anything in it is of."""
    moments = [one.row.started_at for one in tub.sources] + [one.since for one in tub.tanks]
    return min(moments, default=lot.observed_at)


def _days(tub: Tub, sent: list[Dispatch], back: list[ProductReturned], in_force: InForce) -> list[date]:
    """The plant days on which any of it was observed."""
    moments = [
        *(one.row.started_at for one in tub.sources),
        *(one.start for one in tub.pressed),
        *(one.row.observed_at for one in tub.checks),
        *(one.ended_at for one in _washes(tub)),
        *(one.observed_at for one in (tub.lot, *tub.packaging, *sent, *back)),
        *(one.taken_at for one in tub.tested if one.taken_at is not None),
    ]
    return sorted({in_force.calendar.plant_day(one) for one in moments})


def _washes(tub: Tub) -> list[Wash]:
    """Those before each line and tank."""
    told = [*(one.washes for one in tub.pressed), *(one.washes for one in tub.tanks)]
    return [one.wash for washes in told for one in washes]


def _family(tub: Tub, parts: Iterable[UUID]) -> set[UUID]:
    """The lot, every lot of which some could be in it, and the parts of it that came back."""
    before = {one.lot for one in tub.before.lots if one.lot is not None}
    return {tub.lot.id, *before, *parts}


def _holds(lots: Collection[UUID]) -> list[Hold]:
    wanted = sorted(lots)
    rows = [
        one for first in range(0, len(wanted), AT_ONCE)
        for one in Hold.objects.filter(lot__in=wanted[first : first + AT_ONCE])
    ]  # fmt: skip
    return sorted(rows, key=lambda one: one.number)


def _deviations(tub: Tub, held: Iterable[Hold], more: Iterable[int]) -> list[Deviation]:
    """Those that hold any of it, and those of which a record of it is a cause."""
    causes = {
        *more,
        *(one.row.number for one in tub.sources),
        *(one.row.number for one in tub.pressed),
        *(one.row.number for one in tub.checks),
        *(row.number for row, _moment in tub.before.carried),
        *(one.number for one in _washes(tub)),
        *(one.number for one in tub.packaging),
        tub.lot.number,
    }
    wanted = sorted(causes)
    numbers = {one.deviation for one in held if one.deviation}
    for first in range(0, len(wanted), AT_ONCE):
        rows = DeviationCause.objects.filter(cause_number__in=wanted[first : first + AT_ONCE])
        numbers |= set(rows.values_list("deviation", flat=True))
    return list(Deviation.objects.filter(Q(number__in=numbers)).order_by("number"))


def _corrections(tub: Tub) -> list[Correction]:
    """Of the readings that touched it."""
    numbers = [one.row.number for one in tub.checks]
    return list(Correction.objects.filter(subject_kind=Reading.KIND, subject_number__in=numbers).order_by("number"))


def _wash(one: Washed) -> Data:
    return {
        "what": one.wash.what,
        "ended_at": moment(one.wash.ended_at),
        "method": one.wash.method,
        "program": one.program,
        "plan": one.plan_number,
        "outcome": one.outcome,
        "why": list(one.why),
        **by_of(one.wash),
    }


def _tank(one: Tank) -> Data:
    return {
        "name": one.name,
        "since_at": moment(one.since),
        "until_at": moment(one.until) if one.until else "",
        "washes": [_wash(each) for each in one.washes],
        "shares": [{"of": name, "share": share} for name, share in one.shares],
    }


def _member(line: tables.Line) -> Data:
    return {
        "label": line.lot.label,
        "at": moment(line.lot.since),
        "made": line.made,
        "share": line.share,
        "gone": line.gone,
        "in_house": line.in_house,
        "why": line.why,
        "on_hold": _reasons(line.lot.holds),
    }


def _label(label: LabelSheet | None) -> Data | None:
    if label is None:
        return None
    return {
        "product": label.product,
        "net_contents": label.net_contents,
        "contains": label.contains,
        "keep": label.keep,
        "packed_on": label.packed_on.isoformat(),
        "best_before": label.best_before.isoformat() if label.best_before else "",
        "printed": label.printed,
        "not_declared": [f"{one.allergen}: {', '.join(one.brought_by)}" for one in label.left],
    }


def _count(one: PackagingCounted | None) -> Data:
    if one is None:
        return {"counted": None}
    return {
        "counted": {
            "used": one.used_typed,
            "returned": one.returned_typed,
            "damaged": one.damaged_typed,
            "difference": difference_words(one),
            **by_of(one),
        }
    }


def _check(one: Check) -> Data:
    return {
        "where": one.row.subject_name,
        "what": one.row.what,
        "said": one.words,
        "instrument": one.row.instrument,
        "amends": one.row.amends,
        "amend_reason": one.row.amend_reason,
        "verdict": _verdict(one.verdict),
        **by_of(one.row),
    }


def _verdict(one: Verdict | None) -> Data | None:
    if one is None:
        return None
    return {
        "outcome": one.outcome,
        "rule": one.rule,
        "clause": one.clause,
        "basis": one.basis,
        "plan": one.plan_number,
        "plan_hash": one.plan_hash,
        "numbers": one.numbers,
        "reason": one.reason,
        "why": one.why,
        "entry": one.number,
    }


def _tested(one: Tested) -> Data:
    return {
        "of": one.of,
        "sample": one.sample,
        "code": one.sample_code,
        "taken_at": moment(one.taken_at) if one.taken_at else "",
        "test": one.test,
        "said": one.said,
        "outcome": one.outcome,
        "why": one.why,
        "pending": one.pending,
        "missed": one.missed,
        "struck": one.replaced,
    }


