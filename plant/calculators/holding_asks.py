"""What the calculators of the holding tube and of its test share."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.working import Ask
from plant.process.said import Said, say

HOLD = Ask(name="hold", label=_("Wanted holding time"), units=("s", "min"), low=0.005, high=3600, example="15 s")


def hold_margin(spare_s: float) -> Said:
    """What a hold has over the wanted time, or what it lacks [s]."""
    if spare_s < 0:
        return say("%(short)s s short of the wanted time", short=f"{-spare_s:.2f}")
    return say("%(spare)s s over the wanted time", spare=f"{spare_s:.2f}")
