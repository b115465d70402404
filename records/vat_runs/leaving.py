"""Product that leaves a vat pasteurizer, by whatever form it is recorded: held against the hold of the vat's run."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.utils.translation import gettext as _

from plant.equipment.models import VesselKind
from records.flow.choices import vessel_of
from records.flow.finding import PASTEURIZATION, Finding
from records.flow.history import History
from records.flow.models import Movement
from records.flow.packing import is_packing
from records.people.plans import InForce
from records.run_rows.models import OPENED
from records.run_rows.queries import run_of, standing
from records.vat_runs import state
from records.vat_runs.models import HOLD_BEGUN, VatEvent

# The outlet opened in a run has its own deviation, with the run's row as its cause: it is not found a second time.
_in_its_run: ContextVar[bool] = ContextVar("in_its_run", default=False)


@contextmanager
def by_its_run() -> Iterator[None]:
    """While a run records the movement of its own outlet."""
    token = _in_its_run.set(True)
    try:
        yield
    finally:
        _in_its_run.reset(token)


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """Product out of a vat pasteurizer into pasteurized or frozen product, or packs, without a hold within its row.

    Into another vat or through a press it is pasteurized there. Every particle is held: 21 CFR 1240.61(b), 131.3(b).
    """
    if _in_its_run.get() or row.source not in {one.code for one in state.vats(in_force.plan)}:
        return []
    via, target = vessel_of(in_force, row.via), vessel_of(in_force, row.target)
    if via is not None and via.kind == VesselKind.PASTEURIZER:
        return []
    downstream = target is not None and target.stage in ("pasteurized", "frozen")
    if not downstream and not is_packing(row.target, row.target_name):
        return []
    name = in_force.names.get(row.source, row.source)
    return [
        Finding(
            PASTEURIZATION,
            row.source,
            _("%(place)s: %(reason)s") % {"place": name, "reason": why},
            "legal rule",
            bars=True,
            holds=True,
            bars_release="pasteurization",
        )
        for why in _against(row, before)
    ]


def _against(row: Movement, before: History) -> list[str]:
    """What the vat's latest run by then leaves against it, and what went in after its hold began."""
    begun = standing(VatEvent.objects.filter(place=row.source, what=OPENED, happened_at__lte=row.started_at))
    latest = begun.order_by("-happened_at", "-number").first()
    run = run_of(VatEvent, latest.run or latest.number) if latest is not None else None
    if run is None:
        return [_("No run with a hold is recorded.")]
    if found := state.against(run, row.started_at):
        return found
    held_from = next(one.happened_at for one in reversed(run.by(row.started_at)) if one.what == HOLD_BEGUN)
    later = [one for one in before.moves if one.row.target == row.source and one.row.number != row.number]
    if any((one.ended_at or row.started_at) > held_from and one.row.started_at <= row.started_at for one in later):
        return [_("Product went into it after its last hold began.")]
    return []
