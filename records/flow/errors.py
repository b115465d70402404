"""What an act on the flow of product may answer instead of a record."""

from __future__ import annotations

from records.deviations.errors import Refused
from records.ledger.models import Record

__all__ = ["DifferentContent", "Refused", "Several"]


class Several(Refused):
    """Refused for several reasons; `sentences` has each, for beside the form."""

    def __init__(self, sentences: list[str]) -> None:
        super().__init__(" ".join(sentences))
        self.sentences = sentences


class DifferentContent(Exception):
    """The same form was saved before with other content; `saved` is what was kept."""

    def __init__(self, saved: Record) -> None:
        super().__init__(f"this form was saved before as {saved}")
        self.saved = saved
