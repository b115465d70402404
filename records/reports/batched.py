"""The batches of a day, and the vitamins, flavors and separations: what each record says, in order of time."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from records.batches import second, state
from records.batches.models import BatchAddition, BatchSheet, BlendTest, FlavorAdded, Separated, VitaminAdded
from records.batches.words import in_words, told
from records.deviations.models import DeviationCause
from records.ingredients.keeping import standing
from records.ingredients.models import IngredientReceived, KeptOnce
from records.ingredients.words import in_words as ingredient_words
from records.ingredients.words import told as ingredient_told
from records.ledger.canonical import moment
from records.reports.said import Clock
from records.reports.values import Data

KINDS: tuple[type[KeptOnce], ...] = (
    IngredientReceived, BatchSheet, BatchAddition, BlendTest, Separated, VitaminAdded, FlavorAdded,
)  # fmt: skip


def batched(start: datetime, end: datetime) -> Data:
    """What was received, blended, tested and added in [start, end), and what each batch lacks."""
    rows: list[Any] = []
    for model in KINDS:
        found: Any = model._default_manager.filter(observed_at__gte=start, observed_at__lt=end)
        rows += standing(found)
    rows.sort(key=lambda one: (one.observed_at, one.number))
    causes = DeviationCause.objects.filter(cause_number__in=[one.number for one in rows])
    opened = dict(causes.values_list("cause_number", "deviation"))
    looks = second.looks_at(one for one in rows if isinstance(one, second.KINDS))
    return {
        "rows": [_row(one, opened, looks.get(one.number)) for one in rows],
        "missing": [
            {"batch": one.sheet.batch, "missing": lacks}
            for one in state.batches_between(start, end)
            if (lacks := state.missing(one))
        ],
    }


def _row(row: KeptOnce, opened: dict[int, int], look: second.Look | None) -> Data:
    received = isinstance(row, IngredientReceived)
    return {
        "entry": row.number,
        "kind": row.KIND,
        "at": moment(row.observed_at),
        "told": [list(one) for one in (ingredient_told(row) if received else told(row, look))],
        "by": row.by_initials,
        "amends": row.amends,
        "amend_reason": row.amend_reason,
        "deviation": opened.get(row.number),
    }


def in_words_of(data: Data | None, clock: Clock) -> Data | None:
    """The same in words; None for a day without, or one written down before there were any."""
    if not data or not data["rows"]:
        return None
    rows = [
        {**one, "when": clock.time(one["at"]), "what": ingredient_words(in_words(one["kind"]))} for one in data["rows"]
    ]
    return {"rows": rows, "missing": data["missing"]}
