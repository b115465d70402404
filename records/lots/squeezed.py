"""A code without spaces and case: what a label's symbol carries of it, and what a person may leave out."""

from __future__ import annotations

from django.db.models import CharField, Func


class Squeezed(Func):
    """In the database; as text in the statement, so that the index on it is used."""

    template = "REPLACE(UPPER(%(expressions)s), ' ', '')"
    output_field = CharField()


def squeezed(text: str) -> str:
    """The same in Python, of the letters that every database knows."""
    return "".join(one.upper() if one.isascii() else one for one in text).replace(" ", "")
