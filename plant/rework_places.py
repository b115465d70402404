"""Where rework is kept: each portion set aside stands in a container of its own, which no plan names.

The container's code is made from the ledger number of the entry that set it aside. So a portion is a place with a lot
like any vessel's, and its family, shares, allergens and holds follow as theirs do.
"""

from __future__ import annotations

import re

from django.utils.translation import gettext as _

PREFIX = "rework-"
_CODE = re.compile(rf"{PREFIX}([1-9][0-9]{{0,17}})", re.ASCII)


def code_of(number: int) -> str:
    """The code of the container of what an entry set aside."""
    return f"{PREFIX}{number}"


def number_of(code: str) -> int | None:
    """The entry that set a container's rework aside; None for any other place."""
    found = _CODE.fullmatch(code)
    return int(found[1]) if found else None


def is_rework(code: str) -> bool:
    """Whether a place is a container of rework."""
    return number_of(code) is not None


class PlaceNames(dict[str, str]):
    """Names of a plan's places by their codes. A container of rework, which no plan names, is called by its number."""

    def get(self, code: str, default: str | None = None) -> str | None:  # type: ignore[override]
        number = None if code in self else number_of(code)
        if number is not None:
            return _("Rework %(number)d") % {"number": number}
        return super().get(code, default)


__all__ = ["PlaceNames", "code_of", "is_rework", "number_of"]
