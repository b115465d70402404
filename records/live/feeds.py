"""Which name stands for which instrument: set up and taken off, each an act with its record."""

from __future__ import annotations

import uuid

from django.utils.translation import gettext as _

from records.deviations.errors import Refused
from records.flow.common import same_or_different
from records.ledger.actions import Actor, act
from records.live.models import SET_UP, TAKEN_OFF, FeedAct, LiveFeed

_SAID = ("name", "what", "instrument", "unit")


def set_up(by: Actor, name: str, instrument: str, unit: str, form_id: uuid.UUID) -> FeedAct:
    """From now on samples under this name are kept as this instrument's. Raises Refused, DifferentContent."""
    row = FeedAct(form_id=form_id, name=name, what=SET_UP, instrument=instrument, unit=unit)
    with act(by) as a:
        if saved := FeedAct.objects.filter(form_id=form_id).first():
            return same_or_different(saved, row, _SAID, by)
        if LiveFeed.objects.filter(name=name).exists():
            raise Refused(_("This name stands for an instrument already. Take that one off first."), "name")
        a.write(row)
        LiveFeed.objects.create(name=name, instrument=instrument, unit=unit)
    return row


def take_off(by: Actor, feed: uuid.UUID, form_id: uuid.UUID) -> FeedAct | None:
    """From now on what comes under its name is refused; None where it is off already."""
    with act(by) as a:
        known = LiveFeed.objects.filter(id=feed).first()
        if known is None:
            return None
        row = a.write(
            FeedAct(
                form_id=form_id, name=known.name, what=TAKEN_OFF, instrument=known.instrument, unit=known.unit
            )
        )
        known.delete()
    return row
