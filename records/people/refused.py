"""How an act says no: one sentence for the person, and the field that it belongs beside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Union

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise  # what the type checker calls a lazily translated text

Words = Union[str, "_StrPromise"]


class Refused(Exception):
    """An act was not done, nothing was written: `sentence` says why, `field` names the form's field (or is empty)."""

    def __init__(self, sentence: Words, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
