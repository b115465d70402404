"""What the pages of dispatch, returns and recalls share: the record of an address, and its line of amendments."""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from django.http import Http404
from django.utils.translation import gettext as _

from records.flow.pages import now_and_plan
from records.people.plans import InForce
from records.recall.models import Dispatch, ProductReturned, RecallStep

K = TypeVar("K", Dispatch, ProductReturned, RecallStep)


def opened(model: type[K], number: int, sentence: str) -> tuple[K, datetime, InForce]:
    """The record of the address with the moment and the plan in force; not found, with a sentence, without either."""
    row = model._default_manager.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404(sentence)
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return row, now, in_force


def line_of(row: K) -> list[K]:
    """Every record of a line of amendments, the first one first."""
    rows = type(row)._default_manager
    found = [row]
    while found[0].amends is not None:
        found.insert(0, rows.get(number=found[0].amends))
    while (later := rows.filter(amends=found[-1].number).first()) is not None:
        found.append(later)
    return found
