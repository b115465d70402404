"""Closing a day as far as the ledger sees it: the signed head of all entries so far, as a record."""

from __future__ import annotations

from datetime import date, timedelta

from plant import clock
from records.ledger.actions import act
from records.ledger.heads import sign_present_head
from records.people.keys import authority
from records.review.models import DayClosing
from tests.records.ledger.conftest import SOMEBODY

DAY = date(2026, 3, 3)


def close(day: int = 0, revision: int = 0) -> DayClosing:
    """The closing of the day so many days after DAY."""
    plant_day = DAY + timedelta(days=day)
    with act(SOMEBODY) as a:
        head = sign_present_head(authority(), "Quillbrook Creamery", plant_day, revision, clock.now())
        return a.write(
            DayClosing(
                plant_day=plant_day,
                revision=revision,
                tree_size=head.tree_size,
                root=head.root,
                head=head.text,
                signature=head.signature,
                certificate=head.certificate,
            )
        )
