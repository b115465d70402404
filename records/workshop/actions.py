"""The acts of the workshop, each one function and one transaction; they stand in the files named here."""

from __future__ import annotations

from uuid import UUID

from records.ledger.actions import Actor, act
from records.workshop.calibrating import record_calibration
from records.workshop.keeping import K, plan_at, voided, write
from records.workshop.sealing import record_seal
from records.workshop.telling import record_notice
from records.workshop.testing import record_holding, record_test
from records.workshop.working import record_work

__all__ = [
    "record_calibration", "record_holding", "record_notice", "record_seal", "record_test", "record_work",
    "say_it_did_not_happen",
]  # fmt: skip


def say_it_did_not_happen(by: Actor, old: K, reason: str, form_id: UUID) -> K:
    """A successor of an entry that says that it did not happen. It closes and releases nothing."""
    in_force = plan_at(old.observed_at)
    row = voided(old, form_id, reason)
    with act(by) as a:
        return write(a, by, row, in_force)[0]
