"""The words of this feature, in the reader's language: records keep the keys."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.process.running_counts import CLAUSE, Running, Standing
from records.laboratory.models import FARM, LOT, OFFICIAL, PLATE, RETAINED, SITE, VESSEL, LabResult

_WORDS: dict[str, Any] = {
    LOT: gettext_lazy("of a packed lot"),
    VESSEL: gettext_lazy("of a vessel"),
    FARM: gettext_lazy("of a farm's milk"),
    SITE: gettext_lazy("environment"),
    OFFICIAL: gettext_lazy("official, taken by the regulator"),
    RETAINED: gettext_lazy("retained"),
    PLATE: gettext_lazy("control plate"),
    "bacteria": gettext_lazy("bacteria"),
    "coliform": gettext_lazy("coliform"),
    "Enterobacteriaceae": gettext_lazy("Enterobacteriaceae"),
    "yeast and mold": gettext_lazy("yeast and mold"),
    "somatic cells": gettext_lazy("somatic cells"),
    "phosphatase": gettext_lazy("phosphatase"),
    "antibiotic": gettext_lazy("antibiotic"),
    "Listeria": gettext_lazy("Listeria"),
    "Listeria count": gettext_lazy("Listeria, counted"),
    "Salmonella": gettext_lazy("Salmonella"),
    "air plate": gettext_lazy("air plate, 15 minutes open"),
    "growth on control plate": gettext_lazy("growth on control plate"),
    "growth on positive control": gettext_lazy("growth on positive control"),
    "fat": gettext_lazy("fat"),
    "total solids": gettext_lazy("total solids"),
    "found": gettext_lazy("found"),
    "not found": gettext_lazy("not found"),
}


def in_words(key: str) -> str:
    """A key in the reader's language."""
    return str(_WORDS.get(key, key))


def result_words(row: LabResult) -> str:
    """A result as a page prints it."""
    if row.value is None:
        return _("too numerous to count") if row.too_many else in_words(row.sign)
    estimated = f" {_('estimated')}" if row.estimated else ""
    return f"{row.sign}{row.value.normalize():f} {row.unit}{estimated}"


def running_words(found: Running) -> str:
    """What the running rule says; nothing where too few counts are over."""
    words = {"four": found.over_of_four, "five": found.over_of_five, "clause": CLAUSE}
    if found.standing is Standing.DEGRADE:
        return _(
            "%(five)d of the last five counts on separate days are over the limit: suspension or degrading "
            "(%(clause)s). The regulator decides."
        ) % words
    if found.standing is Standing.NOTICE:
        return _(
            "%(four)d of the last four counts on separate days are over the limit: a written notice, and another "
            "sample (%(clause)s). The regulator decides."
        ) % words
    return ""
