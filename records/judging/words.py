"""An outcome in the words of the person who reads it, and the name of its mark."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from plant.process.limits import Outcome

_OPERATOR: dict[str, Promise] = {
    Outcome.MET.value: _("in limits"),
    Outcome.OPERATING.value: _("in limits, act"),
    Outcome.NOT_MET.value: _("out of limits"),
    Outcome.NOT_PROVEN.value: _("not proven"),
}


def to_operator(outcome: str) -> str:
    """'in limits', 'in limits, act', 'out of limits' or 'not proven'."""
    return str(_OPERATOR[outcome])
