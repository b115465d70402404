"""The second look at what a vitamin or an allergen brings: who has to look, the look itself, and what waits for it.

That a second person or a scan looks at such an addition is the plant's own rule: common practice, no source.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from records.batches.models import AdditionConfirmed, BatchAddition, FlavorAdded, SecondLook, VitaminAdded
from records.flow.errors import DifferentContent, Refused
from records.flow.exits import FOR_PEOPLE, exit_of
from records.flow.finding import Finding
from records.flow.history import History
from records.flow.models import Movement
from records.ingredients.keeping import standing
from records.ingredients.models import IngredientReceived, KeptOnce
from records.ingredients.queries import lot_of
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

PERSON, SCAN = "person", "scan"
POINT = "second person"
KINDS: tuple[type[KeptOnce], ...] = (BatchAddition, VitaminAdded, FlavorAdded)
Look = AdditionConfirmed | SecondLook


def allergens_of(row: KeptOnce) -> str:
    """The allergens that an addition brings, in words; empty for none."""
    if isinstance(row, BatchAddition):
        return row.allergen
    lot = lot_of(row.received) if isinstance(row, FlavorAdded) else None
    return ", ".join(lot.allergens) if lot is not None else ""


def asks(row: KeptOnce) -> bool:
    """Whether an addition asks for a second person or a scan: a vitamin always, anything else for its allergen."""
    if row.void:
        return False
    if isinstance(row, VitaminAdded):
        return True
    return bool(allergens_of(row)) and not (isinstance(row, BatchAddition) and row.scanned)


def looks_at(rows: Iterable[KeptOnce]) -> dict[int, Look]:
    """The second look at each addition that had one, by its number; two queries."""
    numbers = [one.number for one in rows]
    found: dict[int, Look] = {one.addition: one for one in AdditionConfirmed.objects.filter(addition__in=numbers)}
    return found | {one.addition: one for one in SecondLook.objects.filter(addition__in=numbers)}


def said(row: KeptOnce, look: Look | None) -> str:
    """Who looked a second time, in words; empty for an addition that asks for nobody."""
    if isinstance(look, SecondLook) and look.how == SCAN:
        return _("the lot was scanned: %(lot)s") % {"lot": look.scanned}
    if look is not None:
        return f"{look.by_name} ({look.by_initials})"
    return _("no second person") if asks(row) else ""


def scanned(a: Act, row: VitaminAdded | FlavorAdded, code: str, lot: IngredientReceived) -> None:
    """Keep, inside the act that added it, that a scan read the lot. Refused where it reads another."""
    code = code.strip()
    if not code or row.void:
        return
    if code != lot.supplier_lot:
        raise Refused(_("The scan reads another lot than the one chosen above."), "scanned")
    a.write(_look(row, SCAN, uuid.uuid5(row.form_id, "scan"), code), observed_at=row.observed_at)


def scan_of(row: KeptOnce) -> str:
    """The lot of an addition as its scan read it; empty where nobody scanned it."""
    look = SecondLook.objects.filter(addition=row.number, how=SCAN).first()
    return look.scanned if look is not None else ""


def check_again(saved: VitaminAdded | FlavorAdded, code: str) -> None:
    """DifferentContent where the same form comes again with another scan."""
    if code.strip() != scan_of(saved):
        raise DifferentContent(saved)


def confirm(by: Actor, addition: int, form_id: uuid.UUID) -> Look:
    """A second person looked at an addition: lot, amount, allergen. Refused to whoever made it."""
    row = next((one for model in KINDS if (one := _of(model, addition)) is not None), None)
    if row is None:
        raise Refused(_("There is no such addition, or another stands for it."))
    if row.by_id == by.person_id:
        raise Refused(_("Somebody else has to confirm what you added."))
    with act(by) as a:
        saved = looks_at([row]).get(addition)
        if saved is not None:
            return saved
        if isinstance(row, BatchAddition):
            return a.write(AdditionConfirmed(form_id=form_id, addition=addition, sheet=row.sheet))
        return a.write(_look(row, PERSON, form_id))


def _look(row: Any, how: str, form_id: uuid.UUID, code: str = "") -> SecondLook:
    return SecondLook(
        form_id=form_id, addition=row.number, addition_kind=row.KIND, place=row.place, how=how, scanned=code
    )


def _of(model: Any, number: int) -> Any:
    return standing(model.objects.filter(number=number)).first() if 0 < number < 2**63 else None


# --- what waits for it


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """As records.flow.further asks: product that goes on before somebody looked at its vitamin or allergen.

    What goes to nobody who drinks it (drain, feed, samples) waits for nothing.
    """
    exit_name = exit_of(row.target, row.target_name)
    if not row.source or (exit_name and exit_name not in FOR_PEOPLE):
        return []
    since = before.book.contents(row.source, row.started_at).since
    if since is None:
        return []
    found = []
    for one in without_a_look(_spans(row, since, before), row.started_at):
        words = {
            "vessel": in_force.names.get(row.source, row.source), "what": _what(one), "lot": one.supplier_lot,
            "number": one.number,
        }  # fmt: skip
        sentence = _("%(vessel)s: %(what)s, lot %(lot)s (entry %(number)d): no second person, and no scan of the lot")
        found.append(Finding(POINT, row.source, sentence % words, "not proven", bars=True, holds=True))
    return found


def _spans(row: Movement, since: datetime, before: History) -> list[tuple[str, datetime, datetime]]:
    """Where and when something may have gone into what a vessel holds: in it, and in the lines that filled it."""
    spans = [(row.source, since, row.started_at)]
    for one in before.into(row.source):
        if one.row.via and since <= one.row.started_at <= row.started_at:
            spans.append((one.row.via, one.row.started_at, min(one.ended_at or row.started_at, row.started_at)))
    return spans


def without_a_look(spans: Iterable[tuple[str, datetime, datetime]], moment: datetime) -> list[Any]:
    """The additions at these places and times that ask for a second look and had none by a moment."""
    where = Q(pk__in=[])
    for place, start, end in spans:
        where |= Q(place=place, observed_at__gte=start, observed_at__lte=end)
    rows = [one for model in KINDS for one in _standing_in(model, where)]
    looked = {key for key, one in looks_at(rows).items() if one.observed_at <= moment} if rows else set()
    open_ = [one for one in rows if one.number not in looked and asks(one)]
    return sorted(open_, key=lambda one: (one.observed_at, one.number))


def _standing_in(model: Any, where: Q) -> list[Any]:
    rows = standing(model.objects.filter(where))
    return list(rows.exclude(allergen="").filter(scanned="") if model is BatchAddition else rows)


def _what(row: Any) -> str:
    if isinstance(row, VitaminAdded):
        return _("vitamin %(vitamin)s") % {"vitamin": row.vitamin}
    return row.name if isinstance(row, BatchAddition) else row.item
