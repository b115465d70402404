"""The clock that a demo moves by hand, and the ids of its forms."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

_FORMS = uuid.UUID("6f0d5f0e-52b5-4c1d-9f31-0a8a6f2f4c11")


class Hand:
    """Tells the moment it was last moved to; it never goes back."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def to(self, moment: datetime) -> None:
        """Move on to a moment; one that has passed leaves it."""
        self.moment = max(self.moment, moment)

    def on(self, seconds: float) -> None:
        """Move on by so much."""
        self.moment += timedelta(seconds=seconds)


def form_id(*parts: object) -> uuid.UUID:
    """The id of a form: the same for the same thing."""
    return uuid.uuid5(_FORMS, "|".join(str(one) for one in parts))
